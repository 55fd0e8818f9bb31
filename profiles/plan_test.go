package profiles

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/temp"
)

// ends gives when each step ends on the plan.
func ends(pts []Point) map[int]time.Duration {
	out := map[int]time.Duration{}
	for _, p := range pts {
		out[p.Step] = p.At
	}
	return out
}

// atTime reads the plan like a chart does.
func atTime(pts []Point, at time.Duration) float64 {
	for i := 1; i < len(pts); i++ {
		if pts[i].At >= at && pts[i].At > pts[i-1].At {
			share := float64(at-pts[i-1].At) / float64(pts[i].At-pts[i-1].At)
			return float64(pts[i-1].Temp) + share*float64(pts[i].Temp-pts[i-1].Temp)
		}
	}
	return float64(pts[len(pts)-1].Temp)
}

func roughly(t *testing.T, want, got time.Duration) {
	t.Helper()
	assert.InDelta(t, want.Seconds(), got.Seconds(), 0.01)
}

// A temper by hand: 180 °C at 0.5 °C/s is 360 s, blade in 300 s, two hours, half an hour.
func TestPlanOfATemper(t *testing.T) {
	p, err := Temper(200, 2*time.Hour, 1, 5, temp.Celsius)
	require.NoError(t, err)
	pts := Plan(p.Steps, 0, 20, 0, -1, 0.5)
	e := ends(pts)
	roughly(t, 360*time.Second, e[0])
	roughly(t, 660*time.Second, e[1])
	roughly(t, 7860*time.Second, e[2])
	roughly(t, 9660*time.Second, e[3])
	// 20 + 180·exp(-2) after two time constants.
	assert.InDelta(t, 20+180*math.Exp(-2), float64(pts[len(pts)-1].Temp), 1e-9)

	roughly(t, 180*time.Second, ends(Plan(p.Steps, 0, 20, 0, -1, 1))[0])
	roughly(t, 360*time.Second, ends(Plan(p.Steps, 0, 20, 0, -1, math.NaN()))[0])
}

func TestPlanFromTheMiddleOfASoak(t *testing.T) {
	steps := []Step{{Kind: Ramp, To: 200, Band: 5}, {Kind: Soak, To: 200, Band: 5, For: time.Hour}}
	roughly(t, 10*time.Minute+10*time.Second,
		ends(Plan(steps, 1, 200, 10*time.Minute, 10*time.Second, 0.5))[1])
	roughly(t, 10*time.Minute, ends(Plan(steps, 1, 200, 10*time.Minute, 0, 0.5))[1])
	roughly(t, 70*time.Minute, ends(Plan(steps, 1, 200, 10*time.Minute, -1, 0.5))[1])
	// A door cooled it by 45 °C: 40 °C to the band's edge take 80 s that do not count.
	roughly(t, 80*time.Second+time.Hour, ends(Plan(steps, 1, 155, 0, -1, 0.5))[1])
	// 10 °C above it falls by itself to the edge of the band first.
	roughly(t, time.Duration(900e9*math.Log(190.0/185))+time.Hour,
		ends(Plan(steps, 1, 210, 0, -1, 0.5))[1])
	// So little is left that the middle of the band is never reached.
	pts := Plan(steps, 1, 196, 0, 2*time.Second, 0.5)
	assert.InDelta(t, 197, float64(pts[len(pts)-1].Temp), 1e-9)
}

func TestPlanOfRamps(t *testing.T) {
	for name, c := range map[string]struct {
		from, to temp.C
		rate     float64 // °C/h
		want     float64 // s
	}{
		"with a rate":              {20, 200, 90, 7200},
		"a rate beyond the oven":   {20, 200, 36000, 360},
		"there already":            {200, 200, 0, 0},
		"down by itself":           {220, 120, 0, 900 * math.Log(2)},
		"down with a slow rate":    {220, 120, 36, 10000},
		"down, faster than it can": {220, 120, 9000, 900 * math.Log(2)},
		"down, at first with a rate": {420, 70, 800, // knee at 20 + 200 °C
			200*4.5 + 900*math.Log(200.0/50)},
		"to the room": {220, 0, 0, 900 * math.Log(200.0/2)},
	} {
		steps := []Step{{Kind: Ramp, To: c.to, Rate: c.rate / 3600, Band: 5}}
		got := ends(Plan(steps, 0, c.from, 0, -1, 0.5))[0]
		assert.InDelta(t, c.want, got.Seconds(), 0.01, name)
	}
}

func TestPlanOfCoolsAndWaits(t *testing.T) {
	cool := []Step{{Kind: Cool, To: 120}}
	roughly(t, time.Duration(900e9*math.Log(2)), ends(Plan(cool, 0, 220, 0, -1, 0))[0])
	roughly(t, 0, ends(Plan(cool, 0, 100, 0, -1, 0))[0])
	// A chord over a sixth of 624 s is off by (104/900)²/8 of 200 °C, 0.33 °C.
	pts := Plan(cool, 0, 220, 0, -1, 0)
	for at := range 623 {
		exact := 20 + 200*math.Exp(-float64(at)/900)
		assert.InDelta(t, exact, atTime(pts, time.Duration(at)*time.Second), 0.34)
	}

	heat := []Step{{Kind: Ramp, To: 200, Band: 5}, {Kind: Wait, Heat: true, Most: time.Hour}}
	pts = Plan(heat, 1, 190, 0, -1, 0.5)
	roughly(t, HeatWait, ends(pts)[1])
	assert.InDelta(t, 200, float64(pts[len(pts)-1].Temp), 1e-9, "back to the last setpoint")
	heat[1].Most = time.Minute
	roughly(t, time.Minute, ends(Plan(heat, 1, 200, 0, -1, 0.5))[1])

	off := []Step{{Kind: Wait}}
	roughly(t, CoolWait, ends(Plan(off, 0, 200, 0, -1, 0))[0])
	roughly(t, HeatWait, ends(Plan(off, 0, 20, 0, -1, 0))[0])
	pts = Plan(off, 0, 5, 0, -1, 0)
	assert.Equal(t, temp.C(5), pts[len(pts)-1].Temp, "nothing is promised to warm by itself")
}

func TestNoPlan(t *testing.T) {
	steps := []Step{{Kind: Wait}}
	assert.Nil(t, Plan(steps, 1, 20, 0, -1, 0))
	assert.Nil(t, Plan(steps, -1, 20, 0, -1, 0))
	assert.Nil(t, Plan(steps, 0, temp.C(math.NaN()), 0, -1, 0))
	assert.Nil(t, Plan(nil, 0, 20, 0, -1, 0))
	assert.Empty(t, Lengths(nil))
}

func anyStep(t *rapid.T) Step {
	span := func(name string, most time.Duration) time.Duration {
		return time.Duration(rapid.Int64Range(1, int64(most)).Draw(t, name))
	}
	degrees := func(name string, low, high float64) float64 {
		return rapid.Float64Range(low, high).Draw(t, name)
	}
	s := Step{Kind: Kind(rapid.IntRange(0, 3).Draw(t, "kind")),
		Cycle: rapid.IntRange(0, MaxRepeats).Draw(t, "cycle")}
	switch s.Kind {
	case Ramp:
		s.To, s.Band = temp.C(degrees("to", 0, 1250)), temp.Delta(degrees("band", 1, 50))
		if rapid.Bool().Draw(t, "slow") {
			s.Rate = degrees("rate", MinRate, MaxRate)
		}
		s.Limit = span("limit", MaxTotal)
	case Soak:
		s.To, s.Band = temp.C(degrees("to", 0, 1250)), temp.Delta(degrees("band", 1, 50))
		s.For, s.Limit = span("for", MaxTotal), span("limit", MaxTotal)
	case Cool:
		s.To, s.Limit = temp.C(degrees("to", 30, 1300)), span("limit", MaxTotal)
	case Wait:
		s.Say = rapid.StringN(1, 20, 80).Draw(t, "say")
		s.Load = Load(rapid.IntRange(0, 2).Draw(t, "load"))
		if s.Heat = rapid.Bool().Draw(t, "heat"); s.Heat {
			s.Most = span("most", MaxHeatWait)
		}
	}
	return s
}

func anySteps(t *rapid.T) []Step {
	return rapid.SliceOfN(rapid.Custom(anyStep), 1, 20).Draw(t, "steps")
}

// Whatever the steps: time never runs backwards, every step ends once and in order, nothing
// heats faster than the oven or beyond every target, no soak is planned shorter than it needs
// to be, and a rate is kept.
func TestPlanProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		steps := anySteps(t)
		from := rapid.IntRange(0, len(steps)-1).Draw(t, "from")
		start := temp.C(rapid.Float64Range(-10, 1300).Draw(t, "start"))
		at := time.Duration(rapid.Int64Range(0, int64(MaxTotal)).Draw(t, "at"))
		left := time.Duration(rapid.Int64Range(-1, int64(MaxTotal)).Draw(t, "left"))
		heat := rapid.Float64Range(0.01, 5).Draw(t, "heat")
		pts := Plan(steps, from, start, at, left, heat)

		assert.Equal(t, Point{At: at, Temp: start, Step: from}, pts[0])
		assert.Equal(t, len(steps)-1, pts[len(pts)-1].Step)
		low, high := min(start, Room), start
		for _, s := range steps {
			if s.Kind == Ramp || s.Kind == Soak {
				high = max(high, s.To)
			}
		}
		spent := map[int]float64{}
		climb := map[int]float64{}
		for i, p := range pts[1:] {
			before := pts[i]
			span := (p.At - before.At).Seconds()
			assert.GreaterOrEqual(t, span, 0.0)
			assert.True(t, p.Step == before.Step || p.Step == before.Step+1)
			assert.GreaterOrEqual(t, float64(p.Temp), float64(low)-1e-6)
			assert.LessOrEqual(t, float64(p.Temp), float64(high)+1e-6)
			assert.LessOrEqual(t, float64(p.Temp-before.Temp), heat*span+1e-6)
			spent[p.Step] += span
			climb[p.Step] += math.Abs(float64(p.Temp - before.Temp))
		}
		for i, s := range steps[from:] {
			i += from
			need := s.For
			if i == from && left >= 0 {
				need = left
			}
			if s.Kind == Soak {
				assert.GreaterOrEqual(t, spent[i], need.Seconds()-1e-6)
			}
			if s.Kind == Ramp && s.Rate > 0 {
				// Beyond any plan that passes Check a leg is cut short.
				assert.GreaterOrEqual(t, spent[i], min(climb[i]/s.Rate, longestLeg)-1e-3)
			}
		}
	})
}

func BenchmarkPlan(b *testing.B) {
	p, err := Builtin("small-knife")
	require.NoError(b, err)
	long := make([]Step, 0, MaxSteps)
	for len(long) < MaxSteps {
		long = append(long, p.Steps...)
	}
	for name, steps := range map[string][]Step{"8 steps": p.Steps, "200 steps": long} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Plan(steps, 0, 20, 0, -1, 0.5)
			}
		})
	}
}
