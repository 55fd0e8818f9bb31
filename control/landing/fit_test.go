package landing_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control/landing"
	"strawline/control/tune"
)

// Swings made from the very equations that Fit is to find come back, whatever the shares.
func TestFitFindsWhatMadeTheSwings(t *testing.T) {
	for _, m := range []landing.Model{{K: 1, Tau: 25, Th: 8, T: 600}, {K: 0.4, Tau: 10, Th: 25, T: 1500},
		{K: 2, Tau: 60, Th: 3, T: 2000}} {
		const hold = 0.3
		var rec tune.Record
		q, y, u := 0.0, 200.0, hold
		sent := slices.Repeat([]float64{hold}, int(m.Th)+1)
		up := true
		r := rand.New(rand.NewPCG(1, 2)) // what has no noise has no best fit
		for i := range 4000 {
			if i > 60 {
				if y > 202 {
					up = false
				} else if y < 198 {
					up = true
				}
				if u = hold - 0.1; up {
					u = hold + 0.2
				}
			}
			rec = append(rec, tune.Sample{T: float64(i), Y: y + 0.2*r.Float64() - 0.1, Duty: u})
			sent = append(sent[1:], u)
			in := sent[0] - hold
			for range 100 { // small steps of Euler's
				q += (in - q) / m.Tau / 100
				y += (m.K*q - (y-200)/m.T) / 100
			}
		}
		got, ok := landing.Fit(rec, hold, m.Tau+m.Th)
		require.True(t, ok)
		assert.InEpsilon(t, m.K, got.K, 0.05)
		assert.InDelta(t, m.Th, got.Th, 1.5)
		assert.InEpsilon(t, m.Tau, got.Tau, 0.10)
	}
}

func TestFitRefusesWhatCarriesNoModel(t *testing.T) {
	var flat, short tune.Record
	for i := range 600 {
		flat = append(flat, tune.Sample{T: float64(i), Y: 200, Duty: 0.3})
		if i < 50 {
			short = append(short, tune.Sample{T: float64(i), Y: 200, Duty: float64(i % 2)})
		}
	}
	for _, rec := range []tune.Record{nil, flat, short} {
		m, ok := landing.Fit(rec, 0.3, 30)
		assert.False(t, ok)
		assert.Zero(t, m.K)
	}
	_, ok := landing.Fit(flat, 0.3, math.NaN())
	assert.False(t, ok)
}
