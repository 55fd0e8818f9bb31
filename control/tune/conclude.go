package tune

import (
	"fmt"
	"slices"
)

// Verdict is what a record comes to: the model, and the gains to offer for it.
type Verdict struct {
	Found
	Noise  Noise
	Window float64 // s over which the heater's duty is spread; 0 for none
	Scene  Scene   // what the predictions play
	Best   Choice
	Bolder Choice
	Calmer Choice
}

// Conclude identifies from a record and recommends gains for a heater's window, s. The error
// says why the record carries no model, or why no gains are calm enough for it.
func Conclude(r Record, window float64) (Verdict, error) {
	f, err := Identify(r)
	if err != nil {
		return Verdict{}, err
	}
	if f.Test == "relay test" {
		if cold, err := ColdStart(r); err == nil {
			f = surer(f, cold)
		}
	}
	v := Verdict{Found: f, Window: window, Noise: Noise{Sigma: f.Sigma, Every: r.every()},
		Scene: DefaultScene(f.Model)}
	v.Best, v.Bolder, v.Calmer, err = Recommend(f.Model, v.Noise, window)
	if err != nil {
		return Verdict{}, fmt.Errorf("no gains follow from the model: %w", err)
	}
	return v, nil
}

// unsure is the share of the slope that swings must tell it to, or what the heat-up before them
// told is taken if it is surer: gains stay calm where the slope is wrong by 30 %. Our choice.
const unsure = 0.2

// surer gives what the swings told, or in its place what the heat-up told. Of swings that are
// small beside the noise, a fit may keep one lag for two and miss the slope by a quarter.
func surer(swings, cold Found) Found {
	width := func(f Found) float64 { return f.Model.Half.Slope / f.Model.Slope() }
	if width(swings) > unsure && width(cold) < width(swings) {
		return cold
	}
	return swings
}

// Table judges every rule for the model that was found.
func (v Verdict) Table() []Report { return Table(v.Model, v.Noise, v.Window, v.Scene) }

// every is the usual time between two samples, s.
func (r Record) every() float64 {
	if len(r) < 2 {
		return 0
	}
	gaps := make([]float64, len(r)-1)
	for i := range gaps {
		gaps[i] = r[i+1].T - r[i].T
	}
	slices.Sort(gaps)
	return gaps[len(gaps)/2]
}

// Fit says how a model that is known stands to what a run showed.
type Fit struct {
	Known, Seen float64 // slopes, °C/s for the whole duty
	KnownLag    float64 // s
	SeenLag     float64
	Fits        bool
	Text        string // one sentence
}

// How far a run's own model may be from the known one. Recommended gains stay calm where slope
// or lag is wrong by 30 %; a lag is told less surely than a slope, and each form of a model counts
// it a little differently. Our choices.
const (
	slopeApart = 0.25 // of the known slope, beyond the widths of both
	lagApart   = 0.5  // of the known lag, likewise
)

// Compare holds a model that is known against what a run showed, with the widths of both.
func Compare(known, seen Model) Fit {
	f := Fit{Known: known.Slope(), Seen: seen.Slope(), KnownLag: known.Lag(), SeenLag: seen.Lag(),
		Fits: true}
	room := slopeApart*f.Known + known.Half.Slope + seen.Half.Slope
	late := lagApart*f.KnownLag + known.Half.L + seen.Half.L + known.Half.T2 + seen.Half.T2
	what := ""
	switch d, l := f.Seen-f.Known, f.SeenLag-f.KnownLag; {
	case d < -room:
		what = "it heats more slowly: a weaker element, less voltage, or more inside?"
	case d > room:
		what = "it heats faster: a new element, or less inside?"
	case l > late:
		what = "it answers later: was the probe moved, or is it thicker?"
	case l < -late:
		what = "it answers sooner: was the probe moved?"
	}
	if what == "" {
		f.Text = fmt.Sprintf("the oven answered as its model says (%.2f °C/s at full heat, "+
			"model %.2f)", f.Seen, f.Known)
		return f
	}
	f.Fits = false
	f.Text = fmt.Sprintf("the oven no longer answers as its model says (%.2f °C/s at full heat "+
		"after %.0f s, model %.2f after %.0f s): %s", f.Seen, f.SeenLag, f.Known, f.KnownLag, what)
	return f
}
