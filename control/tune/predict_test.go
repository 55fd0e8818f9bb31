package tune

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// With the pole cancelled (Ti = T) the loop of a first-order model is an integrator behind the
// dead time: for Kc K L/T of one half the step overshoots by 4.05 % or so (from memory,
// Skogestad 2003 says "about 4 %"), and settles within a few dead times.
func TestPredictStep(t *testing.T) {
	m := Model{Kind: First, K: 500, T: 150, L: 30}
	g := SIMC(m, m.L).Ideal()
	require.InDelta(t, m.T, g.Ti, 1e-9)
	p, err := Predict(m, g, Setup{Every: 0.05}, Scene{Room: 20, Start: 20, Set: 200})
	require.NoError(t, err)
	assert.InDelta(t, 0.04, p.Step.Over, 0.01)
	require.True(t, p.Step.Settled)
	assert.InDelta(t, 4*m.L, p.Step.Settle, 2.5*m.L)
}

// A cold start can be no faster than physics allows, and the play of the model agrees with a
// way of its own: Euler steps of the model with a PI by hand.
func TestPredictCold(t *testing.T) {
	m := Model{Kind: Second, K: 511, T: 465, T2: 24.5, L: 8}
	s := Setup{Every: 0.25, N: 8, Tf: 2}
	sc := Scene{Room: 22, Start: 22, Set: 200}
	for _, rule := range []Rule{RuleSIMCPI, RuleAMIGOPID, RuleZNFrequencyPID, RuleImprovedPID} {
		g, err := rule.Gains(m)
		require.NoError(t, err)
		p, err := Predict(m, g, s, sc)
		require.NoError(t, err)
		require.True(t, p.Cold.Settled)
		least, err := MinHeatUp(m, sc.Room, sc.Start, sc.Set-1)
		require.NoError(t, err)
		assert.Greater(t, p.Cold.Settle, 0.9*least, "%s", rule)
		over, settle := byHand(m, g, s, sc)
		t.Logf("%s: over %.2f, settled %.0f s; by hand %.2f, %.0f s", rule, p.Cold.Over, p.Cold.Settle,
			over, settle)
		assert.InDelta(t, over, p.Cold.Over, 0.15, "%s", rule)
		assert.InDelta(t, settle, p.Cold.Settle, 10, "%s", rule)
	}
}

// byHand plays the continuous law with explicit Euler steps: conditional integration as "hold
// the integral while the output is cut and the error would drive it further".
func byHand(m Model, g Gains, s Setup, sc Scene) (over, settle float64) {
	const h = 0.02
	late := make([]float64, int(m.L/h)+1)
	var y, q, yf, d, lastF float64
	y = sc.Start - sc.Room
	yf, lastF = y, y
	integral := -g.K * (g.B*(sc.Set-sc.Room) - y) // from an output of nothing
	for i := range int(6000 / h) {
		now := float64(i) * h
		e := sc.Set - sc.Room - yf
		yf += h / s.Tf * (y - yf)
		if g.Td > 0 {
			d += h / (g.Td / s.N) * (-g.K*g.Td*(yf-lastF)/h - d)
		}
		lastF = yf
		v := g.K*(g.B*(sc.Set-sc.Room)-yf) + integral + d
		if v < 1 && e > 0 || v > 0 && e < 0 {
			integral += h * g.K / g.Ti * e
		}
		u := min(1, max(0, v))
		late[i%len(late)] = u
		q += h / m.T2 * (late[(i+1)%len(late)] - q)
		y += h / m.T * (m.K*q - y)
		over = max(over, y-(sc.Set-sc.Room))
		if math.Abs(y-(sc.Set-sc.Room)) > 1 {
			settle = now
		}
	}
	return over, settle
}

// The door's dip is what the scene says, and a calmer loop rebounds no less than none.
func TestPredictDoor(t *testing.T) {
	m := models()["A two lags"]
	p, err := Predict(m, SIMC(m, 30).Ideal(), Setup{Every: 0.25, N: 8, Tf: 2},
		Scene{Room: 20, Start: 20, Set: 200})
	require.NoError(t, err)
	require.True(t, p.Door.Settled)
	assert.Greater(t, p.Door.Settle, 20.0)
	assert.Greater(t, p.Door.Over, 1.0, "the law without its open-door state rebounds")
	// Without a controller to speak of the reading comes back by the model's lag alone.
	weak, err := Predict(m, Gains{K: 1e-7, Ti: 1000, B: 1}, Setup{Every: 0.25},
		Scene{Room: 20, Start: 20, Set: 200})
	require.NoError(t, err)
	assert.InDelta(t, 20+m.Lag()*math.Log(50), weak.Door.Settle, 1)
	assert.Less(t, weak.Door.Over, 0.01)
}

func TestPredictRefuses(t *testing.T) {
	m := models()["A"]
	g := SIMC(m, 30).Ideal()
	s := Setup{Every: 0.25}
	sc := Scene{Room: 20, Start: 20, Set: 200}
	good, err := Predict(m, g, s, sc)
	require.NoError(t, err)
	require.True(t, good.Cold.Settled)
	for name, bad := range map[string]struct {
		m  Model
		g  Gains
		s  Setup
		sc Scene
	}{
		"model":        {Model{}, g, s, sc},
		"gains":        {m, Gains{K: -1, Ti: 1}, s, sc},
		"interval":     {m, g, Setup{}, sc},
		"out of reach": {m, g, s, Scene{Room: 20, Start: 20, Set: 600}},
		"below start":  {m, g, s, Scene{Room: 20, Start: 300, Set: 200}},
		"NaN":          {m, g, s, Scene{Room: math.NaN(), Start: 20, Set: 200}},
	} {
		_, err := Predict(bad.m, bad.g, bad.s, bad.sc)
		assert.Error(t, err, name)
	}
}

// A loop that swings by itself is not called settled.
func TestPredictSwinging(t *testing.T) {
	m := models()["A"]
	g, err := RuleZNStepPI.Gains(m)
	require.NoError(t, err)
	g.K *= 2
	p, err := Predict(m, g, Setup{Every: 0.25}, Scene{Room: 20, Start: 20, Set: 200})
	require.NoError(t, err)
	assert.False(t, p.Step.Settled)
	assert.False(t, p.Cold.Settled)
	assert.False(t, p.Door.Settled)
	assert.Zero(t, p.Cold.Settle)
}

// A door's fall in the limits of a figure: the limits agree with each other where they meet.
func TestLimitsMeet(t *testing.T) {
	first := Model{Kind: First, K: 500, T: 450, L: 20}
	second := Model{Kind: Second, K: 500, T: 450, T2: 1e-3, L: 20}
	slope := Model{Kind: Integrating, Kv: 500.0 / 450, L: 20}
	a, err := MinHeatUp(first, 20, 20, 200)
	require.NoError(t, err)
	_, _, there, err := BangBang(second, 20, 200)
	require.NoError(t, err)
	assert.InDelta(t, a, there, 0.05)
	b, err := MinHeatUp(slope, 20, 190, 200)
	require.NoError(t, err)
	assert.InDelta(t, 20+10/(500.0/450), b, 1e-9)
	_, err = MinHeatUp(first, 20, 20, 530)
	assert.Error(t, err)
	_, _, _, err = BangBang(second, 20, 530)
	assert.Error(t, err)
	_, _, _, err = BangBang(first, 20, 200)
	assert.Error(t, err)
	sd, approx := MinVariance(slope, 0.002)
	assert.Equal(t, sd, approx)
	assert.InEpsilon(t, Ripple(slope, 0.3, 2), Ripple(first, 0.3, 2), 0.01)
}
