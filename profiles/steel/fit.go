package steel

import (
	"fmt"
	"math"
	"time"

	"strawline/probe/temp"
)

// Fit finds what an oven's air gives a blade from a record of both: the convection of the model
// of a blade, by least squares. It takes spans of FitSpan: what the plate took up in one, less
// what the walls radiate to it, is the convection times the mean lag times the span. The zero
// value has none. Walls that are colder than the air while an oven heats make it less: it is
// what this model needs in this oven, not a property of its air.
type Fit struct {
	n             int
	xx, xy, yy    float64 // sums of squares and products; J/m² and K s
	has           bool
	air, blade    temp.C // of the last reading
	began         temp.C // the blade when the span began
	at, since     time.Duration
	lag, radiates float64 // of this span so far
}

// Rules of a Fit; our choice.
const (
	FitSpan   = time.Minute
	fitApart  = 10 * time.Second // readings further apart begin a new span
	fitLag    = 10.0             // K, the least mean lag of a span that says anything
	fitLeast  = 10               // spans
	fitWithin = 0.2              // of the convection, the widest half of a confidence interval
	fitLow    = 1.0              // W/(m² K): what air can give a blade
	fitHigh   = 100.0
)

// fitStudent is Student's t for 95 % and nine degrees of freedom; more spans have less.
const fitStudent = 2.262

// Add takes a reading of the air and of the blade at a time; p is the blade.
func (f *Fit) Add(p Plate, air, blade temp.C, at time.Duration) {
	span := (at - f.at).Seconds()
	if !f.has || at <= f.at || at-f.at > fitApart || !sound(air) || !sound(blade) {
		f.Break()
		f.has = sound(air) && sound(blade)
		f.air, f.blade, f.began, f.at, f.since = air, blade, blade, at, at
		return
	}
	fourth := func(t temp.C) float64 { k := kelvins(t); return k * k * k * k }
	f.lag += span * float64(f.air-f.blade+air-blade) / 2
	f.radiates += span * p.Emissivity * boltzmann *
		(fourth(f.air) - fourth(f.blade) + fourth(air) - fourth(blade)) / 2
	f.air, f.blade, f.at = air, blade, at
	if whole := at - f.since; whole >= FitSpan {
		if math.Abs(f.lag)/whole.Seconds() >= fitLag {
			x := f.lag
			y := p.Density*p.Heat*p.Thick/2*float64(blade-f.began) - f.radiates
			f.n, f.xx, f.xy, f.yy = f.n+1, f.xx+x*x, f.xy+x*y, f.yy+y*y
		}
		f.began, f.since, f.lag, f.radiates = blade, at, 0, 0
	}
}

// Break says that the blade was out, or a reading bad: the present span does not count.
func (f *Fit) Break() { f.has, f.lag, f.radiates = false, 0, 0 }

// Convection gives the convection in W/(m² K) with the half width of its interval of 95 %
// confidence. It is an error where the record cannot carry one: too few minutes in which the
// blade lagged, too wide an interval, or a figure that no air gives.
func (f *Fit) Convection() (w, within float64, err error) {
	if f.n < fitLeast {
		return 0, 0, fmt.Errorf("the blade lagged by %.0f °C or more for %d min; %d are needed",
			fitLag, f.n, fitLeast)
	}
	w = f.xy / f.xx
	left := max(0, f.yy-w*f.xy)
	within = fitStudent * math.Sqrt(left/float64(f.n-1)/f.xx)
	switch {
	case !(w >= fitLow && w <= fitHigh):
		return 0, 0, fmt.Errorf("%.1f W/(m² K) is not what air gives a blade (%.0f to %.0f): is the "+
			"probe at the blade, and its thickness right?", w, fitLow, fitHigh)
	case within > fitWithin*w:
		return 0, 0, fmt.Errorf("%.1f ± %.1f W/(m² K) is too wide to be kept", w, within)
	}
	return w, within, nil
}
