package lines

import (
	"math"

	"strawline/probe"
)

// coldLines is for how many lines a cold junction that was said is taken for the present one.
const coldLines = 32

// colds notes the cold junctions of the line.
func (r *Reader) colds(l *Line) {
	for i, s := range l.Slots {
		if s.Role != Cold {
			continue
		}
		m := r.scan.marks[i]
		ch := &r.ch[s.Channel]
		ch.coldC = Item{}
		c := s.Unit.c(m.v)
		ch.coldBad = math.IsNaN(m.v) || c < coldLeast || c > coldMost
		if ch.coldBad {
			continue
		}
		if v, _ := ch.cold.take(m.v); v != hold {
			ch.coldC = Item{Cold: c, HasCold: true, Unit: s.Unit}
			ch.coldMark, ch.coldLine = m, r.counts.Lines
		}
	}
}

// status gives the fault that the line's fault numbers or words speak of.
func (r *Reader) status(l *kind) probe.Fault {
	for i, s := range l.Slots {
		if s.Role == Status {
			if f := statusOf(r.scan.marks[i].v); f != probe.FaultNone {
				return f
			}
		}
	}
	return l.fault
}

// hots gives the line's readings.
func (r *Reader) hots(l *Line, status probe.Fault) {
	tick := 0.0
	given := false
	for i, s := range l.Slots {
		if s.Role == Tick {
			tick = r.scan.marks[i].v
		}
	}
	for i, s := range l.Slots {
		m := r.scan.marks[i]
		it := Item{Kind: Value, At: r.now, Channel: s.Channel, Unit: s.Unit, Tick: tick,
			Text: r.line}
		switch s.Role {
		case Hot:
			r.hot(it, m, s, status)
			given = true
		case Word:
			it.Kind, it.Raw, it.Unit = Raw, m.raw, NoUnit
			r.word(it, m, s, status)
			given = true
		case Repeat:
			if r.repeats[s.Channel] && !l.has(Hot, s.Channel) {
				r.repeat(s, m)
			}
		}
	}
	if status != probe.FaultNone && !given {
		r.fault(Item{At: r.now, Text: r.line}, status)
	}
}

// fault tells that a channel has no reading.
func (r *Reader) fault(it Item, f probe.Fault) {
	if it.Channel > 0 {
		ch := &r.ch[it.Channel]
		r.drop(ch)
		ch.waits = false
	}
	r.emit(Item{Kind: Fault, At: it.At, Channel: it.Channel, Fault: f, Tick: it.Tick, Text: it.Text})
}

// hot takes one probe's number.
func (r *Reader) hot(it Item, m mark, s Slot, f probe.Fault) {
	ch := &r.ch[s.Channel]
	cold := ch
	if !cold.coldC.HasCold && !cold.coldBad {
		cold = &r.ch[0]
	}
	if cold.coldC.HasCold && r.counts.Lines-cold.coldLine <= coldLines {
		it.Cold, it.HasCold = cold.coldC.Cold, true
	}
	switch {
	case f != probe.FaultNone:
	case cold.coldBad:
		f = probe.FaultColdJunction
	case math.IsNaN(m.v):
		if f = faultIn(string(r.line)); f == probe.FaultNone {
			f = probe.FaultRange
		}
	case s.Turns:
		r.turn(ch, it, m)
		return
	default:
		if f = rangeOf(m.v, s.Unit); f == probe.FaultRange || !ch.gate.close(m.v) {
			if code := codeOf(m.v, s.Unit); code != probe.FaultNone {
				f = code
			}
		}
	}
	if f != probe.FaultNone {
		r.fault(it, f)
		return
	}
	it.Hot = s.Unit.c(m.v)
	if !r.repeats[s.Channel] {
		r.offer(ch, it, m)
		return
	}
	if ch.waits {
		r.emit(Item{Kind: Bad, At: ch.pending.At, Channel: it.Channel, Why: WhyUnits})
		ch.waits = false
	}
	if ch.hasSaid && same(m, ch.said, r.repeatUnit(s.Channel)) {
		r.offer(ch, it, m)
		return
	}
	ch.pending, ch.pendMark, ch.waits = it, m, true
	ch.pending.Text = nil
}

func (r *Reader) repeatUnit(channel int) Unit {
	for i := range r.shape.Lines {
		for _, s := range r.shape.Lines[i].Slots {
			if s.Role == Repeat && s.Channel == channel {
				return s.Unit
			}
		}
	}
	return NoUnit
}

// repeat takes a reading's repeat from a line of its own: it bears out the reading that waits
// for it, or speaks for the next.
func (r *Reader) repeat(s Slot, m mark) {
	ch := &r.ch[s.Channel]
	ch.said, ch.hasSaid = m, !math.IsNaN(m.v)
	if !ch.waits || !ch.hasSaid {
		return
	}
	ch.waits = false
	if !same(ch.pendMark, m, s.Unit) {
		r.bad(WhyUnits)
		return
	}
	r.offer(ch, ch.pending, ch.pendMark)
}

// turn takes a line of a sketch that prints °C and °F in turns without saying which: a number
// is a reading in °C if the next one is its °F.
func (r *Reader) turn(ch *channel, it Item, m mark) {
	if ch.waits && same(ch.pendMark, m, Fahrenheit) {
		ch.waits = false
		p := ch.pending
		f := rangeOf(ch.pendMark.v, Celsius)
		if f == probe.FaultNone && !ch.gate.close(ch.pendMark.v) {
			f = codeOf(ch.pendMark.v, Celsius)
		}
		if f != probe.FaultNone {
			r.fault(p, f)
			return
		}
		p.Hot = Celsius.c(ch.pendMark.v)
		r.offer(ch, p, ch.pendMark)
		return
	}
	if ch.waits {
		r.emit(Item{Kind: Bad, At: ch.pending.At, Channel: it.Channel, Why: WhyUnits})
	}
	ch.pending, ch.pendMark, ch.waits = it, m, true
	ch.pending.Text = nil
}

// offer gives a reading past the gate, or holds it.
func (r *Reader) offer(ch *channel, it Item, m mark) {
	v, lone := ch.gate.take(m.v)
	ch.printed = m
	r.settle(ch, it, v, lone)
}

// word takes a chip's word.
func (r *Reader) word(it Item, m mark, s Slot, f probe.Fault) {
	ch := &r.ch[s.Channel]
	if f != probe.FaultNone {
		r.fault(it, f)
		return
	}
	if math.IsNaN(m.v) {
		r.fault(it, probe.FaultRange)
		return
	}
	digits := m.whole
	if s.Width > 0 {
		digits = 0
	}
	v, lone := ch.raw.take(m.raw, digits)
	r.settle(ch, it, v, lone)
}

// settle does what the gate said.
func (r *Reader) settle(ch *channel, it Item, v verdict, lone int) {
	if lone > 0 {
		r.lone(ch, min(lone, ch.kept))
	}
	switch v {
	case hold:
		it.Text = nil
		if r.muted {
			it.Channel = 0
		}
		ch.held[ch.kept] = it
		ch.kept++
	case passAll:
		for _, old := range ch.held[:ch.kept] {
			if old.Channel > 0 { // else only learnt from
				r.emit(old)
			}
		}
		ch.kept = 0
		r.emit(it)
	default:
		r.emit(it)
	}
}
