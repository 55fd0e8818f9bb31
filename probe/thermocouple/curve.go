package thermocouple

import (
	"fmt"
	"math"
)

// piece is one polynomial and the range of its variable, both ends included.
type piece struct {
	from, to float64
	c        []float64 // lowest power first
}

// at gives the polynomial and its slope at x.
func (p piece) at(x float64) (value, slope float64) {
	for i := len(p.c) - 1; i >= 0; i-- {
		slope = slope*x + value
		value = value*x + p.c[i]
	}
	return value, slope
}

// bell is the term a0 exp(a1 (t-a2)²) that type K has from 0 °C up.
type bell struct{ a0, a1, a2 float64 }

// curve has the reference functions of one type: forward in °C giving mV, inverse in mV
// giving °C.
type curve struct {
	name             string
	forward, inverse []piece
	coldest, hottest float64 // °C, the range of NIST's inverse
	bell             *bell
}

// emf gives the reference function in mV and its slope in mV/°C; t must be in its range.
func (c *curve) emf(t float64) (mV, slope float64) {
	last := len(c.forward) - 1
	i := 0
	for i < last && t >= c.forward[i].to {
		i++
	}
	mV, slope = c.forward[i].at(t)
	if b := c.bell; b != nil && t >= 0 {
		g := b.a0 * math.Exp(b.a1*(t-b.a2)*(t-b.a2))
		mV += g
		slope += 2 * b.a1 * (t - b.a2) * g
	}
	return mV, slope
}

// domain gives the range of the reference function in °C, both ends included.
func (c *curve) domain() (low, high float64) {
	return c.forward[0].from, c.forward[len(c.forward)-1].to
}

// singleB is where the temperatures of type B begin, °C: it has a minimum near 21 °C, and each
// emf below about 42 °C twice.
const singleB = 50

// temps gives the range in °C in which each emf has one temperature.
func (c *curve) temps() (low, high float64) {
	low, high = c.domain()
	if c.name == "B" {
		low = singleB
	}
	return low, high
}

// emfs gives the emfs at the ends of temps, mV.
func (c *curve) emfs() (low, high float64) {
	from, to := c.temps()
	low, _ = c.emf(from)
	high, _ = c.emf(to)
	return low, high
}

// checkedEMF gives the emf in mV, or an error outside the range of the reference function.
func (c *curve) checkedEMF(t float64) (float64, error) {
	low, high := c.domain()
	if !(t >= low && t <= high) {
		return 0, fmt.Errorf("type %s has no emf at %.8g °C: its function goes from %g to %g °C",
			c.name, t, low, high)
	}
	mV, _ := c.emf(t)
	return mV, nil
}

// temp gives the temperature in °C of an emf in mV. NIST's polynomial is the first guess, and
// two Newton steps on the reference function take its error of up to 0.06 °C away, and with
// it the jumps where two polynomials meet. Where NIST has no inverse, the reference function
// is searched.
func (c *curve) temp(mV float64) (float64, error) {
	low, high := c.emfs()
	if !(mV >= low && mV <= high) {
		from, to := c.temps()
		return 0, fmt.Errorf("type %s has no temperature at %.6g mV: its inverse goes from "+
			"%.4f to %.4f mV, %g to %g °C", c.name, mV, low, high, from, to)
	}
	if end, _ := c.emf(c.coldest); mV < end {
		return c.search(mV), nil
	}
	t := c.guess(mV)
	for range 2 {
		e, slope := c.emf(t)
		t = min(max(t+(mV-e)/slope, c.coldest), c.hottest)
	}
	return t, nil
}

// guess is NIST's approximate inverse. Two of the polynomials of R and of S overlap, and from
// where the later one begins it is 5 to 50 times the better. The printed ends are rounded to
// 1 µV, so nothing is taken further out than they are.
func (c *curve) guess(mV float64) float64 {
	i := len(c.inverse) - 1
	for i > 0 && mV < c.inverse[i].from {
		i--
	}
	t, _ := c.inverse[i].at(min(max(mV, c.inverse[i].from), c.inverse[i].to))
	return t
}

// search finds the temperature below NIST's inverse by halving the range that holds it: the
// reference function rises there all the way.
func (c *curve) search(mV float64) float64 {
	const fine = 1e-9 // °C
	low, _ := c.temps()
	high := c.coldest
	for high-low > fine {
		middle := (low + high) / 2
		if e, _ := c.emf(middle); e < mV {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}
