package pid

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// runge follows Td/N D' + D = -K Td y' with fine Runge-Kutta steps: another way to the same D.
func runge(cfg Config, d, slope, h float64) float64 {
	const fine = 0.002 // of the derivative's own time constant
	n := int(h/(fine*cfg.Td/cfg.N)) + 1
	dt := h / float64(n)
	rate := func(d float64) float64 { return (-cfg.K*cfg.Td*slope - d) / (cfg.Td / cfg.N) }
	for range n {
		k1 := rate(d)
		k2 := rate(d + dt/2*k1)
		k3 := rate(d + dt/2*k2)
		k4 := rate(d + dt*k3)
		d += dt / 6 * (k1 + 2*k2 + 2*k3 + k4)
	}
	return d
}

// A measurement made of straight pieces gives one D at its corners, sampled at the corners
// only or at any instants between them, and it is that of the continuous filter.
func TestDerivativeAtAnyInstants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cfg := tuned()
		cfg.Td = rapid.Float64Range(2, 60).Draw(t, "Td")
		const r = 200.0
		y := rapid.Float64Range(20, 300).Draw(t, "y0")
		coarse := Preset(cfg, 0.3, r, y)
		fine, exact := coarse, 0.0
		for range rapid.IntRange(1, 5).Draw(t, "pieces") {
			h := rapid.Float64Range(0.05, 10).Draw(t, "h")
			slope := rapid.Float64Range(-5, 5).Draw(t, "slope")
			exact = runge(cfg, exact, slope, h)
			parts := rapid.SliceOfN(rapid.Float64Range(0.02, 1), 1, 8).Draw(t, "parts")
			sum := 0.0
			for _, p := range parts {
				sum += p
			}
			at := y
			for _, p := range parts {
				dt := h * p / sum
				at += slope * dt
				fine = mustStep(t, cfg, fine, Input{H: dt, R: r, Y: at})
			}
			y += slope * h
			coarse = mustStep(t, cfg, coarse, Input{H: h, R: r, Y: y})
			require.InDelta(t, coarse.D, fine.D, 1e-9)
			require.InDelta(t, exact, coarse.D, 1e-8)
		}
	})
}

func mustStep(t *rapid.T, cfg Config, st State, in Input) State {
	next, _, err := Step(cfg, st, in)
	require.NoError(t, err)
	return next
}
