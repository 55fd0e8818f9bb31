package main

import (
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"strawline/probe/temp"
	"strawline/profiles/steel"
)

func newSteelShow(h *host) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show NAME",
		Short: "show a steel's figures and where each comes from",
		Args:  exactly("the name of a steel"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := h.steel(cmd, args[0])
			if err != nil {
				return err
			}
			x, err := h.experienceOf(s)
			if err != nil {
				return err
			}
			if asJSON {
				return h.printJSON(steelAnswer(s, x))
			}
			text := steelText(s)
			if x != nil {
				text += "    this shop: " + x.String() + "\n"
			}
			return h.print(text)
		},
	}
	addJSON(cmd, &asJSON)
	return cmd
}

// steelFigure is one figure of a steel as a person reads it and with its origin.
type steelFigure struct {
	Name       string  `json:"name"`
	Says       string  `json:"says"`
	AtC        float64 `json:"at_c,omitempty"`
	LowC       float64 `json:"low_c,omitempty"`
	HighC      float64 `json:"high_c,omitempty"`
	Provenance string  `json:"provenance"`
	Detail     string  `json:"detail,omitempty"`
	Source     string  `json:"source,omitempty"`
	Confidence string  `json:"confidence,omitempty"`

	origin steel.Origin
}

func figureOf(name, says string, o steel.Origin) steelFigure {
	return steelFigure{Name: name, Says: says, Provenance: o.Provenance, Detail: o.Detail,
		Source: o.Source, Confidence: o.Confidence, origin: o}
}

// tempsFigure writes a temperature with its range.
func tempsFigure(name string, t steel.Temps) steelFigure {
	says := ""
	if t.At != 0 {
		says = steel.About(t.At)
	}
	if t.High != 0 {
		span := steel.About(t.Low) + " to " + steel.About(t.High)
		if says == "" {
			says = span
		} else {
			says += ", from " + span
		}
	}
	f := figureOf(name, says, t.Origin)
	f.AtC, f.LowC, f.HighC = float64(t.At), float64(t.Low), float64(t.High)
	return f
}

// steelFigures gives all figures of a steel that are known, in the order of the work.
func steelFigures(s steel.Steel) []steelFigure {
	var list []steelFigure
	if s.Makeup.Typical.C > 0 {
		list = append(list, figureOf("composition", makeupText(s.Makeup), s.Makeup.Origin))
	}
	add := func(name string, t steel.Temps) {
		if t.Known() {
			list = append(list, tempsFigure(name, t))
		}
	}
	add("normalise", s.Normalise)
	if len(s.Cycle.At) > 0 {
		var heats []string
		for _, at := range s.Cycle.At {
			heats = append(heats, steel.About(at))
		}
		list = append(list, figureOf("shop's normalising heats", strings.Join(heats, ", then "),
			s.Cycle.Origin))
	}
	add("preheat", s.Preheat)
	add("harden", s.Harden)
	if s.Soak.Known() {
		list = append(list, figureOf("soak there", spanText(s.Soak)+" min", s.Soak.Origin))
	}
	if s.Quench.Medium != "" {
		says := s.Quench.Medium
		if s.Quench.Class != "" {
			says += "; class: " + s.Quench.Class
		}
		list = append(list, figureOf("quench", says, s.Quench.Origin))
	}
	if s.AsQuenched.Known() {
		list = append(list, figureOf("after the quench", spanText(s.AsQuenched)+" HRC",
			s.AsQuenched.Origin))
	}
	add("temper", s.Temper)
	add("usual temper", s.Usual)
	add("martensite start, measured", s.MsMeasured)
	add("critical temperature Ac1", s.Ac1)
	return append(list, computedFigures(s)...)
}

func spanText(r steel.Range) string {
	if r.Low == r.High {
		return fmt.Sprintf("%g", r.Low)
	}
	return fmt.Sprintf("%g to %g", r.Low, r.High)
}

// fives rounds a temperature to 5 °C, and writes it so in both units.
func fives(c temp.C) string { return steel.About(temp.C(math.Round(float64(c)/5) * 5)) }

// computedFigures are those that formulas give of the typical composition.
func computedFigures(s steel.Steel) []steelFigure {
	low, high, why, is := s.MsRange()
	if !is {
		return nil
	}
	computed := func(source, detail string) steel.Origin {
		return steel.Origin{Source: source, Provenance: "computed", Detail: detail}
	}
	c := s.Makeup.Typical
	others := c.MsOthers()
	least, most := others[0].At, others[0].At
	for _, o := range others {
		least, most = min(least, o.At), max(most, o.At)
	}
	ms := figureOf("martensite start", fives(low)+" to "+fives(high), computed("van Bohemen 2012, "+
		"± 20 °C", strings.TrimPrefix(why+fmt.Sprintf("; with all of it dissolved, %d other "+
		"formulas give %.0f to %.0f °C", len(others), float64(least), float64(most)), "; ")))
	ms.LowC, ms.HighC = *rounded(float64(low), 0), *rounded(float64(high), 0)
	stays := figureOf("austenite that stays at 25 °C", fmt.Sprintf("%.0f to %.0f %%",
		100*(1-steel.Martensite(high, 25)), 100*(1-steel.Martensite(low, 25))),
		computed("Koistinen and Marburger 1959", ""))
	list := []steelFigure{ms, stays}
	if !s.Ac1.Known() {
		list = append(list, critical("critical temperature Ac1", c.Ac1(), steel.Ac1SD, "Andrews 1965"))
	}
	if at, is := c.Ac3(); is {
		list = append(list, critical("critical temperature Ac3", at, steel.Ac3SD,
			"Andrews 1965, short form"))
	}
	return list
}

func critical(name string, at temp.C, sd temp.Delta, source string) steelFigure {
	f := figureOf(name, fives(at), steel.Origin{Source: source, Provenance: "computed",
		Detail: fmt.Sprintf("standard deviation %.0f °C, from memory", float64(sd))})
	f.AtC = *rounded(float64(at), 0)
	return f
}

// makeupText writes a composition: the range of the grade, and what is typical.
func makeupText(m steel.Makeup) string {
	var parts []string
	for _, e := range []struct {
		name               string
		typical, low, high float64
	}{
		{"C", m.Typical.C, m.Least.C, m.Most.C}, {"Mn", m.Typical.Mn, m.Least.Mn, m.Most.Mn},
		{"Si", m.Typical.Si, m.Least.Si, m.Most.Si}, {"Cr", m.Typical.Cr, m.Least.Cr, m.Most.Cr},
		{"Ni", m.Typical.Ni, m.Least.Ni, m.Most.Ni}, {"Mo", m.Typical.Mo, m.Least.Mo, m.Most.Mo},
		{"V", m.Typical.V, m.Least.V, m.Most.V}, {"W", m.Typical.W, m.Least.W, m.Most.W},
	} {
		switch {
		case e.high > 0 && e.low < e.high:
			parts = append(parts, fmt.Sprintf("%s %.2f–%.2f", e.name, e.low, e.high))
		case e.typical > 0:
			parts = append(parts, fmt.Sprintf("%s %.2f", e.name, e.typical))
		}
	}
	return strings.Join(parts, ", ") + " %"
}

// steelAnswer is the answer of `steel show --json`.
func steelAnswer(s steel.Steel, x *experience) any {
	line := steelLines([]steel.Steel{s})
	return struct {
		steelLine
		Advice  string        `json:"advice,omitempty"`
		Figures []steelFigure `json:"figures"`
		Shop    *experience   `json:"shop,omitempty"`
	}{lineOfSteel(s, line), s.Advice(), steelFigures(s), x}
}

// lineOfSteel finds the line of a steel among those of the list.
func lineOfSteel(s steel.Steel, lines []steelLine) steelLine {
	for _, l := range lines {
		if l.Name == s.Name {
			return l
		}
	}
	return steelLine{Name: s.Name}
}

func steelText(s steel.Steel) string {
	var text strings.Builder
	text.WriteString(s.Name)
	if s.Base != "" {
		text.WriteString(", yours, like " + s.Base)
	}
	text.WriteString("\n")
	for _, says := range []string{s.Unfit(), s.Advice()} {
		if says != "" {
			text.WriteString(says + "\n")
		}
	}
	for _, f := range steelFigures(s) {
		fmt.Fprintf(&text, "\n%s: %s\n    %s\n", f.Name, f.Says, f.origin)
	}
	if c, err := s.Curve(); err == nil {
		fmt.Fprintf(&text, "\nhardness after tempering: %s\n", c.Of)
		if c.Note != "" {
			fmt.Fprintf(&text, "    %s\n", c.Note)
		}
		fmt.Fprintf(&text, "    strawline steel temper %s --at 400F --for 2h says it\n", s.Name)
	} else {
		fmt.Fprintf(&text, "\nhardness after tempering: %s\n", err)
	}
	return text.String()
}
