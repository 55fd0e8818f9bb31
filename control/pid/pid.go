// Package pid is the control law: a PID controller of the ISA standard form with two degrees
// of freedom, as arithmetic. Config says how it is tuned, State is what it remembers, Input is
// what was seen, and time is a figure of the Input: nothing here asks a clock.
//
//	v = K (b r - yf) + I + D + ff            u = v cut to Min..Max
//	I gains K h/Ti e of the sample before    e = r - yf
//	D keeps a of itself and gains -K Td (1-a)/h times the change of yf, a = exp(-h N/Td)
//	yf moves 1 - exp(-h/Tf) of the way to y
//
// D differentiates the measurement only, so that a moved setpoint does not kick, and is exact
// for a measurement that runs straight between samples, whatever the intervals. The gain
// stands inside the integral, so that a new Ti needs no correction. The law is the textbooks'
// (Åström and Hägglund, PID Controllers, 1995, chapter 3, from memory); the ramp-invariant
// derivative was computed for irregular sampling.
//
// A figure that is not a number, an interval that is not above zero or a config that makes no
// controller is an error, and with an error the Output is all zeros: no heat.
package pid

import "math"

// AntiWindup says what keeps the integral from running away while the output is at a limit.
type AntiWindup uint8

// The ways of anti-windup.
const (
	// Conditional cuts an increment of the integral where it would carry v past the limit it
	// is at; nothing to tune. It is the default.
	Conditional AntiWindup = iota
	// None lets the integral run.
	None
	// BackCalculation pulls the integral, with time constant Tt, by what was applied less v.
	BackCalculation
)

// Rounding is the share of Max-Min by which an applied output may differ from the one asked for
// before Conditional takes it for a limit: a duty is rounded to per mille on its way to a board,
// and rounding must not stop the integral. Our choice.
const Rounding = 0.01

// Config is the tuning. Times are in seconds.
type Config struct {
	K          float64 // gain, output (duty 0 to 1) per °C; above 0
	Ti         float64 // integral time, s; above 0
	Td         float64 // derivative time, s; 0 for none
	N          float64 // limit of the derivative's gain, 5 to 20 in practice; above 0 if Td is
	B          float64 // setpoint weight of P, 0 to 1
	Min, Max   float64 // limits of the output, Min below Max
	AntiWindup AntiWindup
	Tt         float64 // tracking time, s; above 0 for BackCalculation, not used otherwise
	Tf         float64 // time constant of the measurement filter, s; 0 for none
}

// State is what the law carries from one sample to the next. The zero State is one that has not
// begun: the first Step starts it without a bump from an output of 0. All fields are finite.
type State struct {
	Begun bool    // Preset or a Step has set the rest
	I     float64 // integral part, in units of the output
	D     float64 // derivative part, in units of the output
	Yf    float64 // filtered measurement, °C
	R     float64 // setpoint of the last sample, °C
	V     float64 // output before the limits at the last sample
	U     float64 // output after the limits at the last sample
}

// Input is one sample. Every figure must be finite.
type Input struct {
	H          float64 // s since the last valid sample; above 0
	R          float64 // setpoint, °C
	Y          float64 // measured, °C
	FF         float64 // feed-forward, in units of the output
	Applied    float64 // what was really applied since the last sample; only if HasApplied
	HasApplied bool    // without it the last U is taken to have been applied
}

// Output is what the law wants, with its parts: V is P + I + D + the feed-forward, and U is V
// cut to the limits. With an error it is all zeros.
type Output struct {
	P, I, D, V, U float64
}

// Step takes one sample. It gives the next State and the Output, or ErrConfig, ErrInput or
// ErrState with the State as it was and an Output of zeros.
func Step(cfg Config, st State, in Input) (State, Output, error) {
	if err := cfg.Check(); err != nil {
		return st, Output{}, err
	}
	if err := in.check(); err != nil {
		return st, Output{}, err
	}
	if !st.finite() {
		return st, Output{}, ErrState
	}
	if !st.Begun {
		st = PresetForward(cfg, 0, in.FF, in.R, in.Y)
	}
	applied := st.U
	if in.HasApplied {
		applied = in.Applied
	}
	next := st
	dyf := share(in.H, cfg.Tf) * (in.Y - st.Yf)
	next.Yf = st.Yf + dyf
	next.D = 0
	if cfg.Td > 0 {
		gone := share(in.H, cfg.Td/cfg.N) // 1 - a
		next.D = (1-gone)*st.D - cfg.K*cfg.Td*gone/in.H*dyf
	}
	p := cfg.K * (cfg.B*in.R - next.Yf)
	inc := cfg.K / cfg.Ti * in.H * (st.R - st.Yf)
	switch cfg.AntiWindup {
	case Conditional:
		inc = cfg.condition(inc, p+st.I+next.D+in.FF, applied-st.U)
	case BackCalculation:
		inc += share(in.H, cfg.Tt) * (applied - st.V)
	case None:
	}
	next.I = st.I + inc
	next.R = in.R
	next.V = p + next.I + next.D + in.FF
	next.U = min(cfg.Max, max(cfg.Min, next.V))
	if !next.finite() || !finite(p) {
		return st, Output{}, ErrInput
	}
	return next, Output{P: p, I: next.I, D: next.D, V: next.V, U: next.U}, nil
}

// condition cuts an increment of the integral. v is the output before the limits without it;
// short is what was applied less what had been asked for.
func (c Config) condition(inc, v, short float64) float64 {
	limited := Rounding * (c.Max - c.Min)
	if inc > 0 {
		if short < -limited {
			return 0
		}
		return min(inc, max(0, c.Max-v))
	}
	if short > limited {
		return 0
	}
	return max(inc, min(0, c.Min-v))
}

// share is the part of a way that a first-order lag of time constant t goes in h: 1 if there is
// no lag. Expm1 keeps its digits where h is far smaller than t.
func share(h, t float64) float64 {
	if t <= 0 {
		return 1
	}
	return -math.Expm1(-h / t)
}
