package runlog

import (
	"strings"
	"time"

	"strawline/control"
)

// mostChannels is how many channels a sample can have.
const mostChannels = 8

func hasWord(s *control.Sample, i int) bool {
	return i < len(s.Raw) && i < len(s.HasRaw) && s.HasRaw[i]
}

// Round gives s the values that a reader of the run file will see: time to 1 ms, temperatures
// and soak as the package comment says, absent channels at the end left away and words that
// are not valid set to 0. It replaces slices and pointers and never writes through them, so
// that whoever shares them keeps his own. Values that are not finite stay: the encoder refuses
// the sample.
func Round(s *control.Sample) {
	s.T = s.T.Round(time.Millisecond)
	words := 0
	for i := range s.Raw {
		if hasWord(s, i) {
			words = i + 1
		}
	}
	var raw []uint32
	var has []bool
	if words > 0 {
		raw, has = make([]uint32, words), make([]bool, words)
	}
	for i := range words {
		if has[i] = hasWord(s, i); has[i] {
			raw[i] = s.Raw[i]
		}
	}
	s.Raw, s.HasRaw = raw, has
	temps := 0
	for i, t := range s.Temp {
		if t != nil {
			temps = i + 1
		}
	}
	var list []*float64
	if temps > 0 {
		list = make([]*float64, temps)
	}
	for i := range list {
		list[i] = roundedCopy(s.Temp[i], tempDecimals)
	}
	s.Temp = list
	s.Set = roundedCopy(s.Set, tempDecimals)
	s.Blade = roundedCopy(s.Blade, bladeDecimals)
	s.Soak = roundedCopy(s.Soak, soakDecimals)
}

func roundedCopy(v *float64, decimals func(float64) int) *float64 {
	if v == nil {
		return nil
	}
	r := rounded(*v, decimals(*v))
	return &r
}

// RoundOwn does to what r points to what RoundRecord does to a copy of it, for whoever owns it
// alone. For a sample it allocates nothing.
func RoundOwn(r control.Record) {
	if r.Event != nil {
		*r.Event = cleanEvent(r.Event)
	}
	s := r.Sample
	if s == nil {
		return
	}
	s.T = s.T.Round(time.Millisecond)
	words, temps := 0, 0
	for i := range s.Raw {
		if hasWord(s, i) {
			words = i + 1
		} else {
			s.Raw[i] = 0
		}
	}
	for i, t := range s.Temp {
		if t != nil {
			temps = i + 1
			roundOwn(t, tempDecimals)
		}
	}
	s.Raw, s.HasRaw, s.Temp = first(s.Raw, words), first(s.HasRaw, words), first(s.Temp, temps)
	roundOwn(s.Set, tempDecimals)
	roundOwn(s.Blade, bladeDecimals)
	roundOwn(s.Soak, soakDecimals)
}

// first gives the first n values, nil if there are none, as a reader of the file has them.
func first[T any](list []T, n int) []T {
	if n == 0 {
		return nil
	}
	return list[:n]
}

func roundOwn(v *float64, decimals func(float64) int) {
	if v != nil {
		*v = rounded(*v, decimals(*v))
	}
}

// RoundRecord gives a copy of r as a reader of the run file will see it: a sample by Round, an
// event with its time to 1 ms and its texts as valid UTF-8. It shares nothing with r that
// either could change, so the copy may go to the log and to a screen.
func RoundRecord(r control.Record) control.Record {
	if r.Sample != nil {
		s := *r.Sample
		Round(&s)
		r.Sample = &s
	}
	if r.Event != nil {
		e := cleanEvent(r.Event)
		r.Event = &e
	}
	return r
}

func clean(s string) string { return strings.ToValidUTF8(s, "\uFFFD") }

func copied[T any](p *T) *T {
	if p == nil {
		return nil
	}
	v := *p
	return &v
}

func cleanEvent(e *control.Event) control.Event {
	c := *e
	c.T = e.T.Round(time.Millisecond)
	c.Kind = control.EventKind(clean(string(e.Kind)))
	c.Code, c.Word, c.Text = clean(e.Code), clean(e.Word), clean(e.Text)
	c.From = clean(e.From)
	c.Step, c.Chan = copied(e.Step), copied(e.Chan)
	c.SpanS, c.TempC = copied(e.SpanS), copied(e.TempC)
	if c.Ask = copied(e.Ask); c.Ask != nil {
		c.Ask.Kind = control.AskKind(clean(string(c.Ask.Kind)))
		c.Ask.By, c.Ask.Text = clean(c.Ask.By), clean(c.Ask.Text)
		c.Ask.Code = clean(c.Ask.Code)
		c.Ask.Gains = cleanGains(c.Ask.Gains)
	}
	c.Gains, c.Was, c.DutyPM = cleanGains(e.Gains), cleanGains(e.Was), copied(e.DutyPM)
	if c.Dose = copied(e.Dose); c.Dose != nil {
		c.Dose.Steel, c.Dose.Why = clean(c.Dose.Steel), clean(c.Dose.Why)
		c.Dose.Like, c.Dose.Note = clean(c.Dose.Like), clean(c.Dose.Note)
		c.Dose.By, c.Dose.Caution = clean(c.Dose.By), clean(c.Dose.Caution)
	}
	return c
}

func cleanGains(g *control.Gains) *control.Gains {
	c := copied(g)
	if c != nil {
		c.From = clean(c.From)
	}
	return c
}
