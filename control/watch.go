package control

import (
	"time"

	"strawline/control/guard"
	"strawline/probe"
	"strawline/probe/belief"
)

// watch is what the engine keeps of its guard.
type watch struct {
	state guard.State
	found guard.Findings
	alike time.Duration // when the law last took the oven to be like its model
}

// modelFor is how long an oven may be unlike its model before the guard's messages that need the
// model are left out: a fault makes it unlike too. Our choice. What takes the heat away stays: a
// model that is wrong by half does not make it trip more often (A's model on ovens within ±50 % of
// A and B, in whole runs), and left out it let a switch that was stuck on pass unseen up to the
// limit in 3 of 50.
const modelFor = 5 * time.Minute

// guardModel gives the model as the guard takes it; none of a nil one.
func (m *ModelInfo) guardModel() guard.Model {
	if m == nil {
		return guard.Model{}
	}
	return guard.Model{Slope: m.SlopeCS, Dead: m.DeadS + m.SecondS, Time: m.TimeS,
		Hold: m.HoldPM / 1000, HoldAt: m.HoldC}
}

func (e *Engine) guardConfig() guard.Config {
	m := e.cfg.Info.Model
	if m == nil {
		return guard.Config{}
	}
	return guard.Config{Model: m.guardModel(), Sigma: m.NoiseC}
}

// tellable says that a message may be told: one that a wrong model makes is not.
func (e *Engine) tellable(f guard.Finding) bool {
	return f == guard.Door || e.now-e.watch.alike <= modelFor
}

// guards lets the guard look at a reading of the oven's air. The duty that led to it is the one
// commanded until now. Where a person holds the heat there is no duty to compare with.
func (e *Engine) guards(r probe.Reading, v belief.Verdict) {
	if e.noHeater() {
		return
	}
	w := &e.watch
	if !e.loop.unlike {
		w.alike = e.now
	}
	before := w.found
	w.found = guard.Step(e.guardConfig(), &w.state, guard.Input{At: r.At, Good: v.Good,
		Hot: float64(v.Clean), Raw: r.Raw, Cold: float64(r.Cold), HasCold: r.HasCold,
		Duty: float64(e.duty) / 1000, Set: float64(e.set), HasSet: e.hasSet,
		Room: float64(e.room)})
	for f := range guard.Count {
		if !w.found.Has(f) {
			continue
		}
		begins := !before.Has(f)
		switch f.Kind() {
		case guard.Trip: // heat that nobody sent trips for as long as it comes
			if begins || f == guard.HeatAtZero {
				e.tripOn(f.String())
			}
		case guard.Doubt:
			e.raise(f.String())
		case guard.Message:
			if begins && e.tellable(f) {
				e.emit(Event{Kind: EvOven, Text: f.String()})
			}
		case guard.Alarm: // condition asks for it
		}
	}
}

// guardAnew forgets what was found: a person has put it right.
func (e *Engine) guardAnew() { e.watch = watch{alike: e.watch.alike} }

// found says that the guard finds one of them now.
func (e *Engine) found(fs ...guard.Finding) bool {
	for _, f := range fs {
		if e.watch.found.Has(f) {
			return true
		}
	}
	return false
}
