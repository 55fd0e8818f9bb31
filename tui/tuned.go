package tui

import (
	"fmt"
	"math"
	"strings"

	"strawline/control"
	"strawline/control/tune"
	"strawline/probe/temp"
)

// Tuned is what a tuning test came to, as its last screen shows it.
type Tuned struct {
	tune.Verdict
	Rules []tune.Report // what every rule makes of the model
}

// VerdictLines says what a tuning test or a recorded run came to, in lines that keep their form:
// the model with how sure each figure is, the noise, and the gains that are recommended, bolder
// and calmer, each with its reason, margins and what the model predicts.
func VerdictLines(v tune.Verdict, u temp.Unit) []string {
	out := []string{
		fmt.Sprintf("model: %s, from a %s", v.Model.Kind, v.Test),
		"  " + modelFigures(v.Model, u),
		fmt.Sprintf("  the model misses the readings by %s rms; one reading is uncertain by %s",
			small(v.Misfit, u), small(v.Sigma, u)),
	}
	out = append(out, "predicted below: what the gains alone do; landing and the open-door state "+
		"do better")
	for _, c := range []struct {
		name string
		tune.Choice
	}{{"recommended", v.Best}, {"bolder", v.Bolder}, {"calmer", v.Calmer}} {
		out = append(out, c.name+": "+tunedGains(c.Gains, u), "  "+because(c.Choice),
			"  margins: "+marginWords(c.Margins), "  predicted: "+predictWords(c.Report, u))
	}
	return out
}

// because gives a choice's reason without the word that names the choice.
func because(c tune.Choice) string {
	_, why, _ := strings.Cut(c.Reason, ": ")
	return "why: " + why
}

// TableLines says what every rule makes of the model, with what speaks against it.
func TableLines(rules []tune.Report, u temp.Unit) []string {
	out := []string{"every rule, for this model:"}
	for _, r := range rules {
		if !r.OK {
			out = append(out, r.Name+": none: "+strings.TrimPrefix(r.Why, "tune: "))
			continue
		}
		out = append(out, r.Name+": "+tunedGains(r.Gains, u), "  margins: "+marginWords(r.Margins),
			"  predicted: "+predictWords(r, u))
		if r.Warning != "" {
			out = append(out, "  warning: "+r.Warning)
		}
	}
	return out
}

// TunedGains gives the gains of a choice as a run takes them.
func TunedGains(g tune.Gains, from string) control.Gains {
	return control.Gains{Kp: g.K, TiS: g.Ti, TdS: g.Td, Weight: g.B, From: from}
}

func tunedGains(g tune.Gains, u temp.Unit) string {
	c := TunedGains(g, "")
	return gainsFigures(&c, u)
}

// small writes a difference with two digits behind the point.
func small(c float64, u temp.Unit) string {
	if u == temp.Fahrenheit {
		c *= 1.8
	}
	return fmt.Sprintf("%.2f %s", c, u)
}

// modelFigures writes the figures that a model has, each with half the width of its 95 %
// interval where it was fitted.
func modelFigures(m tune.Model, u temp.Unit) string {
	scale := 1.0
	if u == temp.Fahrenheit {
		scale = 1.8
	}
	give := func(label string, x, half float64, unit string, digits int) string {
		s := fmt.Sprintf("%s %.*f", label, digits, x)
		if half > 0 {
			s += fmt.Sprintf(" ± %.1g", half)
			if half >= 10 {
				s = fmt.Sprintf("%s %.*f ± %.0f", label, digits, x, half)
			}
		}
		return s + " " + unit
	}
	h := m.Half
	parts := []string{give("slope", m.Slope()*scale, h.Slope*scale, u.String()+"/s at full heat", 3)}
	if m.Kind != tune.Integrating && (Untold(m.K, h.K) || Untold(m.T, h.T)) {
		parts = append(parts, "where it would end is not told")
	} else if m.Kind != tune.Integrating {
		parts = append(parts, give("rise", m.K*scale, h.K*scale, u.String(), 0),
			give("time constant", m.T, h.T, "s", 0))
	}
	if m.Kind == tune.Second {
		parts = append(parts, give("second", m.T2, h.T2, "s", 1))
	}
	return strings.Join(append(parts, give("dead time", m.L, h.L, "s", 1)), ", ")
}

// Untold says that a figure's 95 % interval, given by half its width, is as wide as the figure or
// more: then the record does not tell it.
func Untold(x, half float64) bool { return half >= x/2 }

func marginWords(m tune.Margins) string {
	if !m.Stable {
		return "none: it swings by itself"
	}
	some := func(x float64, format string) string {
		if math.IsInf(x, 0) {
			return "no end"
		}
		return fmt.Sprintf(format, x)
	}
	return fmt.Sprintf("sensitivity peak %.2f, gain %s, phase %s, delay %s", m.Ms,
		some(m.GM, "%.1f times"), some(m.PM, "%.0f°"), some(m.Delay, "%.0f s"))
}

func predictWords(r tune.Report, u temp.Unit) string {
	if !r.Predicted {
		return "nothing: " + strings.TrimPrefix(r.Why, "tune: ")
	}
	settled := func(x tune.Response) string {
		if !x.Settled {
			return "does not settle"
		}
		return fmt.Sprintf("settled after %.0f s", x.Settle)
	}
	cold, door := r.Prediction.Cold, r.Prediction.Door
	return fmt.Sprintf("heat-up %s over, %s; opened door %s over, %s; noise moves it %s rms",
		small(cold.Over, u), settled(cold), small(door.Over, u), settled(door), small(r.Wander, u))
}
