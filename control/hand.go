package control

import (
	"time"

	"strawline/probe/temp"
)

// HandAtMost is how long one ask may give the duty to a person.
const HandAtMost = 10 * time.Minute

// handAbove is how far the reading may pass the setpoint before a duty by hand ends. Our choice:
// wider than a temper's band, so that a person can feel his way, and far from any limit.
const handAbove = temp.Delta(10)

// hand is a duty that a person set.
type hand struct {
	until time.Duration // 0: the law has the duty
	duty  int           // per mille
	ended bool          // since the law's last step
}

// byHand gives the duty to a person, or back to the law where no time is asked.
func (e *Engine) byHand(a Ask) string {
	on := e.cfg.Info.Shop.Contactor
	switch {
	case e.noHeater():
		return "the heat is yours to switch"
	case a.Seconds == 0 && e.loop.hand.until == 0:
		return "the duty is not by hand"
	case a.Seconds == 0:
		e.handBack("ended by a person")
		return ""
	case !(a.Seconds > 0 && a.Seconds <= HandAtMost.Seconds()): // in seconds: a duration wraps
		return "by hand for up to 10 minutes"
	case a.DutyPM < 0 || a.DutyPM > 1000:
		return "a duty is 0 to 100 %"
	case on != nil && a.DutyPM != 0 && a.DutyPM != 1000:
		return "a contactor is on or off: 0 or 100 %"
	case !e.hasSet:
		return "this step has no setpoint, and without one there is no heat"
	case e.doubt.stand || !e.lead.good:
		return "the heat is away: " + e.doubt.why
	case e.lead.value > e.set.Add(handAbove):
		return "the reading is too far above the setpoint"
	}
	e.loop.hand = hand{until: e.now + time.Duration(a.Seconds*float64(time.Second)), duty: a.DutyPM}
	e.emit(Event{Kind: EvDuty, DutyPM: ptr(a.DutyPM), SpanS: ptr(round(a.Seconds, 1000))})
	return ""
}

// handBack ends a duty by hand.
func (e *Engine) handBack(why string) {
	h := &e.loop.hand
	if h.until == 0 {
		return
	}
	h.until, h.ended = 0, true
	e.emit(Event{Kind: EvDuty, Text: why})
}

// watchHand ends a duty by hand whose time is over, or that heats too far.
func (e *Engine) watchHand() {
	switch h := &e.loop.hand; {
	case h.until == 0:
	case e.now >= h.until:
		e.handBack("its time is over")
	case e.lead.value > e.set.Add(handAbove):
		e.handBack("the reading is too far above the setpoint")
	}
}
