package plant

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/temp"
)

// Whatever is done to an oven, its balance closes within 0.1 % of the heat that moved, nothing
// runs away, and nothing is colder than the coldest thing that was put in.
func TestBalanceClosesWhateverIsDone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := A()
		if rapid.Bool().Draw(t, "b") {
			p = B()
		}
		o := New(p, temp.C(rapid.Float64Range(5, 250).Draw(t, "start")))
		coldest := min(5, p.Room)
		for range rapid.IntRange(1, 12).Draw(t, "acts") {
			switch rapid.IntRange(0, 3).Draw(t, "act") {
			case 0:
				o.SetDoor(rapid.Bool().Draw(t, "door"))
			case 1:
				o.BladeOut()
			case 2:
				b := p.Blade
				b.Mass *= rapid.Float64Range(0.2, 4).Draw(t, "size")
				o.BladeIn(b, temp.C(rapid.Float64Range(5, 800).Draw(t, "blade")))
			}
			watts := rapid.Float64Range(-100, 1400).Draw(t, "watts")
			for range rapid.IntRange(1, 2000).Draw(t, "steps") {
				o.Step(watts)
			}
			b := o.Balance()
			moved := b.In + math.Abs(b.Stored) + math.Abs(b.Lost)
			require.LessOrEqual(t, math.Abs(b.Open()), 1e-3*moved)
			for _, c := range []temp.C{o.Probe(), o.Air(), o.Wall(), o.Element(), o.Case()} {
				require.GreaterOrEqual(t, c, coldest-0.01)
				require.LessOrEqual(t, c, temp.C(1000))
			}
		}
	})
}

func TestAtRestNothingMoves(t *testing.T) {
	o := New(A(), 22)
	for range 4 * 3600 {
		o.Step(0)
	}
	for _, c := range []temp.C{o.Probe(), o.Air(), o.Wall(), o.Element(), o.Case(), o.Blade()} {
		require.InDelta(t, 22, float64(c), 1e-9)
	}
	require.Zero(t, o.Balance().In)
}

func TestStepTakesNoNonsense(t *testing.T) {
	cold, odd := New(A(), 22), New(A(), 22)
	for _, w := range []float64{math.NaN(), -1, math.Inf(-1), 0} {
		cold.Step(0)
		odd.Step(w)
	}
	require.Equal(t, cold.x, odd.x)
	require.Zero(t, odd.Balance().In)
}

// A pulse of heat is felt by the probe no earlier than the mixing delay allows, but for the
// wall's share.
func TestDelayIsTheProbes(t *testing.T) {
	p := B()
	p.ProbeAirShare = 1
	o := New(p, 22)
	o.Step(p.HeaterW)
	steps := 0
	for o.Probe() <= 22+1e-9 {
		o.Step(p.HeaterW)
		steps++
	}
	require.InDelta(t, 8, float64(steps)*Every.Seconds(), 1)
}

func TestBladeChangesHands(t *testing.T) {
	o := New(A(), 200)
	require.True(t, o.Loaded())
	require.Equal(t, temp.C(200), o.Blade())
	o.BladeOut()
	require.False(t, o.Loaded())
	require.True(t, math.IsNaN(float64(o.Blade())))
	require.InDelta(t, 0, o.Balance().Stored, 1e-6)
	o.BladeOut()
	b := A().Blade
	b.Mass = 1
	o.BladeIn(b, 20)
	require.Equal(t, temp.C(20), o.Blade())
	require.InDelta(t, 0, o.Balance().Stored, 1e-6)
	o.BladeIn(A().Blade, 30)
	require.Equal(t, temp.C(30), o.Blade())
	require.InDelta(t, 0, o.Balance().Stored, 1e-6)
}

func BenchmarkStep(b *testing.B) {
	o := New(A(), 22)
	b.ReportAllocs()
	for b.Loop() {
		o.Step(400)
	}
}

func TestStepAllocatesNothing(t *testing.T) {
	o := New(A(), 22)
	require.Zero(t, testing.AllocsPerRun(1000, func() { o.Step(400) }))
}
