package tune

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/plant"
)

// A cold start of each reference oven, which fits a step test's published model of the same oven
// and not that of the other.
func TestConcludeAndCompare(t *testing.T) {
	for name, p := range map[string]plant.Params{"A": plant.A(), "B": plant.B()} {
		v, err := Conclude(heatUp(p, newGauge(0.5, 0.25, 0.25, 1)), 2)
		require.NoError(t, err)
		assert.Equal(t, "cold start", v.Test)
		assert.InDelta(t, 0.25, v.Noise.Every, 1e-9)
		assert.InDelta(t, 0.297, v.Noise.Sigma, 0.03) // 0.5 either way evenly, and steps of 0.25
		assert.True(t, v.Best.OK && v.Bolder.OK && v.Calmer.OK)
		assert.Len(t, v.Table(), len(Rules()))
		known := models()
		for other, m := range map[string]Model{"A": known["A two lags"], "B": known["B two lags"]} {
			fit := Compare(m, v.Model)
			t.Logf("oven %s, model %s: %s", name, other, fit.Text)
			assert.Equal(t, name == other, fit.Fits, "oven %s against model %s", name, other)
		}
	}
	_, err := Conclude(nil, 2)
	var r *Refusal
	require.ErrorAs(t, err, &r)
}

func TestCompareSaysWhatChanged(t *testing.T) {
	was := Model{Kind: Integrating, Kv: 1, L: 20, Half: Half{Slope: 0.02, L: 1}}
	for what, seen := range map[string]Model{
		"slowly": {Kind: Integrating, Kv: 0.7, L: 20}, "faster": {Kind: Integrating, Kv: 1.4, L: 20},
		"later": {Kind: Integrating, Kv: 1, L: 40}, "sooner": {Kind: Integrating, Kv: 1, L: 6},
	} {
		fit := Compare(was, seen)
		assert.False(t, fit.Fits)
		assert.Contains(t, fit.Text, what)
	}
	assert.True(t, Compare(was, Model{Kind: Integrating, Kv: 0.8, L: 26}).Fits, "within a quarter")
	assert.True(t, Compare(was, Model{Kind: Integrating, Kv: 0.7, L: 20,
		Half: Half{Slope: 0.1}}).Fits, "not known well enough to say so")
}

func TestUnsureSwingsGiveWayToTheHeatUp(t *testing.T) {
	found := func(test string, half float64) Found {
		return Found{Test: test, Model: Model{Kind: Integrating, Kv: 1, L: 20, Half: Half{Slope: half}}}
	}
	for _, c := range []struct {
		swings, cold float64
		want         string
	}{{0.1, 0.01, "relay test"}, {0.3, 0.05, "cold start"}, {0.3, 0.4, "relay test"}} {
		got := surer(found("relay test", c.swings), found("cold start", c.cold))
		assert.Equal(t, c.want, got.Test)
	}
}
