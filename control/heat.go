package control

import (
	"time"

	"strawline/control/alarm"
	"strawline/control/pid"
	"strawline/profiles"
)

// heat decides the duty of this step. Every path that does not reach the law gives 0, but for
// a step without a new reading: it keeps the duty for as long as the last reading may carry it.
func (e *Engine) heat(dt time.Duration) {
	was := e.duty
	e.duty = 0
	if e.phase != PhaseRunning || !e.hasSet || e.noHeater() {
		e.lawSet, e.holding = false, 0
		return
	}
	if e.doubt.stand || !e.sound() || e.doubt.run < TrustAfter || dt > MaxStep {
		e.lawSet = false // the holding duty is kept: a doubt that passes starts from it
		return
	}
	c := e.lead
	y, r := float64(c.value), float64(e.set)
	if !e.lawSet {
		// From cold the integral begins at 0, not bumpless from no heat: that would park it
		// far below and creep up.
		e.law, e.lawSet, e.lawAt = pid.State{Begun: true, I: e.holding, Yf: y, R: r}, true, c.at
		return
	}
	h := c.at - e.lawAt
	if h <= 0 {
		e.duty = was
		return
	}
	st, out, err := pid.Step(e.cfg.Law, e.law, pid.Input{H: h.Seconds(), R: r, Y: y})
	if err != nil { // a figure that is not one: never an output
		e.lawSet = false
		e.tripOn("the control law has no answer: " + err.Error())
		return
	}
	e.law, e.lawAt, e.holding = st, c.at, st.I
	e.duty = int(round(min(1, max(0, out.U))*1000, 1))
}

// judge steps the alarms.
func (e *Engine) judge() {
	for i := range e.table {
		e.conds[i] = e.condition(e.table[i].Code)
	}
	e.changes(alarm.Step(e.table, e.alarms, e.now, e.conds))
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
		return e.coast.rising && !e.noHeater()
	case alarm.NoReading:
		return under && !e.lead.good
	case alarm.BoardSilent:
		return under && (!e.sound() && e.lead.word == "stale")
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

// offBand says that a soak which has begun to count is outside its band.
func (e *Engine) offBand() bool {
	if e.steps[e.step].Kind != profiles.Soak || e.credits[e.step] == 0 || !e.lead.good {
		return false
	}
	st := e.steps[e.step]
	off := e.soaked().Sub(st.To)
	return off < -st.Band || off > st.Band
}

func (e *Engine) changes(cs []alarm.Change) {
	for _, c := range cs {
		e.emit(Event{Kind: EvAlarm, Code: c.Code, Word: c.To.String()})
	}
}

// CautiousGains are used where nobody gave any. A cold start of reference oven A or B, with a
// blade or empty, passes 400 °F by at most 1.3 °C on ideal readings, which a test of this package
// runs and holds to 1.5 °C, and by 1.4 °C through a board's noise and quarter degrees (B, with a
// blade). Opening the door for the blade while oven B still comes up costs 3.3 °C. They were
// chosen while looking at those two ovens; another oven may do worse.
func CautiousGains() Gains {
	return Gains{Kp: 0.03, TiS: 400, TdS: 25, Weight: 1, From: "cautious default"}
}
