package shop

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe"
	"strawline/probe/temp"
)

// TestCorrectByHand: figures worked out on paper.
func TestCorrectByHand(t *testing.T) {
	c := Correction{Points: []Point{{0, 0.5}, {100, 99}, {200, 202}}}
	require.NoError(t, c.Check())
	for _, w := range []struct{ reads, is float64 }{
		{-50, -49.5}, {0, 0.5}, {50, 49.75}, {100, 99}, {150, 150.5}, {200, 202}, {300, 302},
	} {
		assert.InDelta(t, w.is, float64(c.Correct(temp.C(w.reads))), 1e-12)
	}
	assert.Equal(t, temp.C(198.6), Correction{Offset: -1.4}.Correct(200))
	assert.Equal(t, temp.C(200), Correction{}.Correct(200))
	one := Correction{Points: []Point{{231.9, 230.9}}}
	assert.Equal(t, temp.C(230.9), one.Correct(231.9))
	assert.InDelta(t, 19, float64(one.Correct(20)), 1e-12)
	assert.InDelta(t, 499, float64(one.Correct(500)), 1e-12)
	for _, c := range []Correction{c, one, {Offset: 1}} {
		assert.True(t, math.IsNaN(float64(c.Correct(temp.C(math.NaN())))))
		assert.True(t, math.IsInf(float64(c.Correct(temp.C(math.Inf(1)))), 1))
	}
}

func TestCorrectionCheck(t *testing.T) {
	nan, inf := temp.C(math.NaN()), temp.C(math.Inf(1))
	for _, w := range []struct {
		c    Correction
		text string
	}{
		{Correction{Offset: 25.1}, "+25.1 °C, +45.2 °F is more than a correction can be"},
		{Correction{Offset: -26}, "-26.0 °C"},
		{Correction{Offset: temp.Delta(nan)}, "NaN"},
		{Correction{Points: []Point{{100, 130}}}, "+30.0 °C, +54.0 °F (reads 100.0 °C, 212.0 °F;"},
		{Correction{Points: []Point{{nan, 0}}}, "NaN"},
		{Correction{Points: []Point{{0, nan}}}, "NaN"},
		{Correction{Points: []Point{{inf, inf}}}, "no point"},
		{Correction{Points: []Point{{0, 0}, {0, 1}}}, "rise by at least +1.0 °C"},
		{Correction{Points: []Point{{10, 10}, {0, 0}}}, "rise by at least"},
		{Correction{Points: []Point{{0, 20}, {10, 20}}}, "hotter into colder"},
		{Correction{Points: []Point{{0, 20}, {10, 15}}},
			"a reading of 0.0 °C, 32.0 °F would become 20.0 °C, 68.0 °F, and a hotter one of"},
		{Correction{Offset: 1, Points: []Point{{0, 1}}}, "not both"},
		{Correction{Points: make([]Point, probe.MaxPoints+1)}, "21 points are more than 20"},
	} {
		assert.ErrorContains(t, w.c.Check(), w.text)
	}
	for _, c := range []Correction{{}, {Offset: 25}, {Offset: -25}, {Points: []Point{{0, 25}}},
		{Points: []Point{{0, 0}, {1, 0.5}}}, {Points: []Point{{231.1, 256.1}, {232.1, 257}}}} {
		assert.NoError(t, c.Check())
	}
}

// drawPoints draws points that pass Check.
func drawPoints(t *rapid.T) Correction {
	var c Correction
	reads, is := temp.C(rapid.Float64Range(-100, 50).Draw(t, "first")), temp.C(0)
	for i := range rapid.IntRange(1, probe.MaxPoints).Draw(t, "points") {
		off := temp.Delta(rapid.Float64Range(-25, 25).Draw(t, "off"))
		if next := reads.Add(off); i == 0 || next > is {
			is = next
			c.Points = append(c.Points, Point{reads, is})
		}
		reads += temp.C(rapid.Float64Range(1.001, 150).Draw(t, "apart"))
	}
	return c
}

// TestCorrectionProperties: exact at the points, rising, without steps, and never more than its
// largest point adds.
func TestCorrectionProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawPoints(t)
		require.NoError(t, c.Check())
		most, steepest := 0.0, 1.0
		for i, p := range c.Points {
			require.Equal(t, p.Is, c.Correct(p.Reads))
			if i > 0 {
				just := temp.C(math.Nextafter(float64(p.Reads), -1e9))
				require.LessOrEqual(t, c.Correct(just), p.Is)
			}
			most = max(most, math.Abs(float64(p.Is.Sub(p.Reads))))
			if i > 0 {
				b := c.Points[i-1]
				steepest = max(steepest, float64(p.Is.Sub(b.Is)/p.Reads.Sub(b.Reads)))
			}
		}
		at := rapid.OneOf(rapid.Float64Range(-300, 2000),
			rapid.SampledFrom(reads(c))).Draw(t, "at")
		step := rapid.Float64Range(0, 1e-3).Draw(t, "step")
		a, b := c.Correct(temp.C(at)), c.Correct(temp.C(at+step))
		require.LessOrEqual(t, float64(a), float64(b)+1e-9)
		require.InDelta(t, float64(a), float64(b), steepest*step+1e-9)
		require.InDelta(t, at, float64(a), most+1e-9)
	})
}

func reads(c Correction) (out []float64) {
	for _, p := range c.Points {
		out = append(out, float64(p.Reads), math.Nextafter(float64(p.Reads), -1e9))
	}
	return out
}

// TestCorrectionOutside: beyond the points, what the nearest one adds.
func TestCorrectionOutside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawPoints(t)
		first, last := c.Points[0], c.Points[len(c.Points)-1]
		by := temp.Delta(rapid.Float64Range(0, 500).Draw(t, "by"))
		require.InDelta(t, float64(first.Is-first.Reads),
			float64(c.Correct(first.Reads.Add(-by)).Sub(first.Reads.Add(-by))), 1e-9)
		require.InDelta(t, float64(last.Is-last.Reads),
			float64(c.Correct(last.Reads.Add(by)).Sub(last.Reads.Add(by))), 1e-9)
	})
}

// TestCorrectionLeavesPoints: correcting changes nothing of the correction.
func TestCorrectionLeavesPoints(t *testing.T) {
	c := Correction{Points: []Point{{0, 1}, {100, 99}}}
	before := slices.Clone(c.Points)
	c.Correct(50)
	assert.Equal(t, before, c.Points)
	v := c.Value()
	assert.Zero(t, testing.AllocsPerRun(100, func() { v.Correct(50) }))
}
