package tune

import (
	"math"
	"math/cmplx"
)

// Loop is the loop that gains make with a process, as control/pid closes it.
type Loop struct {
	Process Process
	Gains   Gains
	N       float64 // limit of the derivative's gain; 0 for a derivative without a limit
	Tf      float64 // time constant of the measurement filter, s; 0 for none
	Delay   float64 // dead time of sampling and of the heater's window, s
	Every   float64 // time between samples, s; for Wander only
}

// Setup is what belongs to the loop besides oven and gains.
type Setup struct {
	Every  float64 // s between readings; 0.25 on our board
	Window float64 // s over which the duty is spread; 0 for none
	N      float64 // limit of the derivative's gain, 5 to 20
	Tf     float64 // time constant of the measurement filter, s
}

// Close gives the loop of a model. A duty is held for a window, or for one sample if there is
// none, and a reading is up to one sample old: on average half of each, which counts as dead
// time.
func (s Setup) Close(m Model, g Gains) Loop {
	return Loop{Process: m.Process(), Gains: g, N: s.N, Tf: s.Tf, Every: s.Every,
		Delay: s.delay()}
}

func (s Setup) delay() float64 {
	if s.Window > s.Every {
		return (s.Window + s.Every) / 2
	}
	return s.Every / 2
}

// Controller gives the frequency response of control/pid from the reading to the duty, without
// its sign, at w rad/s.
func (l Loop) Controller(w float64) complex128 {
	c := complex(1, 0)
	if !math.IsInf(l.Gains.Ti, 1) {
		c += complex(0, -1/(l.Gains.Ti*w))
	}
	if td := l.Gains.Td; td > 0 {
		d := complex(0, td*w)
		if l.N > 0 {
			d *= over(1, td/l.N*w)
		}
		c += d
	}
	return complex(l.Gains.K, 0) * c * over(1, l.Tf*w)
}

// At gives the frequency response of the open loop at w rad/s.
func (l Loop) At(w float64) complex128 {
	return l.Controller(w) * l.Process.At(w) * late(w*l.Delay)
}

// smallGain is the loop gain below which no margin is looked for.
const smallGain = 0.005

// Margins is how far a loop is from swinging. If it swings by itself, Stable is false and the
// rest is 0.
type Margins struct {
	Stable bool
	Ms     float64 // sensitivity peak: 1.4 calm, 2 at most for an oven
	GM     float64 // gain margin, a factor; +Inf if no gain up to 200 times makes it swing
	PM     float64 // phase margin, degrees; +Inf if the loop gain never passes 1
	Delay  float64 // delay margin, s: dead time it stands in addition; +Inf likewise
	W180   float64 // where the gain margin was found, rad/s
	WC     float64 // where the delay margin was found, rad/s
	WMs    float64 // where the peak is, rad/s
}

// sweep walks over the frequencies of a loop: finely enough that neither lag nor dead time
// turns the phase by more than a small angle between two of them. It ends where the loop's gain
// has become small and nothing is left that could raise it again.
func sweep(p Process, c Loop, small float64, visit func(w float64, g complex128) bool) {
	slow, fast, lead, delay := 0.0, math.Inf(1), math.Inf(1), p.Delay+c.Delay
	note := func(t float64, leads bool) {
		if t = math.Abs(t); t > 0 && finite(t) {
			slow, fast = max(slow, t), min(fast, t)
			if leads {
				lead = min(lead, t)
			}
		}
	}
	for _, t := range p.Lags {
		note(t, false)
	}
	for _, t := range p.Zeros {
		note(t, true)
	}
	note(c.Gains.Ti, true)
	note(c.Gains.Td, true)
	note(c.Tf, false)
	note(delay, false)
	if c.N > 0 {
		note(c.Gains.Td/c.N, false)
	}
	const ratio, turn = 0.03, 0.1
	top := 300 / fast
	if delay > 0 {
		top = max(100/fast, 60/delay)
	}
	for w := 1e-3 / slow; w < top; {
		g := c.At(w)
		if !visit(w, g) || (w > 10/lead && cmplx.Abs(g) < small) {
			return
		}
		step := ratio * w
		if delay > 0 {
			step = min(step, turn/delay)
		}
		w += step
	}
}

// Margins finds them by a sweep and refines each to eight digits.
func (l Loop) Margins() Margins {
	m := Margins{GM: math.Inf(1), PM: math.Inf(1), Delay: math.Inf(1)}
	wraps, begun := 0, false
	wLast, gLast := 0.0, complex128(0)
	peak, bestW, stepW := 0.0, 0.0, 0.0
	sweep(l.Process, l, smallGain, func(w float64, g complex128) bool {
		if s := 1 / cmplx.Abs(1+g); s > peak {
			peak, bestW, stepW = s, w, w-wLast
		}
		if !begun {
			begun = true
			if l.Process.Integrators > 0 && real(g) < 0 && imag(g) > 0 {
				wraps++ // two integrations that begin beyond half a turn
			}
		} else {
			m.cross(l, wLast, gLast, w, g, &wraps)
		}
		wLast, gLast = w, g
		return true
	})
	if wraps != 0 {
		return Margins{}
	}
	m.Stable = true
	m.WMs = l.peak(bestW-1.5*stepW, bestW+1.5*stepW)
	m.Ms = max(peak, 1/cmplx.Abs(1+l.At(m.WMs)))
	return m
}

// cross looks at one stretch of the sweep. wraps counts the turns around -1.
func (m *Margins) cross(l Loop, w0 float64, g0 complex128, w1 float64, g1 complex128, wraps *int) {
	if imag(g0) < 0 != (imag(g1) < 0) && (real(g0) < 0 || real(g1) < 0) {
		falls := imag(g0) < 0
		w := bisect(w0, w1, func(w float64) bool { return imag(l.At(w)) < 0 != falls })
		re := real(l.At(w))
		switch {
		case re < -1 && falls:
			*wraps++
		case re < -1:
			*wraps--
		case re < 0 && -1/re < m.GM:
			m.GM, m.W180 = -1/re, w
		}
	}
	if a0, a1 := cmplx.Abs(g0), cmplx.Abs(g1); a0 >= 1 != (a1 >= 1) {
		w := bisect(w0, w1, func(w float64) bool { return cmplx.Abs(l.At(w)) >= 1 != (a0 >= 1) })
		phase := cmplx.Phase(l.At(w)) + math.Pi // from -1, in 0 to a whole turn
		m.PM = min(m.PM, min(phase, 2*math.Pi-phase)*180/math.Pi)
		if phase/w < m.Delay {
			m.Delay, m.WC = phase/w, w
		}
	}
}

// peak finds the largest sensitivity between two frequencies by golden sections.
func (l Loop) peak(a, b float64) float64 {
	const golden = 0.6180339887498949
	a = max(a, b*1e-9)
	f := func(w float64) float64 { return cmplx.Abs(1 + l.At(w)) }
	x, y := b-golden*(b-a), a+golden*(b-a)
	fx, fy := f(x), f(y)
	for range 60 {
		if fx < fy {
			b, y, fy = y, x, fx
			x = b - golden*(b-a)
			fx = f(x)
		} else {
			a, x, fx = x, y, fy
			y = a + golden*(b-a)
			fy = f(y)
		}
	}
	return (a + b) / 2
}

// Ultimate gives the gain (duty per °C) at which P control alone swings for ever, and the
// period, s; false if there is none.
func (p Process) Ultimate() (ku, pu float64, ok bool) {
	l := Loop{Process: p, Gains: Gains{K: 1, Ti: math.Inf(1)}}
	wLast, gLast := 0.0, complex128(0)
	sweep(p, l, 0, func(w float64, g complex128) bool {
		if wLast > 0 && imag(gLast) < 0 && imag(g) >= 0 && real(g) < 0 {
			at := bisect(wLast, w, func(w float64) bool { return imag(l.At(w)) >= 0 })
			ku, pu, ok = 1/cmplx.Abs(l.At(at)), 2*math.Pi/at, true
			return false
		}
		wLast, gLast = w, g
		// Stop before noise of the last digits can pass for a crossing.
		return cmplx.Abs(g) > 1e-9*p.Gain
	})
	return ku, pu, ok
}

// Wander is the rms, °C, by which the true temperature wanders because the loop follows a
// reading noise of sigma (°C, one standard deviation, each reading for itself).
func (l Loop) Wander(sigma float64) float64 {
	if !(l.Every > 0) {
		return 0
	}
	const points = 2000
	top := math.Pi / l.Every
	ratio := math.Pow(1e-5, 1.0/points)
	sum, w := 0.0, top
	for range points {
		next := w * ratio
		g := l.At((w + next) / 2)
		t := cmplx.Abs(g / (1 + g))
		sum += t * t * (w - next)
		w = next
	}
	return sigma * math.Sqrt((sum+w)*l.Every/math.Pi) // below w the loop follows wholly
}
