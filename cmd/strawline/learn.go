package main

import (
	"strings"

	"strawline/control"
	"strawline/control/tune"
)

// knownModel gives the model that a run was given, for a comparison. How sure its figures are was
// not kept.
func knownModel(i *control.ModelInfo) tune.Model {
	if i.RiseC > 0 && i.TimeS > 0 {
		m := tune.Model{Kind: tune.First, K: i.RiseC, T: i.TimeS, T2: i.SecondS, L: i.DeadS}
		if m.T2 > 0 {
			m.Kind = tune.Second
		}
		return m
	}
	return tune.Model{Kind: tune.Integrating, Kv: i.SlopeCS, L: i.DeadS + i.SecondS}
}

// learned says in one line what a run showed of its oven, where a person can do something about
// it: that the model no longer fits, or that there is none yet and this run carries one. "" where
// the run shows nothing or all is well. It changes nothing.
func learned(info control.Info, records []control.Record, path string) string {
	if info.Shop.NoHeater || info.Test != nil || info.Simulated && info.Model == nil {
		return ""
	}
	// Only a heat-up at constant duty is the same test in every run; a blade and a door are none.
	seen, err := tune.ColdStart(control.NewEvidence(info, records, decoders()...).Record)
	if err != nil {
		return ""
	}
	if info.Model == nil {
		return "this run's heat-up shows how " + info.Shop.Oven + " answers: strawline tune --from " +
			path + " says what gains follow, and keeps them with --keep"
	}
	fit := tune.Compare(knownModel(info.Model), seen.Model)
	if fit.Fits {
		return ""
	}
	again := "strawline tune --oven " + info.Shop.Oven
	if info.Simulated {
		again = "strawline tune"
	}
	return fit.Text + " test it again: " + again + "; the gains stay as they are"
}

// learnedOf gives the line of learned for a run file, and nothing where the file
// cannot be read: the run itself told what is wrong with it.
func (h *host) learnedOf(path string) string {
	info, records, err := readRun(path)
	if err != nil {
		return ""
	}
	return strings.TrimSpace(learned(info, records, path))
}
