package control

import (
	"strings"

	"strawline/probe/temp"
)

// StillHot is from where on the end of a run says how hot the oven still is: above it, what is
// left inside goes on being heated and is not for the hand. Our choice.
const StillHot = temp.C(60)

// LoadIn is Event.Load where a blade was put in and nobody said that it is out.
const LoadIn = "in"

// bladeIn is said of it: nobody looked into the oven.
const bladeIn = "the blade is still in the oven, as far as is known"

// Left says what an end leaves in the oven, as far as the program knows: the blade, and how hot it
// reads in unit u; "" where it knows of nothing, and while the run goes on.
func (s *Snapshot) Left(u temp.Unit) string {
	if s.Phase != PhaseEnded && s.Phase != PhaseClosed {
		return ""
	}
	return left(s.BladeIn, s.HasTemp, s.Temp, u)
}

// Left says the same of an end event; "" of others.
func (e *Event) Left(u temp.Unit) string {
	if e.Kind != EvEnd {
		return ""
	}
	var t temp.C
	if e.TempC != nil {
		t = temp.C(*e.TempC)
	}
	return left(e.Load == LoadIn, e.TempC != nil, t, u)
}

func left(in, reads bool, t temp.C, u temp.Unit) string {
	var parts []string
	if in {
		parts = append(parts, bladeIn)
	}
	if reads && t > StillHot {
		parts = append(parts, "the oven still reads "+t.Text(u, 0))
	}
	return strings.Join(parts, "; ")
}

// left is Left at this step.
func (e *Engine) left() string { return left(e.bladeIn, e.lead.good, e.lead.value, e.unit()) }
