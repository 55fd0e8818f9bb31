package thermocouple

import (
	"fmt"
	"math"

	"strawline/probe/temp"
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
	coldest, hottest float64 // °C, the range of the inverse
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

// checkedEMF gives the emf in mV, or an error outside the range of the reference function.
func (c *curve) checkedEMF(t float64) (float64, error) {
	low, high := c.forward[0].from, c.forward[len(c.forward)-1].to
	if !(t >= low && t <= high) {
		return 0, fmt.Errorf("type %s has no emf at %g °C: its function goes from %g to %g °C",
			c.name, t, low, high)
	}
	mV, _ := c.emf(t)
	return mV, nil
}

// temp gives the temperature in °C of an emf in mV. NIST's polynomial is the first guess, and
// two Newton steps on the reference function take its error of up to 0.06 °C away, and with
// it the jumps where two polynomials meet.
func (c *curve) temp(mV float64) (float64, error) {
	low, _ := c.emf(c.coldest)
	high, _ := c.emf(c.hottest)
	if !(mV >= low && mV <= high) {
		return 0, fmt.Errorf("type %s has no temperature at %g mV: its inverse goes from "+
			"%.3f to %.3f mV", c.name, mV, low, high)
	}
	last := len(c.inverse) - 1
	i := 0
	for i < last && mV > c.inverse[i].to {
		i++
	}
	// The printed ends are rounded to 1 µV, so the guess is taken no further out than they are.
	t, _ := c.inverse[i].at(min(max(mV, c.inverse[i].from), c.inverse[i].to))
	for range 2 {
		e, slope := c.emf(t)
		t = min(max(t+(mV-e)/slope, c.coldest), c.hottest)
	}
	return t, nil
}

// EMF gives the emf in mV of a type K thermocouple with its reference junction at 0 °C, by the
// ITS-90 reference function (NIST Monograph 175): EMF(200) is 8.138 mV. Outside -270 to
// 1372 °C, and for a number that is not finite, it is an error.
func EMF(t temp.C) (mV float64, err error) { return typeK.checkedEMF(float64(t)) }

// Temp gives the temperature of a type K thermocouple with its reference junction at 0 °C from
// its emf in mV, within 2e-6 °C of the reference function: Temp(8.138) is 200.0 °C. Outside the
// emf of -200 to 1372 °C (-5.891 to 54.886 mV), and for a number that is not finite, it is an
// error.
func Temp(mV float64) (temp.C, error) {
	t, err := typeK.temp(mV)
	return temp.C(t), err
}
