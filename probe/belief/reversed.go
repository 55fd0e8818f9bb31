package belief

import (
	"time"

	"strawline/probe"
	"strawline/probe/temp"
)

// Leads the wrong way round make a reading that falls as the junction warms: about twice the
// cold junction less the truth. It is judged in the first minutes of heating an oven that is
// not warm; later the reading is impossible or far below the room, and it is too late.
//
// Our figures. A fall counts only with both duty and time behind it: half the duty for
// reversedFirst, in which reference oven A has risen by 2.7 °C at full duty, and B by 0.8 °C.
// Expected false alarms: a door opened on an oven that is a little warmer than the room lets
// the reading fall too, but it falls fastest at once and then slower, while a reversed reading
// falls faster and faster in the first minute. In the clean simulated hours, and in
// 20,000 simulated starts with a door opened in the first minute, the oven up to 25 °C above the
// room and the board up to 10 °C off the oven, there was none; 20,000 h are 10,000 starts of
// 2 h, few of which are so unlucky.
const (
	reversedDuty  = 0.5
	reversedFirst = 20 * time.Second
	reversedFall  = 0.5  // °C a mark, 0.1 °C/s, for four marks
	reversedGrows = 1.2  // times as much in the second two as in the first two
	reversedBelow = 5.0  // °C below where it began and below the cold junction
	reversedPast  = 10.0 // °C above where it began: the right way round
	// reversedLoose is how long a fault must last to be taken for leads that were changed.
	reversedLoose = 3 * time.Second
)

// heat follows the beginning of heating.
type heat struct {
	faulty   time.Duration // in a row
	idle     time.Duration // without heat
	hard     time.Duration // half the duty or more, in a row
	armed    bool          // the oven was not warm when the heat began, and has not shown yet
	start    temp.C        // the reading then
	reversed bool
	first    temp.C // the first mark
	left     bool   // heated, or away from there, at any time
}

// follow takes the duty that led to a reading. filtered is the channel's value before it.
func (h *heat) follow(in Input, began bool, filtered temp.C, gap time.Duration) {
	r := in.Reading
	if !r.Good() {
		h.faulty += gap
		if h.faulty >= reversedLoose {
			*h = heat{faulty: h.faulty, first: h.first, left: h.left}
		}
		return
	}
	h.faulty = 0
	if !(in.Duty > 0.05) {
		h.idle += gap
		h.hard = 0
		if !h.reversed && (h.idle >= 2*markEvery || !h.armed) {
			if !began {
				filtered = r.Hot
			}
			r.Hot = filtered
			h.armed, h.start = isCold(r), filtered
		}
		return
	}
	h.idle, h.left = 0, true
	if in.Duty >= reversedDuty {
		h.hard += gap
	} else {
		h.hard = 0
	}
}

// judge looks at the marks whenever one is complete. v is the filtered value.
func (h *heat) judge(r probe.Reading, t *trend, v temp.C) {
	if t.n == 1 {
		h.first = t.last(0)
	}
	h.left = h.left || apart(h.first, t.last(0)) > restFrom
	if h.armed && v > h.start+reversedPast {
		h.armed = false
	}
	if h.reversed && v > h.start+reversedPast {
		h.reversed = false
	}
	if !h.armed || h.hard < reversedFirst || t.n < 5 {
		return
	}
	d1, d2 := t.last(4)-t.last(3), t.last(3)-t.last(2)
	d3, d4 := t.last(2)-t.last(1), t.last(1)-t.last(0)
	falls := min(d1, d2, d3, d4) >= reversedFall && d3+d4 >= reversedGrows*(d1+d2)
	below := h.start
	if c, ok := coldOf(r); ok {
		below = min(below, c)
	}
	sunk := t.last(0) < below-reversedBelow && min(d3, d4) >= reversedFall && d4 >= d3 &&
		d3+d4 >= d1+d2
	if falls && h.hard >= 2*reversedFirst && t.last(0) <= h.start-2 || sunk {
		h.reversed = true
	}
}
