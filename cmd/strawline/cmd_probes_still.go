package main

import (
	"fmt"
	"math"
	"time"

	"strawline/probe"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// When readings stand still. All are our own.
const (
	// stillLeast readings are needed in the span: fewer make no slope.
	stillLeast = 8
	// stillMoved is the most that the readings may move within the span. A probe that lags by
	// 20 s and moved this much in 30 s is still 0.1 °C from where it goes; the movement stands
	// in the uncertainty.
	stillMoved = temp.Delta(0.3)
	// stillSpread is the most between the lowest and the highest reading: cheap chips scatter
	// by about 1.5 °C; more is a draught, a fire, a loose screw or hum.
	stillSpread = temp.Delta(3)
)

// still keeps the readings of the last span, and what the latest fault was.
type still struct {
	span  time.Duration
	kept  []probe.Reading
	since time.Duration // of the first good reading since a fault or a hole
	fault string        // of the last reading, "" if it was good
}

// add takes the next reading. A fault, and a hole of a quarter of the span, begin it anew: what
// stands on both sides of them is not known to belong together.
func (s *still) add(r probe.Reading) {
	s.fault = r.Fault.String()
	if !r.Good() {
		s.kept = s.kept[:0]
		return
	}
	if n := len(s.kept); n > 0 && r.At-s.kept[n-1].At > s.span/4 {
		s.kept = s.kept[:0]
	}
	if len(s.kept) == 0 {
		s.since = r.At
	}
	s.kept = append(s.kept, r)
	for s.kept[0].At <= r.At-s.span {
		s.kept = s.kept[1:]
	}
}

// stillness is what the readings of a span come to.
type stillness struct {
	N         int
	Over      time.Duration // from the first reading to the last
	Mean      temp.C
	Low, High temp.C
	// Moved is the larger of what the straight line through them rises or falls from the first
	// to the last, with its sign, and what the means of their thirds lie apart: at the crest of
	// a heat that comes and goes the line is level.
	Moved   temp.Delta
	Scatter temp.Delta // standard deviation about the line
	Step    temp.Delta // the smallest difference between two of them; 0 if all are alike
	Cold    temp.C     // mean cold junction; only with HasCold
	HasCold bool
}

// now gives what the span's readings come to; ok is false if they are too few or too short.
func (s *still) now() (m stillness, ok bool) {
	n := len(s.kept)
	if n < 2 {
		return m, false
	}
	first, last := s.kept[0], s.kept[n-1]
	m = stillness{N: n, Over: last.At - first.At, Low: first.Hot, High: first.Hot, HasCold: true}
	var sum, cold float64
	for i, r := range s.kept {
		sum += float64(r.Hot)
		cold += float64(r.Cold)
		m.HasCold = m.HasCold && r.HasCold
		m.Low, m.High = min(m.Low, r.Hot), max(m.High, r.Hot)
		if i > 0 {
			d := temp.Delta(math.Abs(float64(r.Hot - s.kept[i-1].Hot)))
			if d > 1e-6 && (m.Step == 0 || d < m.Step) {
				m.Step = d
			}
		}
	}
	m.Mean = temp.C(sum / float64(n))
	if m.HasCold {
		m.Cold = temp.C(cold / float64(n))
	}
	m.line(s.kept)
	return m, n >= stillLeast && last.At-s.since >= s.span
}

// line draws the straight line through the readings, by least squares.
func (m *stillness) line(kept []probe.Reading) {
	var mid, tt, tc, rest float64
	for _, r := range kept {
		mid += r.At.Seconds() / float64(len(kept))
	}
	for _, r := range kept {
		t := r.At.Seconds() - mid
		tt += t * t
		tc += t * float64(r.Hot-m.Mean)
	}
	if tt == 0 {
		return
	}
	slope := tc / tt
	m.Moved = temp.Delta(slope * m.Over.Seconds())
	for _, r := range kept {
		off := float64(r.Hot-m.Mean) - slope*(r.At.Seconds()-mid)
		rest += off * off
	}
	m.Scatter = temp.Delta(math.Sqrt(rest / float64(len(kept)-1)))
	if apart := thirds(kept); float64(apart) > math.Abs(float64(m.Moved)) {
		m.Moved = temp.Delta(math.Copysign(float64(apart), slope))
	}
}

// thirds gives how far the means of the first, middle and last third lie apart.
func thirds(kept []probe.Reading) temp.Delta {
	if len(kept) < 3 {
		return 0
	}
	low, high := math.Inf(1), math.Inf(-1)
	for i := range 3 {
		part := kept[i*len(kept)/3 : (i+1)*len(kept)/3]
		sum := 0.0
		for _, r := range part {
			sum += float64(r.Hot)
		}
		mean := sum / float64(len(part))
		low, high = min(low, mean), max(high, mean)
	}
	return temp.Delta(high - low)
}

// why says what keeps the readings from counting as steady, "" if nothing does.
func (m stillness) why() string {
	switch spread := m.High.Sub(m.Low); {
	case spread > stillSpread:
		return fmt.Sprintf("they lie %.1f °C apart, from %.1f to %.1f °C; %.1f is the most",
			float64(spread), float64(m.Low), float64(m.High), float64(stillSpread))
	case math.Abs(float64(m.Moved)) > float64(stillMoved):
		return fmt.Sprintf("they moved by %s in %.0f s; %.1f is the most",
			m.Moved.Text(temp.Celsius, 1), m.Over.Seconds(), float64(stillMoved))
	}
	return ""
}

// chipStep gives the step of a board's readings: the chip's if that is known, else the smallest
// that was seen, else a quarter of a degree, the usual one of cheap chips.
func chipStep(chip string, seen temp.Delta) temp.Delta {
	c, _, _ := thermocouple.SplitChip(chip)
	switch {
	case c == thermocouple.ChipMAX31856:
		return 0.0078125
	case c == thermocouple.ChipMCP9600:
		return 0.0625
	case c == "" && seen > 0:
		return seen
	}
	return 0.25
}
