package tui

import (
	"fmt"

	"strawline/control"
	"strawline/probe/temp"
)

// loopLine says what happened to the control law, its gains and a tuning test.
func loopLine(e control.Event, u temp.Unit) string {
	switch e.Kind {
	case control.EvLaw:
		return join("law: "+e.Word, e.Text)
	case control.EvGains:
		return join("gains now "+gainsFigures(e.Gains, u), from(e.Gains),
			"before "+gainsFigures(e.Was, u), paren(e.Word))
	case control.EvDuty:
		if e.DutyPM == nil {
			return join("the law has the duty again", e.Text)
		}
		return join(fmt.Sprintf("duty by hand %.1f %%", float64(*e.DutyPM)/10), span(e), e.Text)
	case control.EvTest:
		return join("test: "+e.Word, e.Text)
	case control.EvUnlike:
		if e.Text == "" {
			return "the oven answers as its model does again"
		}
		return e.Text
	}
	return ""
}

// gainsFigures writes gains with their units; Kp is duty from 0 to 1 for a degree.
func gainsFigures(g *control.Gains, u temp.Unit) string {
	if g == nil {
		return "unknown"
	}
	kp := g.Kp
	if u == temp.Fahrenheit { // a Fahrenheit degree is smaller
		kp /= 1.8
	}
	return fmt.Sprintf("Kp %.4g/%s, Ti %.4g s, Td %.4g s, setpoint weight %.3g", kp, u, g.TiS,
		g.TdS, g.Weight)
}

func from(g *control.Gains) string {
	if g == nil {
		return ""
	}
	return g.From
}
