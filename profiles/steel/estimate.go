package steel

import (
	"fmt"
	"math"
	"time"

	"strawline/probe/temp"
)

// Estimate is a hardness as the curve has it, with its band.
type Estimate struct {
	HRC   float64 // the middle of the curve
	Band  float64 // half width, HRC
	Curve Curve   // whose hardness it is
	Dose  Dose
}

// Rounded gives middle, low and high with no more digits than the band deserves: the middle to
// the nearest Step, the ends to the Step outside.
func (e Estimate) Rounded() (hrc, low, high float64) {
	step := Step(e.Band)
	const slip = 1e-9
	return math.Round(e.HRC/step) * step,
		math.Floor((e.HRC-e.Band)/step+slip) * step,
		math.Ceil((e.HRC+e.Band)/step-slip) * step
}

// After estimates the hardness of the steel, fully hardened, after a dose. quenched is its
// hardness after the quench in HRC if that was measured, 0 if not, which widens the band. It is
// an error outside what was measured, for a steel that nobody measured, and for a blade that did
// not harden.
func (s Steel) After(d Dose, quenched float64) (Estimate, error) {
	c, err := s.Curve()
	if err != nil {
		return Estimate{}, err
	}
	if err := s.hardened(quenched); err != nil {
		return Estimate{}, err
	}
	if err := c.Inside(d); err != nil {
		return Estimate{}, err
	}
	e := Estimate{HRC: c.HRC(d), Band: c.Band(d), Curve: c, Dose: d}
	if quenched == 0 {
		e.Band += c.Unmeasured()
	}
	return e, nil
}

// hardened says that a blade is too soft after the quench for any curve: one that hardened in
// part tempers to anything. 2 HRC below the steel's range is our own limit.
func (s Steel) hardened(quenched float64) error {
	r := s.AsQuenched
	if quenched == 0 || !r.Known() || quenched >= r.Low-2 {
		return nil
	}
	return fmt.Errorf("%.3g HRC after the quench is not fully hardened %s (%g to %g): no curve "+
		"holds for it", quenched, s.Name, r.Low, r.High)
}

// soakTime checks that times soaks of one span are within what was measured, and adds them up:
// tempers at one temperature count as one long one.
func soakTime(span time.Duration, times int) (time.Duration, error) {
	if times < 1 || times > 10 {
		return 0, fmt.Errorf("%d tempers are outside 1 to 10", times)
	}
	if span < Shortest || span > Longest/time.Duration(times) {
		return 0, fmt.Errorf("tempers from %.0f s to %.0f h in all were measured, not shorter or "+
			"longer", Shortest.Seconds(), Longest.Hours())
	}
	return span * time.Duration(times), nil
}

// Tempered is After for so many soaks of one span at one temperature.
func (s Steel) Tempered(at temp.C, span time.Duration, times int, quenched float64) (Estimate,
	error) {
	whole, err := soakTime(span, times)
	if err != nil {
		return Estimate{}, err
	}
	return s.After(Soaked(at, whole), quenched)
}

// Want finds the temperature at which so many soaks of one span give a hardness on the middle of
// the curve. An error says which hardnesses can be had.
func (s Steel) Want(hrc float64, span time.Duration, times int, quenched float64) (temp.C,
	error) {
	whole, err := soakTime(span, times)
	if err != nil {
		return 0, err
	}
	c, err := s.Curve()
	if err != nil {
		return 0, err
	}
	if err := s.hardened(quenched); err != nil {
		return 0, err
	}
	low := max(Coldest, Dose{P: c.low}.Like(whole))
	high := min(Hottest, Dose{P: c.high}.Like(whole))
	if low > high {
		return 0, fmt.Errorf("no temper of this length was measured")
	}
	at := func(t temp.C) float64 { return c.HRC(Soaked(t, whole)) }
	if hard, soft := at(low), at(high); hrc > hard || hrc < soft {
		return 0, fmt.Errorf("a temper from %s to %s gives %s from %.0f down to %.0f HRC; nothing "+
			"was measured outside", both(low), both(high), s.Name, hard, soft)
	}
	for range 60 { // halving 260 °C so often leaves nothing
		if mid := (low + high) / 2; at(mid) > hrc {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2, nil
}

// WantNear is Want to the 5 °F that an oven and a person can set, and what it gives: ten of them
// are worth less than half an HRC, and every band is wider.
func (s Steel) WantNear(hrc float64, span time.Duration, times int, quenched float64) (temp.C,
	Estimate, error) {
	exact, err := s.Want(hrc, span, times, quenched)
	if err != nil {
		return 0, Estimate{}, err
	}
	fives := exact.F() / 5
	for _, n := range []float64{math.Round(fives), math.Floor(fives), math.Ceil(fives)} {
		at := temp.F(5 * n) // the next one down or up where the measurements end between
		var e Estimate
		if e, err = s.Tempered(at, span, times, quenched); err == nil {
			return at, e, nil
		}
	}
	return 0, Estimate{}, err
}

// Cautions says what else a temper at a temperature brings; nothing if nothing. Sources name 200
// to 400 °C as where tempering makes steel brittle whatever its hardness; a caution from 450 °F
// and a warning from 500 to 700 °F are our choice among them.
func (s Steel) Cautions(at temp.C) []string {
	var says []string
	switch f := at.F(); {
	case f >= 500-1e-9 && f <= 700+1e-9:
		says = append(says, "500 to 700 °F (260 to 370 °C) makes steel brittle for its hardness: "+
			"stay below, or take a steel that is softer at 450 °F")
	case f > 450+1e-9:
		says = append(says, "above 450 °F (232 °C) tempering begins to make steel brittle for "+
			"its hardness")
	}
	if len(says) > 0 && s.grade() == "L6" {
		says = append(says, "L6 is said to escape that from 450 to 800 °F (not confirmed)")
	}
	if t := s.Temper; t.Known() && (at < t.Low-3 || at > t.High+3) {
		says = append(says, fmt.Sprintf("%s is usually tempered from %s to %s (%s)", s.Name,
			About(t.Low), About(t.High), t.Origin.Provenance))
	}
	return says
}
