package main

import (
	"math"

	"strawline/control/landing"
	"strawline/control/shop"
	"strawline/control/tune"
)

// landingOf adds what the landing needs to a model: slope, lag and dead time as the swings near
// the setpoint show them, and the lag that the start from cold showed. What the record does not
// carry is left out; the landing then goes by the model.
func landingOf(c concluded, m *shop.Model) {
	if cold, err := tune.ColdStart(c.ev.Record); err == nil && len(cold.Checks) > 0 {
		m.StartLag = secs(cold.Checks[0].Model.L)
	}
	hold := c.ev.HoldPM / 1000
	rec := swingsIn(c.ev.Record, hold)
	if rec == nil {
		return
	}
	lag := c.found.Model.Lag()
	if m.StartLag > 0 {
		lag = m.StartLag.Seconds()
	}
	if f, ok := landing.Fit(rec, hold, lag); ok {
		m.SwingSlope, m.SwingLag, m.SwingDead = digits(f.K), secs(f.Tau), secs(f.Th)
	}
}

// swingsIn cuts the swings of a tuning test out of a run: what follows the first rest at the
// holding duty. It is nil if there is no such rest.
func swingsIn(rec tune.Record, hold float64) tune.Record {
	const rest, near = 8.0, 0.0015 // s; duties are kept to per mille
	if hold <= 0 {
		return nil
	}
	from := -1
	for i, s := range rec {
		switch {
		case math.Abs(s.Duty-hold) > near:
			from = -1
		case from < 0:
			from = i
		case s.T-rec[from].T >= rest:
			return rec[from:]
		}
	}
	return nil
}
