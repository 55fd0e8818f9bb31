package thermocouple

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
)

// within asks for the tolerances of a row at its ends, just inside and at places between them.
func within(t *testing.T, k Type, c Class, low, high float64, want func(at float64) float64) {
	t.Helper()
	for i := range 201 {
		at := low + (high-low)*float64(i)/200
		if c == ASTMStandard && at == 0 {
			continue // two rows meet, with the same figure
		}
		got, err := k.Tolerance(c, temp.C(at))
		require.NoError(t, err, "%s, type %s, %g °C", c, k, at)
		require.InDelta(t, want(at), float64(got), 1e-9, "%s, type %s, %g °C", c, k, at)
	}
}

func greater(pair []float64) func(float64) float64 {
	return func(at float64) float64 { return max(pair[0], pair[1]*math.Abs(at)) }
}

func TestTolerancesOfTheCarriedTable(t *testing.T) {
	var table struct {
		ASTM map[string][]struct {
			Low               float64 `json:"lo"`
			High              float64 `json:"hi"`
			Standard, Special []float64
		} `json:"astm_e230"`
		IEC map[string]map[string]struct {
			Low  float64 `json:"lo"`
			High float64 `json:"hi"`
			Lim  []float64
			Rule string
		} `json:"iec_60584_1"`
	}
	require.NoError(t, json.Unmarshal(carried(t, "tolerances.json"), &table))
	rows := map[Type]int{}
	for _, k := range Types() {
		for _, r := range table.ASTM[k.String()] {
			within(t, k, ASTMStandard, r.Low, r.High, greater(r.Standard))
			rows[k]++
			if r.Special != nil {
				within(t, k, ASTMSpecial, r.Low, r.High, greater(r.Special))
				rows[k]++
			}
		}
		classes := map[string]Class{"class1": IECClass1, "class2": IECClass2, "class3": IECClass3}
		for name, r := range table.IEC[k.String()] {
			rows[k]++
			if r.Rule == "" {
				within(t, k, classes[name], r.Low, r.High, greater(r.Lim))
				continue
			}
			require.Equal(t, "1.0 up to 1100 degC, above it 1.0+0.003*(t-1100)", r.Rule)
			within(t, k, classes[name], r.Low, r.High, func(at float64) float64 {
				if at <= 1100 {
					return 1
				}
				return 1 + 0.003*(at-1100)
			})
		}
		assert.Len(t, limits(k), rows[k], "type %s has no other rows", k)
		for _, l := range limits(k) {
			for _, at := range []float64{-200.01, l.to + 0.01, -1e9, 1e9, math.NaN(), math.Inf(1)} {
				if _, err := k.Tolerance(l.class, temp.C(at)); at != l.to+0.01 || l.to != 0 {
					assert.Error(t, err, "%s, type %s, %g °C", l.class, k, at)
				}
			}
		}
	}
}

// Where the share overtakes the figure, as the makers' tables print it.
func TestToleranceCrossovers(t *testing.T) {
	for _, c := range []struct {
		k     Type
		class Class
		at    float64
	}{
		{K, IECClass1, 375}, {K, IECClass2, 1000.0 / 3}, {T, IECClass1, 125},
		{T, IECClass2, 400.0 / 3}, {R, IECClass2, 600}, {S, IECClass2, 600},
	} {
		below, err := c.k.Tolerance(c.class, temp.C(c.at-50))
		require.NoError(t, err)
		there, err := c.k.Tolerance(c.class, temp.C(c.at))
		require.NoError(t, err)
		above, err := c.k.Tolerance(c.class, temp.C(c.at+1))
		require.NoError(t, err)
		assert.InDelta(t, float64(below), float64(there), 1e-9)
		assert.Greater(t, above, there)
	}
	for at, want := range map[temp.C][4]float64{200: {2.2, 1.1, 1.5, 2.5}, 815: {6.1, 3.3, 3.3, 6.1}} {
		for i, class := range Classes()[:4] {
			got, err := K.Tolerance(class, at)
			require.NoError(t, err)
			assert.InDelta(t, want[i], float64(got), 0.05, "%s at %g °C", class, at)
		}
	}
}

func TestNoTolerance(t *testing.T) {
	for _, c := range []struct {
		k     Type
		class Class
		at    temp.C
		want  string
	}{
		{K, ASTMSpecial, -10, "ASTM E230 special has no tolerance for type K at -10 °C"},
		{J, IECClass3, 0, "IEC 60584-1 class 3 has no tolerance for type J at 0 °C"},
		{N, ASTMStandard, -1, "ASTM E230 standard has no tolerance for type N"},
		{B, IECClass1, 1000, "IEC 60584-1 class 1 has no tolerance for type B"},
		{0, ASTMStandard, 100, "has no tolerance for type ?"},
		{K, 0, 100, "no tolerance for type K"},
		{K, 9, 100, "unknown class has no tolerance for type K"},
	} {
		d, err := c.k.Tolerance(c.class, c.at)
		assert.ErrorContains(t, err, c.want)
		assert.Zero(t, d)
	}
}
