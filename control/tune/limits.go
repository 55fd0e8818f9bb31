package tune

import (
	"fmt"
	"math"
)

// MinHeatUp is the least time, s, in which any controller brings a model with one time constant
// from start to target (°C) in a room (°C): full duty all the way. It is an error if full duty
// does not reach the target.
func MinHeatUp(m Model, room, start, target float64) (float64, error) {
	if err := m.Check(); err != nil {
		return 0, err
	}
	m = m.Reduced()
	if m.Kind == Integrating {
		return m.L + max(0, target-start)/m.Kv, nil
	}
	left := m.K - (target - room)
	if !(left > 0) {
		return 0, fmt.Errorf("tune: full duty does not reach %.1f °C", target)
	}
	return m.L + max(0, m.T*math.Log((m.K-(start-room))/left)), nil
}

// BangBang is the fastest way of a model with two time constants from the room to a target:
// full duty to the time off, none to the time on, the holding duty from there; the oven arrives
// at the time there, s. It is an error if full duty does not reach the target.
//
// Both lags must hold their final value at the time on: (1-exp(-off/Ti)) exp(-(on-off)/Ti) is
// the holding duty for both (n-1 switches by Pontryagin's principle; derived).
func BangBang(m Model, room, target float64) (off, on, there float64, err error) {
	if err := m.Check(); err != nil {
		return 0, 0, 0, err
	}
	u := (target - room) / m.K
	if m.Kind != Second || !(u > 0 && u < 1) {
		return 0, 0, 0, fmt.Errorf("tune: no fastest way from %.1f to %.1f °C", room, target)
	}
	// For each time off, each lag says when its share has fallen to u: the slow one later.
	fall := func(t, off float64) float64 { return off + t*math.Log(-math.Expm1(-off/t)/u) }
	least := -m.T * math.Log1p(-u)
	off = bisect(least, least+50*(m.T2+least), func(off float64) bool {
		return fall(m.T, off) > fall(m.T2, off)
	})
	on = fall(m.T, off)
	return off, on, on + m.L, nil
}

// MinVariance is the least standard deviation, °C, that any controller leaves if the heater's
// power wanders by sigma (in duty) per square root of a second: the error of the best prediction
// one dead time ahead (Åström 1970, Harris 1989, from memory). approx is its short form for a
// dead time far below T.
func MinVariance(m Model, sigma float64) (sd, approx float64) {
	m = m.Reduced()
	slope := m.Slope()
	approx = slope * sigma * math.Sqrt(m.L*m.L*m.L/3)
	if m.Kind == Integrating {
		return approx, approx
	}
	// The integral of (1-exp(-s/T))² over the dead time.
	x := m.L / m.T
	square := m.T * (x + 2*math.Expm1(-x) - math.Expm1(-2*x)/2)
	return m.K * sigma * math.Sqrt(square), approx
}

// Ripple is the peak-to-peak swing, °C, that switching full power on for duty times the window
// (s) leaves behind a model's longest time constant alone; further lags make it less.
func Ripple(m Model, duty, window float64) float64 {
	if m.Kind == Integrating {
		return m.Kv * duty * (1 - duty) * window
	}
	gone := func(t float64) float64 { return -math.Expm1(-t / m.T) }
	return m.K * gone(duty*window) * gone((1-duty)*window) / gone(window)
}
