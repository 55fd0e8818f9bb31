package plant

import (
	"fmt"
	"math"

	"strawline/probe/temp"
)

// Steady gives an oven that has settled at a constant duty (0 to 1), its door closed and p.Blade
// in it. It is an error if the duty is outside that range or the equations find no rest.
func Steady(p Params, duty float64) (*Oven, error) {
	if !(duty >= 0 && duty <= 1) {
		return nil, fmt.Errorf("duty %g is not between 0 and 1", duty)
	}
	room := float64(p.Room)
	x := state{}
	for i, rise := range [places]float64{element: 900, air: 400, wall: 400, outer: 100, blade: 400,
		sensor: 400} {
		x[i] = room + rise*duty
	}
	o := startAt(p, x)
	if !o.settle(duty * p.HeaterW) {
		return nil, fmt.Errorf("no steady state found at duty %g", duty)
	}
	return startAt(p, o.x), nil
}

// At gives an oven that has settled with its probe at t, its door closed and p.Blade in it, and
// the duty that holds it there. It is an error if t is below the room or above what full duty
// reaches.
func At(p Params, t temp.C) (*Oven, float64, error) {
	top, err := Steady(p, 1)
	if err != nil {
		return nil, 0, err
	}
	if !(t >= p.Room && t <= top.Probe()) {
		return nil, 0, fmt.Errorf("%.1f °C is not between the room's %.1f °C and the %.1f °C "+
			"of full duty", float64(t), float64(p.Room), float64(top.Probe()))
	}
	low, high := 0.0, 1.0
	for range 60 {
		duty := (low + high) / 2
		o, err := Steady(p, duty)
		if err != nil {
			return nil, 0, err
		}
		if o.Probe() < t {
			low = duty
		} else {
			high = duty
		}
	}
	o, err := Steady(p, (low+high)/2)
	return o, (low + high) / 2, err
}

// settled is the Newton step that ends the search, °C; the next one would be its square.
const settled = 1e-7

// settle moves the oven's state to where every slope is 0, by Newton's method with halved steps
// when a whole one makes it worse. It reports whether it got there.
func (o *Oven) settle(watts float64) bool {
	f := o.rest(o.x, watts)
	for range 100 {
		step, ok := solve(o.jacobian(watts, f), f)
		if !ok {
			return false
		}
		size := 1.0
		for range 30 {
			next := o.x
			for i := range next {
				next[i] -= size * step[i]
			}
			if g := o.rest(next, watts); norm(g) < norm(f) || norm(step) < settled {
				o.x, f = next, g
				break
			}
			size /= 2
		}
		if norm(step) < settled {
			return true
		}
	}
	return false
}

// rest gives the slopes at x in K/s with the air's past as if it had always been so.
func (o *Oven) rest(x state, watts float64) state {
	o.felt = x[air]
	s, _ := o.slopes(x, watts)
	return s
}

// jacobian gives the change of each slope with each temperature, by small differences.
func (o *Oven) jacobian(watts float64, f state) [places]state {
	const small = 1e-4
	var j [places]state
	for c := range places {
		x := o.x
		x[c] += small
		g := o.rest(x, watts)
		for r := range places {
			j[r][c] = (g[r] - f[r]) / small
		}
	}
	return j
}

func norm(s state) float64 {
	m := 0.0
	for _, v := range s {
		m = max(m, math.Abs(v)) // a NaN stays one
	}
	return m
}

// solve gives x with a x = b, by elimination with the largest pivot; false if there is none.
func solve(a [places]state, b state) (state, bool) {
	for c := range places {
		p := c
		for r := c + 1; r < places; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[p][c]) {
				p = r
			}
		}
		if !(math.Abs(a[p][c]) > 0) {
			return b, false
		}
		a[c], a[p] = a[p], a[c]
		b[c], b[p] = b[p], b[c]
		for r := c + 1; r < places; r++ {
			q := a[r][c] / a[c][c]
			for k := c; k < places; k++ {
				a[r][k] -= q * a[c][k]
			}
			b[r] -= q * b[c]
		}
	}
	for c := places - 1; c >= 0; c-- {
		for k := c + 1; k < places; k++ {
			b[c] -= a[c][k] * b[k]
		}
		b[c] /= a[c][c]
	}
	return b, true
}
