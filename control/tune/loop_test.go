package tune

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/control/pid"
)

// brute finds the margins by a dense even sweep of ln w with a continuous phase, without any
// refinement: another way to the same figures, good to its step. The loop must be stable.
func brute(l Loop, low, high float64) (r Margins) {
	r = Margins{GM: math.Inf(1), PM: math.Inf(1), Delay: math.Inf(1)}
	const n = 30000
	ratio := math.Pow(high/low, 1.0/n)
	phase, size := 0.0, 0.0
	last := complex128(0)
	for i := range n {
		w := low * math.Pow(ratio, float64(i))
		g := l.At(w)
		if i == 0 {
			phase = cmplx.Phase(g)
			if phase > 0 {
				phase -= 2 * math.Pi
			}
		} else {
			turn := cmplx.Phase(g / last)
			half := func(p float64) float64 { return math.Floor((p + math.Pi) / (2 * math.Pi)) }
			if half(phase) != half(phase+turn) && cmplx.Abs(g) < 1 && 1/cmplx.Abs(g) < r.GM {
				r.GM = 1 / cmplx.Abs(g)
			}
			phase += turn
			if (size >= 1) != (cmplx.Abs(g) >= 1) {
				over := math.Mod(phase+math.Pi, 2*math.Pi)
				if over < 0 {
					over += 2 * math.Pi
				}
				r.PM = min(r.PM, min(over, 2*math.Pi-over)*180/math.Pi)
				r.Delay = min(r.Delay, over/w)
			}
		}
		r.Ms = max(r.Ms, 1/cmplx.Abs(1+g))
		last, size = g, cmplx.Abs(g)
	}
	return r
}

func drawLoop(t *rapid.T) (Loop, Model) {
	m := drawModel(t)
	s := Setup{
		Every:  m.L * rapid.Float64Range(0.01, 0.1).Draw(t, "every/L"),
		Window: m.L * rapid.Float64Range(0, 0.5).Draw(t, "window/L"),
		N:      rapid.Float64Range(5, 20).Draw(t, "N"),
	}
	s.Tf = m.L * rapid.Float64Range(0, 0.2).Draw(t, "Tf/L")
	rule := rapid.SampledFrom(Rules()).Draw(t, "rule")
	g, err := rule.Gains(m)
	if err != nil {
		g, err = RuleSIMCPI.Gains(m)
	}
	require.NoError(t, err)
	g.K *= rapid.Float64Range(0.3, 1.2).Draw(t, "bolder")
	return s.Close(m, g), m
}

func TestMarginsAgreeWithBruteForce(t *testing.T) {
	stable := 0
	rapid.Check(t, func(t *rapid.T) {
		l, m := drawLoop(t)
		got := l.Margins()
		if !got.Stable || got.Ms > 10 { // an edge so sharp is finer than the even sweep
			return
		}
		stable++
		slowest := max(m.T, l.Gains.Ti, m.L)
		want := brute(l, 0.01/slowest, 100/m.L)
		require.InEpsilon(t, want.Ms, got.Ms, 0.002)
		require.Equal(t, math.IsInf(want.GM, 1), math.IsInf(got.GM, 1))
		if !math.IsInf(want.GM, 1) {
			require.InEpsilon(t, want.GM, got.GM, 0.002)
		}
		require.Equal(t, math.IsInf(want.PM, 1), math.IsInf(got.PM, 1))
		if !math.IsInf(want.PM, 1) {
			require.InDelta(t, want.PM, got.PM, 0.1)
			require.InEpsilon(t, want.Delay, got.Delay, 0.005)
		}
		// Ms bounds the other two, whatever the loop (Åström and Hägglund, from memory).
		require.GreaterOrEqual(t, got.GM, got.Ms/(got.Ms-1)*(1-1e-6))
		require.GreaterOrEqual(t, got.PM, 2*math.Asin(1/(2*got.Ms))*180/math.Pi-1e-4)
	})
	require.Positive(t, stable)
}

// swings plays a loop with control/pid and a disturbance, in steps of h, and tells whether it
// has grown or died away. extra is dead time on top.
func swings(t *testing.T, m Model, g Gains, s Setup, extra float64) (grows bool) {
	t.Helper()
	m.L += extra
	h := s.Every
	o := newOven(m, h)
	o.rest(0, 0)
	cfg := pid.Config{K: g.K, Ti: g.Ti, Td: g.Td, N: s.N, B: 1, Tf: s.Tf, Min: -1e12, Max: 1e12}
	st := pid.Preset(cfg, 0, 0, 0)
	y, early, late := 0.0, 0.0, 0.0
	n := int(60 * (m.Lag() + g.Ti/4) / h)
	for i := range n {
		next, out, err := pid.Step(cfg, st, pid.Input{H: h, Y: y})
		require.NoError(t, err)
		st = next
		load := 0.0
		if i < 10 {
			load = 1
		}
		y = o.step(out.U + load)
		switch {
		case i > n/4 && i < n/2:
			early = max(early, math.Abs(y))
		case i > 3*n/4:
			late = max(late, math.Abs(y))
		}
	}
	return late > early
}

// The margins are those of the law as it runs: with a little less than the gain margin, and
// than the delay margin, the sampled loop of control/pid dies away, with a little more it grows.
func TestMarginsAgainstTheLawItself(t *testing.T) {
	for name, m := range map[string]Model{
		"first":       {Kind: First, K: 526, T: 493, L: 29},
		"second":      {Kind: Second, K: 511, T: 465, T2: 24.5, L: 8},
		"integrating": {Kind: Integrating, Kv: 1, L: 29},
		"dead time":   {Kind: First, K: 100, T: 20, L: 20},
	} {
		for _, rule := range []Rule{RuleSIMCPI, RuleImprovedPID, RuleAMIGOPID, RuleTyreusLuybenPI} {
			t.Run(name+" "+rule.String(), func(t *testing.T) {
				s := Setup{Every: 0.25, N: 8, Tf: 2}
				g, err := rule.Gains(m)
				require.NoError(t, err)
				r := s.Close(m, g).Margins()
				require.True(t, r.Stable)
				less, more := g, g
				less.K *= r.GM * 0.95
				more.K *= r.GM * 1.05
				assert.False(t, swings(t, m, less, s, 0), "gain margin %.3f", r.GM)
				assert.True(t, swings(t, m, more, s, 0), "gain margin %.3f", r.GM)
				assert.False(t, swings(t, m, g, s, r.Delay*0.93), "delay margin %.2f", r.Delay)
				assert.True(t, swings(t, m, g, s, r.Delay*1.07), "delay margin %.2f", r.Delay)
			})
		}
	}
}

func TestUnstableHasNoMargins(t *testing.T) {
	m := Model{Kind: First, K: 500, T: 500, L: 30}
	g, err := RuleZNStepPI.Gains(m)
	require.NoError(t, err)
	g.K *= 2
	assert.Equal(t, Margins{}, Setup{Every: 0.25}.Close(m, g).Margins())
	// Two integrations with too little phase lead begin beyond half a turn.
	slope := Model{Kind: Integrating, Kv: 1, L: 30}
	assert.Equal(t, Margins{}, Setup{Every: 0.25}.Close(slope, Gains{K: 0.02, Ti: 20}).Margins())
}

// The rms that noise makes is what the law makes of it in a long play: within a tenth, as the
// prediction leaves sampling out.
func TestWander(t *testing.T) {
	m := Model{Kind: Second, K: 511, T: 465, T2: 24.5, L: 8}
	s := Setup{Every: 0.25, N: 8, Tf: 3}
	g := SIMC(m, 20).Ideal()
	want := s.Close(m, g).Wander(0.3)
	o := newOven(m, s.Every)
	cfg := pid.Config{K: g.K, Ti: g.Ti, Td: g.Td, N: s.N, B: 1, Tf: s.Tf, Min: -1, Max: 1}
	st := pid.Preset(cfg, 0, 0, 0)
	noise := newGauge(0.3*math.Sqrt(3), 0, 0.25, 5)
	y, sum, n := 0.0, 0.0, 0.0
	for i := range 400000 {
		next, out, err := pid.Step(cfg, st, pid.Input{H: s.Every, Y: noise.read(y)})
		require.NoError(t, err)
		st = next
		y = o.step(out.U)
		if i > 20000 {
			sum, n = sum+y*y, n+1
		}
	}
	got := math.Sqrt(sum / n)
	t.Logf("rms predicted %.4f, played %.4f °C", want, got)
	assert.InEpsilon(t, want, got, 0.1)
}
