package thermocouple

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"testing"

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

// The printed NIST table, rounded to 1 µV, so that half of that may be missing.
func TestEMFGivesThePrintedTable(t *testing.T) {
	names, table := rows(t, "nist_table_K.csv")
	require.Equal(t, []string{"temp_c", "emf_mv"}, names)
	require.GreaterOrEqual(t, len(table), 164)
	for _, r := range table {
		mV, err := EMF(temp.C(r[0]))
		require.NoError(t, err)
		require.InDelta(t, r[1], mV, 0.0005+1e-9, "at %g °C", r[0])
		if r[0] <= -200 || r[0] >= 1372 {
			continue // the inverse ends here, and rounding may put the printed emf outside
		}
		c, err := Temp(r[1])
		require.NoError(t, err)
		require.InDelta(t, r[0], float64(c), 0.0005/flattest, "at %g mV", r[1])
	}
}

// flattest is less than the slope anywhere in the inverse's range, mV/°C: at -200 °C the printed
// table falls by 0.144 mV in 10 °C.
const flattest = 0.0144

// Emf of fixed points in mV (fixed points of ITS-90; emf computed apart from this code).
func TestFixedPoints(t *testing.T) {
	for _, p := range []struct{ c, mV float64 }{
		{231.928, 9.421}, {419.527, 17.223}, {660.323, 27.461}, {961.78, 39.778},
		{1084.62, 44.535}, {0, 0}, {25, 1.0002},
	} {
		mV, err := EMF(temp.C(p.c))
		require.NoError(t, err)
		require.InDelta(t, p.mV, mV, 0.0006)
	}
}

func TestNothingIsExtrapolated(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []float64{-270.001, 1372.001, -300, 1e9, nan, inf, -inf} {
		mV, err := EMF(temp.C(c))
		require.ErrorContains(t, err, "type K has no emf at", "%g °C", c)
		require.Zero(t, mV)
	}
	for _, mV := range []float64{-5.892, 54.887, -6.4, 1e9, nan, inf, -inf} {
		c, err := Temp(mV)
		require.ErrorContains(t, err, "type K has no temperature at", "%g mV", mV)
		require.Zero(t, c)
	}
	for _, c := range []temp.C{-270, -200, 0, 1372} {
		_, err := EMF(c)
		require.NoError(t, err)
	}
}

// The inverse finds the temperature of an emf within 2e-6 °C everywhere, joints included.
func TestInverseIsExact(t *testing.T) {
	there := func(c float64) float64 {
		mV, err := EMF(temp.C(c))
		require.NoError(t, err)
		back, err := Temp(mV)
		require.NoError(t, err)
		return math.Abs(float64(back) - c)
	}
	worst := 0.0
	for i := range 157_200 {
		worst = max(worst, there(-200+float64(i)/100))
	}
	for _, c := range []float64{-200, -1e-9, 0, 1e-9, 499.97, 500, 500.03, 1372} {
		worst = max(worst, there(c))
	}
	require.Less(t, worst, 2e-6)
	t.Logf("largest distance %.2g °C", worst)
	rapid.Check(t, func(t *rapid.T) {
		require.Less(t, there(rapid.Float64Range(-200, 1372).Draw(t, "c")), 2e-6)
	})
}

// The inverse rises everywhere: no jump where two polynomials meet.
func TestInverseRises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.OneOf(rapid.Float64Range(-5.89, 54.88), rapid.Float64Range(20.643, 20.645),
			rapid.Float64Range(-0.001, 0.001)).Draw(t, "mV")
		more := rapid.Float64Range(1e-6, 1e-3).Draw(t, "more")
		a, err := Temp(at)
		require.NoError(t, err)
		b, err := Temp(at + more)
		require.NoError(t, err)
		rise := float64(b-a) / more
		require.Greater(t, rise, 20.0) // °C/mV; the steepest slope is 42.6 µV/°C
		require.Less(t, rise, 70.0)    // the flattest of the range is 15.2 µV/°C at -200 °C
	})
}
