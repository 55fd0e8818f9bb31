package thermocouple

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/temp"
)

// rows reads a carried CSV of numbers under a line of names.
func rows(t *testing.T, name string) (names []string, numbers [][]float64) {
	t.Helper()
	all, err := csv.NewReader(bytes.NewReader(carried(t, name))).ReadAll()
	require.NoError(t, err)
	for _, row := range all[1:] {
		var vs []float64
		for _, s := range row {
			v, err := strconv.ParseFloat(s, 64)
			require.NoError(t, err)
			vs = append(vs, v)
		}
		numbers = append(numbers, vs)
	}
	return all[0], numbers
}

// spans are the ranges of the reference functions in °C, as the printed tables have them, and
// where each emf begins to have one temperature.
var spans = map[Type]struct{ low, high, single float64 }{
	B: {0, 1820, 50}, E: {-270, 1000, -270}, J: {-210, 1200, -210}, K: {-270, 1372, -270},
	N: {-270, 1300, -270}, R: {-50, 1768.1, -50}, S: {-50, 1768.1, -50}, T: {-270, 400, -270},
}

// The printed NIST tables, rounded to 1 µV, so that half of that may be missing; back again the
// same half may be missing, which is so many degrees as the slope there makes of it.
func TestPrintedTables(t *testing.T) {
	counts := map[Type]int{B: 183, E: 128, J: 142, K: 165, N: 158, R: 182, S: 182, T: 68}
	for _, k := range Types() {
		names, table := rows(t, "nist_table_"+k.String()+".csv")
		require.Equal(t, []string{"temp_c", "emf_mv"}, names)
		assert.Len(t, table, counts[k], "type %s", k)
		for _, r := range table {
			mV, err := k.EMF(temp.C(r[0]))
			require.NoError(t, err)
			require.InDelta(t, r[1], mV, 0.0005+1e-9, "type %s at %g °C", k, r[0])
			if r[0] < spans[k].single || k == B && r[0] == 50 {
				continue // the printed emf of 50 °C is rounded out of what has one temperature
			}
			c, err := k.Temp(r[1])
			require.NoError(t, err)
			below, err := k.EMF(temp.C(max(r[0]-2, spans[k].single)))
			require.NoError(t, err)
			above, err := k.EMF(temp.C(min(r[0]+2, spans[k].high)))
			require.NoError(t, err)
			// The slope on both sides, taken a quarter smaller as it changes fast near the end.
			slope := 0.75 * (above - below) / (min(r[0]+2, spans[k].high) -
				max(r[0]-2, spans[k].single))
			require.InDelta(t, r[0], float64(c), 0.0005/slope, "type %s at %g mV", k, r[1])
		}
	}
}

// Emf of type K at fixed points of ITS-90, computed apart from this code.
func TestFixedPoints(t *testing.T) {
	for _, p := range []struct{ c, mV float64 }{
		{231.928, 9.421}, {419.527, 17.223}, {660.323, 27.461}, {961.78, 39.778},
		{1084.62, 44.535}, {0, 0}, {25, 1.0002},
	} {
		mV, err := K.EMF(temp.C(p.c))
		require.NoError(t, err)
		require.InDelta(t, p.mV, mV, 0.0006)
	}
}

func TestNothingIsExtrapolated(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for k, s := range spans {
		low, high := k.Range()
		assert.Equal(t, []temp.C{temp.C(s.low), temp.C(s.high)}, []temp.C{low, high})
		for _, c := range []float64{s.low - 0.001, s.high + 0.001, -300, 1e9, nan, inf, -inf} {
			mV, err := k.EMF(temp.C(c))
			require.ErrorContains(t, err, "type "+k.String()+" has no emf at", "%g °C", c)
			require.Zero(t, mV)
		}
		least, err := k.EMF(temp.C(s.single))
		require.NoError(t, err)
		most, err := k.EMF(temp.C(s.high))
		require.NoError(t, err)
		for _, mV := range []float64{least - 0.00051, most + 0.00051, -20, 1e9, nan, inf, -inf} {
			c, err := k.Temp(mV)
			require.ErrorContains(t, err, "type "+k.String()+" has no temperature at", "%g mV", mV)
			require.Zero(t, c)
		}
		// What only the printed digit has put outside is the end; for B the slope is too flat.
		c, err := k.Temp(most + 0.00049)
		require.NoError(t, err)
		require.InDelta(t, s.high, float64(c), 2e-6)
		c, err = k.Temp(least - 0.00049)
		if k == B {
			require.Error(t, err)
			continue
		}
		require.NoError(t, err)
		require.InDelta(t, s.single, float64(c), 2e-6)
	}
}

// there gives how far the inverse of a temperature's emf is from it, °C.
func there(t require.TestingT, k Type, c float64) float64 {
	mV, err := k.EMF(temp.C(c))
	require.NoError(t, err)
	back, err := k.Temp(mV)
	require.NoError(t, err)
	return math.Abs(float64(back) - c)
}

// The inverse finds the temperature of an emf within 2e-6 °C everywhere, at the joints of the
// functions and of their inverses and below the inverses of NIST.
func TestInverseIsExact(t *testing.T) {
	for _, k := range Types() {
		s, worst := spans[k], 0.0
		for i := range int((s.high-s.single)*10) + 1 {
			worst = max(worst, there(t, k, s.single+float64(i)/10))
		}
		joints := []float64{s.single, s.high}
		for _, p := range curves[k].forward[1:] {
			joints = append(joints, p.from)
		}
		for _, p := range curves[k].inverse {
			low, err := k.Temp(max(p.from, -8.095))
			require.NoError(t, err)
			joints = append(joints, float64(low))
		}
		joints = append(joints, curves[k].coldest)
		for _, j := range joints {
			for _, d := range []float64{-1e-3, -1e-6, -1e-9, 0, 1e-9, 1e-6, 1e-3} {
				worst = max(worst, there(t, k, min(max(j+d, s.single), s.high)))
			}
		}
		assert.Less(t, worst, 2e-6, "type %s", k)
		t.Logf("type %s: largest distance %.2g °C", k, worst)
	}
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom(Types()).Draw(t, "type")
		c := rapid.Float64Range(spans[k].single, spans[k].high).Draw(t, "c")
		require.Less(t, there(t, k, c), 2e-6)
	})
}

// The inverse rises everywhere: no jump where two polynomials meet.
func TestInverseRises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom(Types()).Draw(t, "type")
		low, err := k.EMF(temp.C(spans[k].single))
		require.NoError(t, err)
		high, err := k.EMF(temp.C(spans[k].high))
		require.NoError(t, err)
		joint := rapid.SampledFrom(curves[k].inverse).Draw(t, "joint").from
		at := rapid.OneOf(rapid.Float64Range(low, high-0.001),
			rapid.Float64Range(joint-0.001, joint+0.001)).Draw(t, "mV")
		at = max(at, low)
		more := rapid.Float64Range(1e-5, 1e-3).Draw(t, "more")
		a, err := k.Temp(at)
		require.NoError(t, err)
		b, err := k.Temp(at + more)
		require.NoError(t, err)
		rise := float64(b-a) / more
		require.Greater(t, rise, 12.0) // °C/mV; the steepest slope is 81 µV/°C, of type E
		require.Less(t, rise, 4000.0)  // the flattest is 0.31 µV/°C, of type B at 50 °C
	})
}

// NIST gives a band for each polynomial of its inverse; the printed ones are rounded, and six of
// the 23 pass theirs by up to 0.0032 °C. Where two overlap, the later one is taken from where
// it begins: the earlier one does not keep the band of the later.
func TestFirstGuessKeepsTheBands(t *testing.T) {
	var table struct {
		Types map[string]struct {
			Inverse []struct {
				From float64 `json:"t_min_c"`
				To   float64 `json:"t_max_c"`
				MV   float64 `json:"e_min_mv"`
				Low  float64 `json:"err_lo_c"`
				High float64 `json:"err_hi_c"`
			}
		}
	}
	require.NoError(t, json.Unmarshal(carried(t, "its90_coefficients.json"), &table))
	for _, k := range Types() {
		inverse := table.Types[k.String()].Inverse
		for i, p := range inverse {
			to := p.To
			if i+1 < len(inverse) {
				to = inverse[i+1].From
			}
			slack := 0.0033
			if p.High-p.Low < 0.002 {
				slack = 0.0002
			}
			for c := p.From + 0.5; c < to-0.5; c += 0.5 {
				mV, err := k.EMF(temp.C(c))
				require.NoError(t, err)
				if i+1 < len(inverse) && mV >= inverse[i+1].MV {
					break
				}
				off := curves[k].guess(mV) - c
				require.True(t, off > p.Low-slack && off < p.High+slack,
					"type %s at %g °C: off by %g", k, c, off)
			}
		}
	}
}

func TestAcross(t *testing.T) {
	mV, err := K.Across(200, 25)
	require.NoError(t, err)
	assert.InDelta(t, 8.1385-1.0002, mV, 0.0001)
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom(Types()).Draw(t, "type")
		hot := temp.C(rapid.Float64Range(spans[k].single, spans[k].high).Draw(t, "hot"))
		cold := temp.C(rapid.Float64Range(max(spans[k].low, -40), 125).Draw(t, "cold"))
		mV, err := k.Across(hot, cold)
		require.NoError(t, err)
		if hot == cold {
			require.Zero(t, mV)
		}
		e, err := k.EMF(cold)
		require.NoError(t, err)
		if low, high := curves[k].emfs(); mV+e < low || mV+e > high {
			return // the last bit is beyond the end
		}
		back, err := k.Hot(mV, cold)
		require.NoError(t, err)
		require.InDelta(t, float64(hot), float64(back), 2e-6)
	})
	_, err = K.Across(200, 2000)
	require.ErrorContains(t, err, "cold junction: type K has no emf at 2000 °C")
	_, err = K.Across(2000, 25)
	require.ErrorContains(t, err, "type K has no emf at 2000 °C: its function goes from -270 to 1372 °C")
	_, err = B.Hot(5, -1)
	require.ErrorContains(t, err, "cold junction: type B has no emf at -1 °C")
	_, err = K.Hot(54.5, 25)
	require.ErrorContains(t, err, "its inverse goes from -6.4577 to 54.8864 mV, -270 to 1372 °C")
}

func TestTypeNames(t *testing.T) {
	for i, letter := range []string{"B", "E", "J", "K", "N", "R", "S", "T"} {
		k, err := ParseType(letter)
		require.NoError(t, err)
		assert.Equal(t, Types()[i], k)
		assert.Equal(t, letter, k.String())
		small, err := ParseType(string(letter[0] + 'a' - 'A'))
		require.NoError(t, err)
		assert.Equal(t, k, small)
	}
	for _, s := range []string{"", "C", "KK", "type K", " K", "?"} {
		_, err := ParseType(s)
		assert.ErrorContains(t, err, "there is B, E, J, K, N, R, S, T", "%q", s)
	}
	for _, none := range []Type{0, 9, 255} {
		assert.Equal(t, "?", none.String())
		_, err := none.EMF(20)
		assert.ErrorContains(t, err, "no thermocouple type")
		_, err = none.Temp(1)
		assert.ErrorContains(t, err, "no thermocouple type")
		low, high := none.Range()
		assert.Zero(t, low)
		assert.Zero(t, high)
	}
}
