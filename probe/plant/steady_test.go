package plant

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/temp"
)

// The reference ovens settled by the script's solver, from the first lines of its trajectories.
func TestSteadyAgainstReference(t *testing.T) {
	for name, params := range ovens {
		for run, at := range map[string]temp.C{"step": 190, "door": 200} {
			tr := reference(t, name, run)
			o, err := Steady(params(), tr.duty)
			require.NoError(t, err)
			for i, v := range tr.states[0] {
				require.InDelta(t, v, o.x[i], 1e-3)
			}
			require.InDelta(t, float64(at), float64(o.Probe()), 1e-3)
		}
	}
}

func TestSteadyRefuses(t *testing.T) {
	for _, duty := range []float64{-0.01, 1.01, math.NaN()} {
		_, err := Steady(A(), duty)
		require.Error(t, err, "duty %g", duty)
	}
	for _, c := range []temp.C{21.9, 1000, temp.C(math.NaN())} {
		_, _, err := At(A(), c)
		require.Error(t, err, "%g °C", c)
	}
}

// An oven that differs from the reference in every figure still settles, and stays settled.
func TestSteadyStaysSteady(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := A()
		vary := rapid.Float64Range(0.6, 1.6)
		for _, v := range []*float64{
			&p.HeaterW, &p.ElementHeat, &p.ElementArea, &p.ElementAir, &p.AirHeat, &p.Leak,
			&p.WallHeat, &p.WallArea, &p.WallAir, &p.Gap, &p.GapArea, &p.GapEmissivity,
			&p.CaseHeat, &p.CaseArea, &p.CaseAir, &p.CaseEmissivity, &p.ProbeLag, &p.Delay,
			&p.Blade.Mass, &p.Blade.Area, &p.Blade.Air, &p.Blade.Emissivity,
		} {
			*v *= vary.Draw(t, "factor")
		}
		require.NoError(t, p.Check())
		duty := rapid.Float64Range(0, 1).Draw(t, "duty")
		o, err := Steady(p, duty)
		require.NoError(t, err)
		before := o.x
		for range 400 {
			o.Step(duty * p.HeaterW)
		}
		for i := range before {
			require.InDelta(t, before[i], o.x[i], 1e-4)
		}
	})
}
