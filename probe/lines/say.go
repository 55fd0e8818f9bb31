package lines

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Understood gives the shape and one sentence that a person can hold against what the sketch
// prints, such as "channel 1 = 181.25 °C, cold junction 24.06 °C, 2 lines/s". It is false until
// the shape is known.
func (r *Reader) Understood() (Shape, string, bool) {
	if !r.known {
		return Shape{}, "", false
	}
	slots := r.shown()
	var parts []string
	for _, s := range slots {
		parts = append(parts, r.sayChannel(s, len(slots) > 1)...)
	}
	if pace := r.sayPace(slots); pace != "" {
		parts = append(parts, pace)
	}
	return r.shape.clone(), strings.Join(parts, ", "), true
}

// shown gives one slot for each channel, in the channels' order.
func (r *Reader) shown() []Slot {
	var by [MaxChannels + 1]*Slot
	for i := range r.shape.Lines {
		for j := range r.shape.Lines[i].Slots {
			s := &r.shape.Lines[i].Slots[j]
			if (s.Role == Hot || s.Role == Word) && by[s.Channel] == nil {
				by[s.Channel] = s
			}
		}
	}
	var out []Slot
	for _, s := range by {
		if s != nil {
			out = append(out, *s)
		}
	}
	return out
}

func (r *Reader) sayChannel(s Slot, named bool) []string {
	ch := &r.ch[s.Channel]
	name := fmt.Sprintf("channel %d", s.Channel)
	if named && s.Label != "" {
		name += " (" + s.Label + ")"
	}
	it := ch.latest
	switch {
	case it.Channel == 0:
		return []string{name + " has no reading yet"}
	case it.Kind == Fault:
		return []string{name + " = no reading, " + it.Fault.String()}
	case it.Kind == Raw:
		return []string{fmt.Sprintf("%s = raw word 0x%08X", name, it.Raw)}
	}
	parts := []string{name + " = " + text(s.Unit.of(it.Hot), ch.printed.dec, s.Unit)}
	if u := r.repeatUnit(s.Channel); u != NoUnit {
		parts[0] += " (printed in " + u.String() + " too)"
	} else if s.Turns {
		parts[0] += " (printed in °F too)"
	}
	if it.HasCold {
		cold := ch
		if !cold.coldC.HasCold {
			cold = &r.ch[0]
		}
		u := cold.coldC.Unit
		parts = append(parts, "cold junction "+text(u.of(it.Cold), cold.coldMark.dec, u))
	}
	return parts
}

func text(v float64, decimals int, u Unit) string {
	return strconv.FormatFloat(v, 'f', decimals, 64) + " " + u.String()
}

// sayPace says how often there are readings: as lines where each reading is a line.
func (r *Reader) sayPace(slots []Slot) string {
	if len(slots) == 0 {
		return ""
	}
	d, ok := r.Interval(slots[0].Channel)
	if !ok {
		return ""
	}
	word := "line"
	if len(r.shape.Lines) > 1 || slots[0].Turns {
		word = "reading"
	}
	rate := float64(time.Second) / float64(d)
	if rate < 0.95 {
		s := strconv.FormatFloat(math.Round(10*d.Seconds())/10, 'f', -1, 64)
		return fmt.Sprintf("a %s every %s s", word, s)
	}
	n := strconv.FormatFloat(math.Round(rate*10)/10, 'f', -1, 64)
	if n != "1" {
		word += "s"
	}
	return n + " " + word + "/s"
}
