package control

import (
	"fmt"
	"time"

	"strawline/control/guard"
	"strawline/probe"
	"strawline/probe/belief"
)

// watch is what the engine keeps of its guard.
type watch struct {
	state guard.State
	found guard.Findings
	seen  guard.Findings // found at the last reading that was believed
	word  uint32         // the chip's last
	moved time.Duration  // when it last changed
}

// standsFrom is from when a word that has not changed is named beside heat that does not come: a
// chip that is stuck in a heat-up shows as that, too, a little before its word alone is too old.
// Our choice.
const standsFrom = 30 * time.Second

// why gives the words of a trip for what the guard found at a reading.
func (w *watch) why(f guard.Finding, at time.Duration) string {
	if stood := at - w.moved; f == guard.NoHeat && stood >= standsFrom {
		return fmt.Sprintf("the heat that is sent does not show, and the chip has said the same word "+
			"for %d s: it is stuck, or there is no heat", int(stood.Seconds()))
	}
	return f.String()
}

// guardModel gives the model as the guard takes it; none of a nil one.
func (m *ModelInfo) guardModel() guard.Model {
	if m == nil {
		return guard.Model{}
	}
	return guard.Model{Slope: m.SlopeCS, Dead: m.DeadS + m.SecondS, Time: m.TimeS,
		Hold: m.HoldPM / 1000, HoldAt: m.HoldC}
}

// guardConfig is the same whether the law finds the oven like its model or not: a model that is
// wrong by half does not make what takes the heat away more often (A's model and B's on ovens
// within ±50 % of them, in whole runs), and left out it let a switch that was stuck on pass unseen
// up to the limit in 3 of 50.
func (e *Engine) guardConfig() guard.Config {
	m := e.cfg.Info.Model
	if m == nil {
		return guard.Config{}
	}
	return guard.Config{Model: m.guardModel(), Sigma: m.NoiseC}
}

// guards lets the guard look at a reading of the oven's air. The duty that led to it is the one
// commanded until now. Where a person holds the heat there is no duty to compare with.
func (e *Engine) guards(r probe.Reading, v belief.Verdict) {
	if e.noHeater() {
		return
	}
	w := &e.watch
	if r.Raw != w.word {
		w.word, w.moved = r.Raw, r.At
	}
	before := w.seen // what is not known at a bad reading does not begin again behind it
	w.found = guard.Step(e.guardConfig(), &w.state, guard.Input{At: r.At, Good: v.Good,
		Hot: float64(v.Clean), Read: float64(r.Hot), Raw: r.Raw, Cold: float64(r.Cold),
		HasCold: r.HasCold,
		Duty:    float64(e.duty) / 1000, Set: float64(e.set), HasSet: e.hasSet,
		Room: float64(e.room)})
	if v.Good {
		w.seen = w.found
	}
	for f := range guard.Count {
		if !w.found.Has(f) {
			continue
		}
		begins := !before.Has(f)
		switch f.Kind() {
		case guard.Trip: // heat that nobody sent trips for as long as it comes
			if begins || f == guard.HeatAtZero {
				e.tripOn(w.why(f, r.At))
			}
		case guard.Doubt:
			e.raise(f.String())
		case guard.Message:
			if begins {
				e.emit(Event{Kind: EvOven, Text: f.String()})
			}
		case guard.Alarm: // condition asks for it
		}
	}
}

// guardAnew forgets what was found: a person has put it right.
func (e *Engine) guardAnew() {
	w := &e.watch
	*w = watch{word: w.word, moved: w.moved}
}

// found says that the guard finds one of them now.
func (e *Engine) found(fs ...guard.Finding) bool {
	for _, f := range fs {
		if e.watch.found.Has(f) {
			return true
		}
	}
	return false
}
