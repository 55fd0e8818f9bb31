package control

import (
	"time"

	"strawline/control/alarm"
	"strawline/control/guard"
	"strawline/probe/belief"
)

// heat decides the duty of this step. Every path that does not reach the law, a person's duty or
// a test gives 0, but for a step without a new reading: it keeps the duty for as long as the
// last reading may carry it.
func (e *Engine) heat(dt time.Duration) {
	sent := float64(e.was) / 1000 * dt.Seconds()
	e.loop.area += sent
	e.loop.sent += sent
	e.duty = e.wanted(dt)
	if e.duty != e.was {
		e.switched = e.now
	}
}

func (e *Engine) wanted(dt time.Duration) int {
	l, c := &e.loop, e.lead
	switch {
	case e.phase != PhaseRunning || !e.hasSet || e.noHeater(),
		e.doubt.stand || !e.sound() || e.doubt.run < TrustAfter || dt > MaxStep:
		l.off()
		return 0
	case !l.on: // the law steps from one reading to the next: this is its first
		l.restart(c.at, 0)
		l.on, l.at, l.area, l.hand.ended = true, c.at, 0, false
		return 0
	}
	e.watchHand()
	if c.at <= l.at {
		return e.was
	}
	span, applied := l.applied(c.at)
	switch {
	case l.hand.until != 0:
		e.sayLaw("by hand")
		if c := e.cfg.Info.Shop.Contactor; c != nil && l.hand.duty != 0 { // off by hand is at once
			return c.rest(e.was != 0, e.now-e.switched, true)
		}
		return l.hand.duty
	case e.cfg.Info.Shop.Contactor != nil:
		return e.byContactor()
	case e.test.goes():
		return e.byTest(span, applied)
	}
	if l.hand.ended {
		l.hand.ended = false
		l.restart(c.at, applied)
	}
	return e.byLaw(span, applied)
}

// judge steps the alarms.
func (e *Engine) judge() {
	for i := range e.table {
		e.conds[i] = e.condition(e.table[i].Code)
	}
	e.backs(alarm.Step(e.table, e.alarms, e.now, e.conds), "its time is over")
	if e.letGo { // a person reset the trip and said go on: its latches are released now
		e.letGo = false
		e.changes(alarm.Reset(e.table, e.alarms, e.conds))
	}
}

func (e *Engine) condition(code string) bool {
	running := e.phase == PhaseRunning
	under := running || e.phase == PhaseTripped
	switch code {
	case alarm.OverTemperature:
		return e.isOver
	case alarm.HeatAtZero:
		return e.found(guard.HeatAtZero)
	case alarm.NoHeat:
		return e.found(guard.NoHeat)
	case alarm.ProbeOut:
		return e.found(guard.LeadShort, guard.FellOut)
	case alarm.WeakHeat:
		return running && e.found(guard.WeakHeat)
	case alarm.BoardWarm:
		return under && e.found(guard.BoardWarm)
	case alarm.NoReading:
		return under && !e.lead.good
	case alarm.BoardSilent:
		return under && e.lead.word == belief.WhyStale
	case alarm.OffPlan:
		return running && (e.lagging || e.offBand())
	case alarm.WaitTooLong:
		return running && e.late
	case alarm.Tripped:
		return e.phase == PhaseTripped
	case alarm.LogFull:
		return e.logFull
	case alarm.RunOver:
		return e.phase == PhaseEnded && e.why == "the longest total time is over"
	}
	return false
}

// offBand says that a soak which has begun to count is outside its band, and that nobody just
// asked it to go elsewhere. Only a soak has credit.
func (e *Engine) offBand() bool {
	if e.credits[e.step] == 0 || !e.lead.good || e.moved {
		return false
	}
	st := e.steps[e.step]
	off := e.soaked().Sub(st.To)
	return off < -st.Band || off > st.Band
}

func (e *Engine) changes(cs []alarm.Change) { e.backs(cs, "") }

// CautiousGains are used where nobody gave any. What the landing learns of a cold start holds
// instead of them from then on; they are in force where no model is known and none is learnt, as on
// an oven that is still warm. Reference oven A or B that has rested at 60 to 190 °C passes 400 °F
// by at most 1.3 °C on ideal readings and stays within 0.1 °C after an hour, which a test of this
// package runs. They were chosen while looking at those two ovens; another oven may do worse.
func CautiousGains() Gains {
	return Gains{Kp: 0.03, TiS: 400, TdS: 25, Weight: 1, From: "cautious default"}
}
