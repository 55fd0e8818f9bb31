package landing

import (
	"strawline/control/pid"
	"strawline/control/tune"
)

// Figures of the loop that holds, from the design study: SIMC's PID for two lags (Skogestad, J.
// Process Control 13 (2003) 291) at a speed that the lag and the noise set.
const (
	aggressive = 0.80  // closed-loop time constant and dead time, in lags
	wantedRMS  = 0.053 // °C that the noise may make of the temperature in a soak
	integralIn = 4.0
	filterOf   = 0.08 // measurement filter, in lags
	untested   = 3.0  // slower by this where only the start told the model
)

// HoldGains gives the gains of the loop for a model, whose Sigma is that of the mean of the
// readings of a second, °C.
func HoldGains(m Model) pid.Config {
	g, _ := holdGains(m, 1, true)
	return g
}

func holdGains(m Model, factor float64, soak bool) (g pid.Config, lam float64) {
	lam = aggressive * m.Lag() * factor
	if soak {
		lam = max(lam, inner*m.Sigma*m.Sigma/(wantedRMS*wantedRMS))
	}
	ti := min(m.T, integralIn*lam)
	f := 1 + m.Tau/ti
	tf := max(1, filterOf*m.Lag())
	td := m.Tau / f
	return pid.Config{K: f / (m.K * lam), Ti: ti * f, Td: td, N: td / tf, Tf: tf, B: 1, Min: 0,
		Max: 1}, lam
}

// FromModel gives the model for a landing of an identified one; sigma is the noise of the mean
// of a second's readings, °C.
func FromModel(m tune.Model, hold, sigma float64) Model {
	if m.Check() != nil {
		return Model{}
	}
	r := Model{K: m.Slope(), Tau: m.T2, Th: m.L, T: m.T, Hold: hold, Sigma: sigma}
	if m.T2 <= 0 { // one lag: what is missing is in the dead time
		r.Tau, r.Th = (1-splitTest)*m.L, splitTest*m.L
	}
	if m.Kind == tune.Integrating {
		r.T = 20 * m.Lag()
	}
	return r
}
