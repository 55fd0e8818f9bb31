package tune

import (
	"fmt"
	"math"
)

// Kind is the form of a Model.
type Kind uint8

// The forms, from the one that claims least.
const (
	Integrating Kind = iota + 1
	First
	Second
)

// String gives the form in words.
func (k Kind) String() string {
	switch k {
	case Integrating:
		return "slope and dead time"
	case First:
		return "one time constant and dead time"
	case Second:
		return "two time constants and dead time"
	}
	return "no model"
}

// Model is how an oven answers its heater. The fields that its Kind does not have are 0.
type Model struct {
	Kind Kind
	K    float64 // rise in the end, °C for the whole duty; above 0, not of Integrating
	Kv   float64 // slope, °C/s for the whole duty; above 0, of Integrating only
	T    float64 // the longer time constant, s; above 0 (0 or more for published examples)
	T2   float64 // the shorter time constant, s; of Second only
	L    float64 // dead time, s; 0 or more
	Half Half    // how sure the figures are
}

// Half has half the width of the 95 % interval of each figure, in its unit; 0 where the figure
// was not fitted. It covers what noise and the misfit seen do, not a wrong form of the model.
type Half struct {
	K, T, T2, L float64
	Slope       float64 // of Model.Slope, °C/s for the whole duty
}

// Slope is the rise per second that the whole duty begins with once it acts, °C/s: Kv, or K/T.
// It is what gains depend on, and far better known than K and T are.
func (m Model) Slope() float64 {
	if m.Kind == Integrating {
		return m.Kv
	}
	return m.K / m.T
}

// Lag is the time that a change of duty takes to show, s: the dead time and the shorter lag.
func (m Model) Lag() float64 { return m.L + m.T2 }

// Check gives nil if the figures make a model.
func (m Model) Check() error {
	ok := m.L >= 0 && finite(m.L)
	switch m.Kind {
	case Integrating:
		ok = ok && positive(m.Kv)
	case First:
		ok = ok && positive(m.K) && m.T >= 0 && finite(m.T)
	case Second:
		ok = ok && positive(m.K) && positive(m.T) && positive(m.T2) && m.T2 <= m.T
	default:
		ok = false
	}
	if !ok {
		return fmt.Errorf("tune: no model of an oven: %s, K %g, slope %g, T %g, T2 %g, L %g",
			m.Kind, m.K, m.Kv, m.T, m.T2, m.L)
	}
	return nil
}

// Process is a transfer function: Gain exp(-Delay s) times a (z s + 1) for each zero, over an s
// for each integrator and a (t s + 1) for each lag. Times in s.
type Process struct {
	Gain        float64
	Integrators int
	Lags, Zeros []float64
	Delay       float64
}

// Process gives the model's transfer function.
func (m Model) Process() Process {
	p := Process{Gain: m.K, Delay: m.L}
	switch m.Kind {
	case Integrating:
		p.Gain, p.Integrators = m.Kv, 1
	case First:
		p.Lags = []float64{m.T}
	case Second:
		p.Lags = []float64{m.T, m.T2}
	}
	return p
}

// At gives the frequency response at w, rad/s, above 0.
func (p Process) At(w float64) complex128 {
	g := complex(p.Gain, 0) * late(w*p.Delay)
	for _, z := range p.Zeros {
		g *= complex(1, w*z)
	}
	for _, t := range p.Lags {
		g *= over(1, w*t)
	}
	for range p.Integrators {
		g *= complex(0, -1/w)
	}
	return g
}

// over is 1/(re + i im): a division that costs no more than it must, for sweeps.
func over(re, im float64) complex128 {
	d := 1 / (re*re + im*im)
	return complex(re*d, -im*d)
}

// late is the turn by an angle, rad, backwards.
func late(angle float64) complex128 {
	sin, cos := math.Sincos(angle)
	return complex(cos, -sin)
}

// Reduced gives the model with one time constant that stands for m, by the half rule: half of
// the shorter lag goes to the dead time and half to the longer lag.
func (m Model) Reduced() Model {
	if m.Kind != Second {
		return m
	}
	first, _ := HalfRule([]float64{m.T, m.T2}, nil, m.L)
	first.K = m.K
	return first
}

// HalfRule gives the models with one and with two time constants that stand for a process of
// gain 1 with these lags (s, longest first), inverse-response zeros (-z s + 1) given as z, and
// dead time: the first lag left out is shared out by halves, what is smaller becomes dead time.
// From memory: Skogestad, J. Process Control 13 (2003) 291, section 2.
func HalfRule(lags, inverse []float64, delay float64) (first, second Model) {
	reduce := func(keep int) (kept [2]float64, dead float64) {
		dead = delay
		for _, z := range inverse {
			dead += z
		}
		for i, lag := range lags {
			switch {
			case i < keep:
				kept[i] = lag
			case i == keep:
				kept[keep-1] += lag / 2
				dead += lag / 2
			default:
				dead += lag
			}
		}
		if kept[1] > kept[0] { // what the half went to may have become the longer one
			kept[0], kept[1] = kept[1], kept[0]
		}
		return kept, dead
	}
	one, dead1 := reduce(1)
	two, dead2 := reduce(2)
	return Model{Kind: First, K: 1, T: one[0], L: dead1},
		Model{Kind: Second, K: 1, T: two[0], T2: two[1], L: dead2}
}

// rise gives the answer to a whole step of duty, t seconds after it: °C.
func (m Model) rise(t float64) float64 {
	t -= m.L
	if t <= 0 {
		return 0
	}
	switch m.Kind {
	case Integrating:
		return m.Kv * t
	case First:
		return -m.K * math.Expm1(-t/m.T)
	}
	if m.T-m.T2 < 1e-6*m.T { // both lags alike
		return m.K * (1 - (1+t/m.T)*math.Exp(-t/m.T))
	}
	return m.K * (1 - (m.T*math.Exp(-t/m.T)-m.T2*math.Exp(-t/m.T2))/(m.T-m.T2))
}

// Tangent gives the model with one time constant as the steepest tangent of m's step response
// shows it: dead time where the tangent leaves the start, and T such that dead time and T reach
// 63.2 % of the rise. The rules that were made for a tangent want this one.
func (m Model) Tangent() Model {
	if m.Kind != Second {
		return m
	}
	// The steepest point of two lags is where their exponentials' shares are alike.
	steep := m.T
	if m.T-m.T2 >= 1e-6*m.T {
		steep = math.Log(m.T/m.T2) * m.T * m.T2 / (m.T - m.T2)
	}
	const e = 1e-4
	at := m.L + steep
	slope := (m.rise(at+e*m.T2) - m.rise(at-e*m.T2)) / (2 * e * m.T2)
	dead := at - m.rise(at)/slope
	t63 := bisect(m.L, m.L+4*(m.T+m.T2), func(t float64) bool {
		return m.rise(t) > m.K*-math.Expm1(-1)
	})
	return Model{Kind: First, K: m.K, T: t63 - dead, L: dead}
}

// bisect gives where past turns true between low and high.
func bisect(low, high float64, past func(float64) bool) float64 {
	for range 200 {
		mid := low + (high-low)/2
		if mid == low || mid == high {
			break
		}
		if past(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return low + (high-low)/2
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func positive(x float64) bool { return x > 0 && finite(x) }
