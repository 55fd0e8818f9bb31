package plant

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// The bounds of the reference ovens are those of the clairvoyant search in the control research
// notes, section 5: testdata/control/heatup.csv says where they come from.
func TestBound(t *testing.T) {
	f, err := os.Open("../../testdata/control/heatup.csv")
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	require.Equal(t, "bound_s", rows[0][4])
	require.Len(t, rows, 3)
	for _, row := range rows[1:] {
		want, err := strconv.ParseFloat(row[4], 64)
		require.NoError(t, err)
		p := A()
		if row[0] == "B" {
			p = B()
		}
		got, err := Bound(p, 200, 1)
		require.NoError(t, err)
		require.InDelta(t, want, got.Seconds(), 2, "oven %s", row[0])
		t.Logf("oven %s: %v, the reference search %v s", row[0], got, want)
	}
}

func TestBoundWeak(t *testing.T) {
	p := A()
	p.HeaterW = 300
	_, err := Bound(p, 200, 1)
	require.ErrorIs(t, err, ErrWeak)
}

// No oven is sooner within a degree than full heat brings it there; with more watts it is sooner.
func TestBoundOrder(t *testing.T) {
	p := A()
	was := 3600.0
	for _, watts := range []float64{900, 1400, 2500} {
		p.HeaterW = watts
		got, err := Bound(p, 200, 1)
		require.NoError(t, err)
		full := New(p, p.Room)
		least := 0.0
		for full.Probe() < 199 {
			full.heat(watts)
			least++
		}
		require.GreaterOrEqual(t, got.Seconds(), least)
		require.Less(t, got.Seconds(), was)
		was = got.Seconds()
		t.Logf("%.0f W: %v, full heat passes 199 °C after %.0f s", watts, got, least)
	}
}

func BenchmarkBound(b *testing.B) {
	for b.Loop() {
		if _, err := Bound(A(), 200, 1); err != nil {
			b.Fatal(err)
		}
	}
}
