package steel

import (
	"math"
	"time"

	"strawline/probe/temp"
)

// HollomonJaffe is the constant C of the parameter with the time in hours. Grange and Baughman
// 1956: the best common constant for their 912 points is 18 (recomputed in a test).
const HollomonJaffe = 18.0

// Parameter is the Hollomon–Jaffe parameter P = T(C + log10 t) in thousands, with T in kelvins,
// t in hours and C = 18: 2 h at 400 °F are 8.74. It is 0 for no time at all.
func Parameter(at temp.C, span time.Duration) float64 {
	if span <= 0 || !sound(at) {
		return 0
	}
	return kelvins(at) * (HollomonJaffe + math.Log10(span.Hours())) / 1000
}

// Dose is the tempering that steel has had so far. The zero value is none.
type Dose struct {
	P       float64 // Hollomon–Jaffe parameter in thousands; 0 for none
	Hottest temp.C  // the highest temperature that has counted; 0 for none
}

// Soaked is the dose of one soak.
func Soaked(at temp.C, span time.Duration) Dose { return Dose{}.Add(at, span) }

// Add gives the dose after a further span at one temperature. The time t0 that would have given
// the same P at this temperature is taken as already spent, so that P = T(C + log10(t0 + span)):
// it does not matter how a path is cut. A span of 0 or less and a temperature that is no number
// or not above absolute zero add nothing.
func (d Dose) Add(at temp.C, span time.Duration) Dose {
	if span <= 0 || !sound(at) {
		return d
	}
	if d.P == 0 {
		return Dose{P: Parameter(at, span), Hottest: at}
	}
	k, now := kelvins(at)/1000, math.Log10(span.Hours())
	spent := d.P/k - HollomonJaffe // log10 of t0, which itself overflows for a cold blade
	if more := now - spent; more > 0 {
		d.P = k * (HollomonJaffe + now + math.Log1p(math.Pow(10, -more))/math.Ln10)
	} else {
		d.P += k * math.Log1p(math.Pow(10, more)) / math.Ln10
	}
	d.Hottest = max(d.Hottest, at)
	return d
}

// mostPieces bounds what one Ramp can cost.
const mostPieces = 2000

// Ramp gives the dose after a span in which the temperature changed evenly: what lies between
// two samples.
func (d Dose) Ramp(from, to temp.C, span time.Duration) Dose {
	if span <= 0 || !sound(from) || !sound(to) {
		return d
	}
	// In pieces of 1 °C the middle's temperature stands for the piece within 0.0001 of P.
	n := min(max(1, int(math.Ceil(math.Abs(float64(to-from))))), mostPieces)
	rise, done := to.Sub(from), time.Duration(0)
	for i := range n {
		share := (float64(i) + 0.5) / float64(n)
		until := time.Duration(float64(span) * float64(i+1) / float64(n))
		d = d.Add(from.Add(rise*temp.Delta(share)), until-done)
		done = until
	}
	return d
}

// Hours is how long a soak at one temperature gives the same dose; 0 for none. It is infinite
// where the temperature is far too low.
func (d Dose) Hours(at temp.C) float64 {
	if d.P == 0 || !sound(at) {
		return 0
	}
	return math.Pow(10, d.P*1000/kelvins(at)-HollomonJaffe)
}

// Like is the temperature at which a soak of this span gives the same dose: "like 2 h at
// 403 °F". It is absolute zero for no dose.
func (d Dose) Like(span time.Duration) temp.C {
	if d.P <= 0 || span <= 0 {
		return temp.Zero
	}
	return temp.Zero.Add(temp.Delta(1000 * d.P / (HollomonJaffe + math.Log10(span.Hours()))))
}

// RampHours is the time at t that a steady rise to t in kelvins an hour is worth, by the closed
// form T/(2.3 h (C − log10 h)) for the constant c; an industrial note prints it. It is about a
// tenth too long, and so small that a person need not think of the rise at all.
func RampHours(to temp.C, kelvinsPerHour, c float64) float64 {
	return kelvins(to) / (math.Ln10 * kelvinsPerHour * (c - math.Log10(kelvinsPerHour)))
}

func kelvins(t temp.C) float64 { return float64(t - temp.Zero) }

// sound reports whether t is a temperature above absolute zero.
func sound(t temp.C) bool { return t > temp.Zero && !math.IsInf(float64(t), 0) }
