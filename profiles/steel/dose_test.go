package steel

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/temp"
)

// TestDoseIsTheSameHoweverCut cuts a path of constant pieces anywhere.
func TestDoseIsTheSameHoweverCut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var whole, cut Dose
		for range rapid.IntRange(1, 8).Draw(t, "pieces") {
			at := temp.C(rapid.Float64Range(-20, 700).Draw(t, "at"))
			span := time.Duration(rapid.Int64Range(1e6, 24*3600*1e9).Draw(t, "span"))
			whole = whole.Add(at, span)
			for left := span; left > 0; {
				d := time.Duration(rapid.Int64Range(1, int64(left)).Draw(t, "cut"))
				if rapid.Bool().Draw(t, "rest") {
					d = left
				}
				cut = cut.Add(at, d)
				left -= d
			}
		}
		assert.InDelta(t, whole.P, cut.P, 1e-9)
		assert.Equal(t, whole.Hottest, cut.Hottest)
	})
}

// walk is a path of straight pieces of at most 1 °C/s, a temperature a second.
func walk(t *rapid.T) []float64 {
	path := []float64{rapid.Float64Range(20, 250).Draw(t, "start")}
	for range rapid.IntRange(1, 6).Draw(t, "legs") {
		slope := rapid.Float64Range(-1, 1).Draw(t, "slope")
		for range rapid.IntRange(20, 300).Draw(t, "seconds") {
			next := min(max(path[len(path)-1]+slope, 20), 400)
			path = append(path, next)
		}
	}
	return path
}

// exact integrates the same law in another way: every temperature's time is turned into time at
// 500 K and added up, within the second by a hundred middle points. The rule is not additive in
// that time, so each step finds the equivalent time anew.
func exact(path []float64) float64 {
	p := math.Inf(-1)
	for i := 1; i < len(path); i++ {
		const n = 100
		for k := range n {
			at := path[i-1] + (path[i]-path[i-1])*(float64(k)+0.5)/n + 273.15
			before := math.Pow(10, p*1000/at-18)
			p = at * (18 + math.Log10(before+1.0/n/3600)) / 1000
		}
	}
	return p
}

// TestDoseOfSamples: sampled every second or finer, at uneven times, a path's dose is off by
// less than 0.01, taken as straight between samples or as the newer sample.
func TestDoseOfSamples(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		path := walk(t)
		at := func(s float64) temp.C {
			i := min(int(s), len(path)-2)
			return temp.C(path[i] + (path[i+1]-path[i])*(s-float64(i)))
		}
		want := exact(path)
		end := float64(len(path) - 1)
		var straight, steps Dose
		for now := 0.0; now < end; {
			next := min(end, now+rapid.SampledFrom([]float64{1, 0.25, 0.7, 0.01}).Draw(t, "dt"))
			span := time.Duration((next - now) * 1e9)
			straight = straight.Ramp(at(now), at(next), span)
			steps = steps.Add(at(next), span)
			now = next
		}
		assert.InDelta(t, want, straight.P, 0.001)
		assert.InDelta(t, want, steps.P, 0.01)
	})
}

// TestWhatAnExcursionCosts: figures of the worked examples, on the curve of 0.89 % C.
func TestWhatAnExcursionCosts(t *testing.T) {
	c, err := PlainCurve(0.89)
	require.NoError(t, err)
	calm := Soaked(temp.F(400), 2*time.Hour)
	for _, x := range []struct {
		f           float64
		cost, slack float64
	}{{450, 0.4, 0.05}, {500, 1.7, 0.1}} {
		d := Soaked(temp.F(400), time.Hour).Add(temp.F(x.f), 10*time.Minute).
			Add(temp.F(400), 50*time.Minute)
		assert.InDelta(t, x.cost, c.HRC(calm)-c.HRC(d), x.slack)
	}
	for f, cost := range map[float64]float64{10: 0.37, 25: 0.9, 50: 1.9, 100: 3.8} {
		d := Soaked(temp.F(400+f), 2*time.Hour)
		assert.InDelta(t, cost, c.HRC(calm)-c.HRC(d), max(0.02, cost/20), "+%g °F", f)
	}
	twice := calm.Add(temp.F(400), 2*time.Hour)
	assert.InDelta(t, 0.5, c.HRC(calm)-c.HRC(twice), 0.06, "two cycles")
	assert.InDelta(t, Soaked(temp.F(400), 4*time.Hour).P, twice.P, 1e-12)
}

func TestLike(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := temp.C(rapid.Float64Range(100, 400).Draw(t, "at"))
		span := time.Duration(rapid.Int64Range(60e9, 24*3600e9).Draw(t, "span"))
		d := Soaked(at, span)
		assert.InDelta(t, float64(at), float64(d.Like(span)), 1e-9)
		assert.InEpsilon(t, span.Hours(), d.Hours(at), 1e-9)
	})
	assert.Equal(t, temp.Zero, Dose{}.Like(time.Hour))
	assert.Zero(t, Dose{}.Hours(200))
}

// TestRampAddsMinutes: a steady rise to 200 °C at 300 K/h is worth 2.17 min by another program's
// integration with C = 20; the closed form has 2.35 there. With 18 instead of 20 both are longer.
func TestRampAddsMinutes(t *testing.T) {
	d := Dose{}.Ramp(20, 200, 36*time.Minute)
	got, form := d.Hours(200)*60, RampHours(200, 300, HollomonJaffe)*60
	assert.InEpsilon(t, 2.17/2.35, got/form, 0.03)
}

func TestDoseOfNothing(t *testing.T) {
	d := Soaked(200, time.Hour)
	nan, inf := temp.C(math.NaN()), temp.C(math.Inf(1))
	for _, at := range []temp.C{nan, inf, -inf, temp.Zero, temp.Zero - 1} {
		assert.Equal(t, d, d.Add(at, time.Hour))
		assert.Equal(t, d, d.Ramp(at, 20, time.Hour))
		assert.Equal(t, d, d.Ramp(20, at, time.Hour))
		assert.Equal(t, Dose{}, Soaked(at, time.Hour))
		assert.Zero(t, Parameter(at, time.Hour))
	}
	assert.Equal(t, d, d.Add(200, 0))
	assert.Equal(t, d, d.Ramp(200, 300, -time.Second))
	cold := d.Add(temp.Zero+1, 100*time.Hour)
	assert.InDelta(t, d.P, cold.P, 1e-9, "a blade as cold as space is not tempered")
}
