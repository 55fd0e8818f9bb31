package tui

import (
	"fmt"
	"testing"

	"github.com/muesli/termenv"
	"github.com/stretchr/testify/assert"

	"strawline/control"
	"strawline/probe/temp"
)

// TestProofOnTheDashboard: a run of a real heater says when its board was proved, and first if that
// is due. Simulated runs say nothing of it.
func TestProofOnTheDashboard(t *testing.T) {
	proved := control.ProofInfo{Date: "2026-11-12", Board: "straw-uno", LimitC: 260}
	for name, c := range map[string]struct {
		proofs *control.Proofs
		words  string
	}{
		"proof-never": {&control.Proofs{},
			"limit and dead man never proved: strawline probes proof"},
		"proof-failed": {&control.Proofs{Limit: control.ProofInfo{Failed: "2026-11-12"}, DeadMan: proved},
			"the board's limit FAILED its proof 12 days ago: do not use it"},
		"proof-done": {&control.Proofs{Limit: proved, DeadMan: proved},
			"limit and dead man last proved 12 days ago"},
	} {
		st := heating()
		info := *st.s.Info
		info.Simulated = false
		info.Shop.Oven, info.Shop.Board, info.Shop.BoardLimC = "kiln", "straw-uno", 260
		info.Shop.Proofs = c.proofs
		st.s.Info = &info
		for _, size := range [][2]int{{80, 24}, {120, 40}} {
			l := lookAt(st, size[0], size[1], termenv.Ascii)
			l.Transport = ""
			bare := View(st.s, l)
			exact(t, bare, size[0], size[1])
			assert.Contains(t, bare, c.words)
			golden(t, fmt.Sprintf("%s-%dx%d", name, size[0], size[1]), bare)
			golden(t, fmt.Sprintf("%s-%dx%d-colour", name, size[0], size[1]),
				View(st.s, Look{W: l.W, H: l.H, Unit: l.Unit, Ink: NewInk(termenv.TrueColor), Line: l.Line}))
		}
		start := control.Event{Kind: control.EvStart}
		assert.Contains(t, Line(start, &info, temp.Celsius), "; "+c.words)
		info.Simulated = true
		assert.NotContains(t, View(st.s, lookAt(st, 120, 40, termenv.Ascii)), "proved")
		assert.NotContains(t, Line(start, &info, temp.Celsius), "proved")
	}
}
