package probe

import (
	"fmt"
	"math"

	"strawline/probe/temp"
)

// What a correction may be; our own.
const (
	// MaxOffset is the most that a correction may change a reading by. The widest tolerance of
	// new base-metal wire is 9.5 °C (0.75 % of 1260 °C, ASTM E230, from makers' copies): what
	// is further off has another type, another unit or another fault.
	MaxOffset = temp.Delta(25)
	MaxPoints = 20
	// MinApart is how far apart two points must be: closer, rounding makes their slope.
	MinApart = temp.Delta(1)

	// A billionth of a degree is left to the rounding of differences.
	rounding = temp.Delta(1e-9)
)

// Point is one place at which a probe was checked.
type Point struct {
	Reads temp.C // what the probe says, uncorrected
	Is    temp.C // what it was
}

// Correction is what is added to a probe's reading; the reading itself stays as it is in the
// run file. It is an Offset, or Points if there are any. The zero Correction changes nothing.
type Correction struct {
	Offset temp.Delta // added everywhere
	Points []Point    // Reads and Is rising
}

// Correct gives the corrected temperature: with Points, by straight lines between them, and
// outside them by what the nearest one adds. At a point it gives its Is exactly. It rises with
// what it is given, and has no steps. What is not a number stays so. A correction that does not
// pass Check has no meaning.
func (c Correction) Correct(t temp.C) temp.C {
	n := len(c.Points)
	if n == 0 {
		return t.Add(c.Offset)
	}
	first, last := c.Points[0], c.Points[n-1]
	switch {
	case t < first.Reads:
		return t.Add(first.Is.Sub(first.Reads))
	case t >= last.Reads:
		if t == last.Reads {
			return last.Is
		}
		return t.Add(last.Is.Sub(last.Reads))
	}
	for i := 1; i < n; i++ {
		if a, b := c.Points[i-1], c.Points[i]; t < b.Reads {
			share := float64(t.Sub(a.Reads)) / float64(b.Reads.Sub(a.Reads))
			return min(b.Is, a.Is.Add(temp.Delta(share*float64(b.Is.Sub(a.Is)))))
		}
	}
	return temp.C(math.NaN())
}

// Check gives nil, or what is wrong with the correction in one line with its figures.
func (c Correction) Check() error {
	if len(c.Points) > 0 && c.Offset != 0 {
		return fmt.Errorf("a correction is an offset or points, not both")
	}
	if len(c.Points) > MaxPoints {
		return fmt.Errorf("%d points are more than %d", len(c.Points), MaxPoints)
	}
	if err := checkOffset(c.Offset, ""); err != nil {
		return err
	}
	for i, p := range c.Points {
		if math.IsInf(float64(p.Reads), 0) {
			return fmt.Errorf("a point at %g °C is no point", float64(p.Reads))
		}
		at := fmt.Sprintf(" (reads %s; is %s)", both(p.Reads), both(p.Is))
		if err := checkOffset(p.Is.Sub(p.Reads), at); err != nil {
			return err
		}
		if i == 0 {
			continue
		}
		before := c.Points[i-1]
		if !(p.Reads.Sub(before.Reads) >= MinApart-rounding) {
			return fmt.Errorf("points rise by at least %s: %s does not come so far after %s",
				bothDelta(MinApart), both(p.Reads), both(before.Reads))
		}
		if !(p.Is > before.Is) {
			return fmt.Errorf("a reading of %s would become %s, and a hotter one of %s only %s: "+
				"no correction turns hotter into colder", both(before.Reads), both(before.Is),
				both(p.Reads), both(p.Is))
		}
	}
	return nil
}

func checkOffset(d temp.Delta, at string) error {
	if d >= -MaxOffset-rounding && d <= MaxOffset+rounding {
		return nil
	}
	return fmt.Errorf("%s%s is more than a correction can be, which is %s: look for another "+
		"thermocouple type, a wrong unit or a fault", bothDelta(d), at, bothDelta(MaxOffset))
}

// both writes a temperature in both units, because an error knows no shop.
func both(c temp.C) string {
	return c.Text(temp.Celsius, 1) + ", " + c.Text(temp.Fahrenheit, 1)
}

func bothDelta(d temp.Delta) string {
	return d.Text(temp.Celsius, 1) + ", " + d.Text(temp.Fahrenheit, 1)
}
