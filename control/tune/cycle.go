package tune

import (
	"fmt"
	"math"
)

// Cycle is the steady swing of a model with one time constant between two duties, Hi above and
// Lo below the duty that holds it (both above 0), switched by a relay with hysteresis Eps: the
// heat goes off when the reading rises past +Eps, on when it falls past -Eps, °C.
type Cycle struct {
	Up, Down float64 // the extremes, °C from the middle: above 0 and below it
	On, Off  float64 // how long each duty lasts, s
}

// Period is the length of the whole swing, s.
func (c Cycle) Period() float64 { return c.On + c.Off }

// RelayCycle gives the exact swing: after each switch the reading goes on for a dead time
// towards the end that it had. Wang, Hang and Zou, IECR 36 (1997) 375, from memory, and checked
// by simulation. It is an error if the reading never reaches Eps on one side.
func RelayCycle(m Model, hi, lo, eps float64) (Cycle, error) {
	if m.Check() != nil || m.Kind == Second || !(hi > 0 && lo > 0 && eps >= 0) {
		return Cycle{}, fmt.Errorf("tune: no relay cycle of %s with +%g -%g", m.Kind, hi, lo)
	}
	if m.Kind == Integrating {
		up, down := m.Kv*hi, m.Kv*lo
		return Cycle{
			Up: eps + up*m.L, Down: -eps - down*m.L,
			On: m.L + (2*eps+down*m.L)/up, Off: m.L + (2*eps+up*m.L)/down,
		}, nil
	}
	top, bottom := m.K*hi, m.K*lo
	if !(eps < min(top, bottom)) {
		return Cycle{}, fmt.Errorf("tune: a hysteresis of %g °C is never passed", eps)
	}
	left := math.Exp(-m.L / m.T)
	c := Cycle{Up: top - (top-eps)*left, Down: -bottom + (bottom-eps)*left}
	c.On = m.L + m.T*math.Log((top-c.Down)/(top-eps))
	c.Off = m.L + m.T*math.Log((bottom+c.Up)/(bottom-eps))
	return c, nil
}

// Describing gives the ultimate gain, duty per °C, that a swing of half its peak-to-peak
// amplitude (°C) under a relay of half its whole swing d and hysteresis eps stands for, by the
// describing function: Åström and Hägglund, Automatica 20 (1984) 645, from memory. On ovens it
// is low by up to a fifth, and by half where there is hysteresis: fit a model instead.
func Describing(amplitude, d, eps float64) float64 {
	return 4 * d / (math.Pi * math.Sqrt(amplitude*amplitude-eps*eps))
}

// NormalDelay gives the model from the two times of a swing whose duties are unlike, and the
// static gain k: Berner's thesis, Lund 2017, read in a code that cites it. The formula is a fit
// of its own, right to some per cent. false if the times do not belong to such a swing.
func NormalDelay(k, on, off, hi, lo, eps float64) (tau float64, m Model, ok bool) {
	gamma := max(hi, lo) / min(hi, lo)
	rho := max(on, off) / min(on, off)
	tau = (gamma - rho) / ((gamma - 1) * (0.35*rho + 0.65))
	if !(tau > 0 && tau < 1) || !positive(k) {
		return tau, Model{}, false
	}
	x := tau / (1 - tau)
	m = Model{Kind: First, K: k}
	m.T = on / math.Log((eps/k-lo+math.Exp(x)*(hi+lo))/(hi-eps/k))
	m.L = m.T * x
	return tau, m, m.Check() == nil && m.T > 0
}

// FromCycle gives the model from the same figures exactly: the share of the two times tells
// the dead time in time constants, their sum the time constant. Derived from RelayCycle. false
// if no model with one time constant swings so.
func FromCycle(k, on, off, hi, lo, eps float64) (Model, bool) {
	if !positive(k) || !(on > 0 && off > 0) || !(math.Abs(hi-lo) > 0.01*(hi+lo)) {
		return Model{}, false
	}
	share := func(x float64) float64 { // of the longer duty in the shorter's time, L = x T
		c, err := RelayCycle(Model{Kind: First, K: k, T: 1, L: x}, hi, lo, eps)
		if err != nil {
			return math.NaN()
		}
		if hi > lo {
			return c.Off / c.On
		}
		return c.On / c.Off
	}
	want := off / on
	if hi < lo {
		want = on / off
	}
	const least, most = 1e-4, 50
	if !(share(least) > want && share(most) < want) {
		return Model{}, false
	}
	x := math.Exp(bisect(math.Log(least), math.Log(most), func(x float64) bool {
		return share(math.Exp(x)) < want
	}))
	c, _ := RelayCycle(Model{Kind: First, K: k, T: 1, L: x}, hi, lo, eps)
	t := (on + off) / c.Period()
	return Model{Kind: First, K: k, T: t, L: x * t}, true
}
