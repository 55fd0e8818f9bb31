package main

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"strawline/probe/temp"
	"strawline/profiles"
	"strawline/profiles/steel"
)

// hrcValue is a Rockwell hardness: "60HRC".
type hrcValue struct {
	hrc   float64
	given bool
}

func (v *hrcValue) Type() string { return "hardness" }

func (v *hrcValue) String() string {
	if v == nil || !v.given {
		return ""
	}
	return fmt.Sprintf("%gHRC", v.hrc)
}

// Set reads the hardness with its unit.
func (v *hrcValue) Set(s string) (err error) {
	v.hrc, err = steel.ParseHRC(s)
	v.given = err == nil
	return err
}

// temperFlags are the options of `steel temper`.
type temperFlags struct {
	at       tempValue
	want     hrcValue
	span     spanValue
	times    int
	quenched hrcValue
	json     bool
}

const temperLong = `Says how hard a fully hardened steel is after a temper, with its band, or which
temper gives a wanted hardness. Outside what was measured it says so.

  strawline steel temper 1084 --at 400F --for 2h
  strawline steel temper 1084 --want 60HRC --for 2h --times 2

Tempers at one temperature count as one long one. --quenched is the hardness that you
measured after the quench; without it the band is wider.`

func newSteelTemper(h *host) *cobra.Command {
	f := temperFlags{span: spanValue{d: 2 * time.Hour}}
	cmd := &cobra.Command{
		Use:   "temper NAME",
		Short: "say how hard a steel is after a temper, or which temper gives a hardness",
		Long:  temperLong,
		Args:  exactly("the name of a steel"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if f.at.given == f.want.given {
				return usage("say either --at, a temperature, or --want, a hardness")
			}
			s, err := h.steel(cmd, args[0])
			if err != nil {
				return err
			}
			t, err := f.temper(s)
			if err != nil {
				return &fault{code: exitData, did: "temper", to: s.Name, wrong: err}
			}
			if t.shop, err = h.experienceOf(s); err != nil {
				return err
			}
			if f.json {
				return h.printJSON(t.answer())
			}
			return h.print(t.text())
		},
	}
	fs := cmd.Flags()
	fs.Var(&f.at, "at", "the temperature of the temper, such as 400F")
	fs.Var(&f.want, "want", "the hardness wanted, such as 60HRC")
	fs.Var(&f.span, "for", "how long one temper lasts, such as 2h (2h unless given)")
	fs.IntVar(&f.times, "times", 1, "how many tempers of that length, 1 to 10")
	fs.Var(&f.quenched, "quenched", "the hardness measured after the quench, such as 65HRC")
	addJSON(cmd, &f.json)
	return cmd
}

// tempered is a temper with what it gives.
type tempered struct {
	flags    *temperFlags
	steel    steel.Steel
	at       temp.C
	estimate steel.Estimate
	shop     *experience // nil below leastMeasured
}

// temper finds the hardness of the temperature, or the temperature of the hardness to 5 °F.
func (f *temperFlags) temper(s steel.Steel) (t tempered, err error) {
	t = tempered{flags: f, steel: s, at: f.at.c}
	if f.want.given {
		t.at, t.estimate, err = s.WantNear(f.want.hrc, f.span.d, f.times, f.quenched.hrc)
		return t, err
	}
	t.estimate, err = s.Tempered(t.at, f.span.d, f.times, f.quenched.hrc)
	return t, err
}

// temperAnswer is the answer of `steel temper --json`. The hardnesses are rounded as their band
// deserves.
type temperAnswer struct {
	Steel    string   `json:"steel"`
	AtC      float64  `json:"at_c"`
	ForS     float64  `json:"for_s"`
	Times    int      `json:"times"`
	WantHRC  float64  `json:"want_hrc,omitempty"`
	HRC      float64  `json:"hrc"`
	LowHRC   float64  `json:"hrc_low"`
	HighHRC  float64  `json:"hrc_high"`
	Dose     float64  `json:"dose"`
	Curve    string   `json:"curve"`
	Note     string   `json:"note,omitempty"`
	Band     string   `json:"band"`
	Supposes string   `json:"supposes"`
	Cautions []string `json:"cautions"`
	Colour   string   `json:"colour"`

	Shop *experience `json:"shop,omitempty"`
}

func (t tempered) answer() temperAnswer {
	a := temperAnswer{
		Steel: t.steel.Name, AtC: *rounded(float64(t.at), 1), ForS: t.flags.span.d.Seconds(),
		Times: t.flags.times, WantHRC: t.flags.want.hrc, Dose: *rounded(t.estimate.Dose.P, 2),
		Curve: t.estimate.Curve.Of, Note: t.estimate.Curve.Note, Band: t.estimate.Curve.Held,
		Supposes: t.supposes(),
		Cautions: append([]string{}, t.steel.Cautions(t.at)...), Colour: t.colour(),
		Shop: t.shop,
	}
	a.HRC, a.LowHRC, a.HighHRC = t.estimate.Rounded()
	return a
}

// supposes says for which blades the estimate holds.
func (t tempered) supposes() string {
	says := "a thin blade that hardened fully"
	if r := t.steel.AsQuenched; r.Known() {
		says += fmt.Sprintf(" (%s after the quench: %s)", hrcText(r.Low, r.High),
			r.Origin.Provenance)
	}
	switch {
	case t.flags.quenched.given:
		says += fmt.Sprintf(", measured as %g HRC", t.flags.quenched.hrc)
	case t.estimate.Curve.Unmeasured() > 0:
		says += fmt.Sprintf("; the band has %g HRC more on either side because nobody measured "+
			"it after the quench", t.estimate.Curve.Unmeasured())
	}
	return says
}

// hrcText writes a range of hardness.
func hrcText(low, high float64) string {
	if low == high {
		return fmt.Sprintf("%g HRC", low)
	}
	return fmt.Sprintf("%g to %g HRC", low, high)
}

// colour names the oxide's colour, with how long and on what it holds.
func (t tempered) colour() string {
	says := fmt.Sprintf("%s (%s)", steel.Words(t.at, steel.TemperColour), steel.TemperNote)
	if t.at >= 190 && t.at <= 255 { // where one of the two figures for straw is near
		says += "; " + steel.StrawNote
	}
	return says
}

func (t tempered) text() string {
	hrc, low, high := t.estimate.Rounded()
	var text strings.Builder
	if t.flags.want.given {
		fmt.Fprintf(&text, "for %g HRC temper %s ", t.flags.want.hrc, t.steel.Name)
	} else {
		fmt.Fprintf(&text, "%s tempered ", t.steel.Name)
	}
	if t.flags.times > 1 {
		fmt.Fprintf(&text, "%d times ", t.flags.times)
	}
	fmt.Fprintf(&text, "at %s for %s: %g HRC (%s)\n", bothWhole(t.at),
		profiles.SpanText(t.flags.span.d), hrc, hrcText(low, high))
	fmt.Fprintf(&text, "  curve     %s\n", t.estimate.Curve.Of)
	if t.estimate.Curve.Note != "" {
		fmt.Fprintf(&text, "            %s\n", t.estimate.Curve.Note)
	}
	fmt.Fprintf(&text, "  band      %s\n", t.estimate.Curve.Held)
	if t.shop != nil {
		fmt.Fprintf(&text, "  this shop %s\n", t.shop)
	}
	fmt.Fprintf(&text, "  supposes  %s\n", t.supposes())
	for _, c := range t.steel.Cautions(t.at) {
		fmt.Fprintf(&text, "  caution   %s\n", c)
	}
	fmt.Fprintf(&text, "  colour    %s\n", t.colour())
	return text.String()
}

// bothWhole writes a temperature in both units without decimals.
func bothWhole(c temp.C) string {
	return c.Text(temp.Fahrenheit, 0) + " (" + c.Text(temp.Celsius, 0) + ")"
}
