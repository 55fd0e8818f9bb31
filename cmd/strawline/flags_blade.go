package main

import (
	"strings"

	"github.com/spf13/pflag"

	"strawline/control"
)

// bladeFlags are the options that describe the blade of a run.
type bladeFlags struct {
	text     string
	steel    string
	thick    lengthValue
	finish   wordValue
	fan      bool
	quenched hrcValue
}

// register adds the options to a command's.
func (f *bladeFlags) register(fs *pflag.FlagSet) {
	f.finish.allowed = []string{control.FinishOxidised, control.FinishBright}
	if f.finish.word == "" {
		f.finish.word = control.FinishOxidised
	}
	fs.StringVar(&f.text, "blade", f.text, "what the blade is, in your words")
	fs.StringVar(&f.steel, "steel", f.steel, "its steel; strawline steel list has them")
	fs.Var(&f.thick, "thick", "its thickness: 4mm, 0.16in or 3/16in")
	fs.Var(&f.finish, "finish", "its surface: oxidised (oil-black too) or bright")
	fs.BoolVar(&f.fan, "fan", false, "the oven moves its air with a fan")
	fs.Var(&f.quenched, "quenched", "the hardness measured after the quench, such as 65HRC")
}

// info gives the blade that the options describe in an oven of which of is known; nil if they
// describe none. A steel of the person's own goes by the figures of the one it is like.
func (f *bladeFlags) info(h *host, of *control.BladeInfo) *control.BladeInfo {
	if f.text == "" && f.steel == "" && !f.thick.given {
		return nil
	}
	var b control.BladeInfo
	if of != nil {
		b = *of
	}
	b.Text, b.Steel, b.ThickMM = f.text, f.steel, f.thick.mm
	b.QuenchedHRC, b.Fan = f.quenched.hrc, b.Fan || f.fan
	if f.finish.word != control.FinishOxidised {
		b.Finish = f.finish.word
	}
	own, err := h.ownSteels()
	for _, s := range own {
		if err != nil || !strings.EqualFold(s.Name, f.steel) {
			continue
		}
		b.Steel, b.Like = s.Name, s.Base
		if s.Makeup.Typical.C > 0 {
			made := s.Makeup.Typical
			b.Makeup = &made
		}
	}
	return &b
}
