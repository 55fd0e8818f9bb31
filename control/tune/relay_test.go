package tune

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/plant"
)

// relayed lets a plain relay swing an exact model, step Hi above and Lo below 0.4, for so many
// switches; the record begins with a rest. Samples come every h s.
func relayed(m Model, h, hi, lo, eps float64, g *gauge, switches int) (r Record) {
	const u0, fine = 0.4, 40
	dt := h / fine
	late := make([]float64, int(math.Round(m.L/dt))+1)
	for i := range late {
		late[i] = u0
	}
	y, place, on, n := 0.0, 0, true, 0
	gone := -math.Expm1(-dt / m.T)
	rest := int(math.Ceil(4 * m.L / h))
	for i := 0; n < switches; i++ {
		u := u0
		if i >= rest {
			seen := g.read(y)
			if on && seen > eps || !on && seen < -eps {
				on = !on
				n++
			}
			u = u0 - lo
			if on {
				u = u0 + hi
			}
		}
		r = append(r, Sample{T: float64(i) * h, Y: 100 + g.read(y), Duty: u})
		for range fine {
			late[place] = u
			place = (place + 1) % len(late)
			y += gone * (m.K*(late[place]-u0) - y)
		}
	}
	return r
}

// Bias ratio 2 and hysteresis 2 % of K times the smaller step: from dead times of a tenth of T
// to five times T, T within 8 % and L within 3 %; below that K/T within 12 %.
func TestRelayOnExactModels(t *testing.T) {
	for _, x := range []float64{0.03, 0.06, 0.1, 0.2, 0.5, 1, 2, 5} {
		t.Run(fmt.Sprint(x), func(t *testing.T) {
			m := Model{Kind: First, K: 1000, T: 100, L: 100 * x}
			const hi, lo = 0.2, 0.1
			r := relayed(m, m.L/60, hi, lo, 0.02*m.K*lo, newGauge(0, 0, 1, 1), 9)
			f, err := RelayTest(r)
			require.NoError(t, err)
			t.Logf("L/T %.2f: true T 100 L %.1f K/T 10; found T %.2f L %.3f K/T %.2f", x, m.L,
				f.First.T, f.First.L, f.First.Slope())
			for _, c := range f.Checks {
				t.Logf("   by %s T %.2f L %.3f K/T %.2f", c.Way, c.Model.T, c.Model.L, c.Model.Slope())
			}
			assert.InEpsilon(t, m.Slope(), f.Model.Slope(), 0.12)
			if x >= 0.1 {
				assert.Equal(t, First, f.Model.Kind)
				assert.InEpsilon(t, m.T, f.Model.T, 0.08)
				assert.InEpsilon(t, m.L, f.Model.L, 0.03)
			}
		})
	}
}

// With noise as large as half the hysteresis the figures hold as well, over 20 seeds.
func TestRelayOnExactModelsWithNoise(t *testing.T) {
	m := Model{Kind: First, K: 500, T: 450, L: 30}
	low, high := math.Inf(1), 0.0
	for seed := range uint64(20) {
		r := relayed(m, 0.25, 0.3, 0.15, 1.5, newGauge(0.5, 0.25, 1, seed), 9)
		f, err := RelayTest(r)
		require.NoError(t, err)
		low, high = min(low, f.Model.Slope()/m.Slope()), max(high, f.Model.Slope()/m.Slope())
		assert.InEpsilon(t, m.L, f.First.L, 0.05)
	}
	t.Logf("K/T %.3f to %.3f of the true one", low, high)
	assert.Greater(t, low, 0.95)
	assert.Less(t, high, 1.05)
}

// The exact formulas agree with a simulated swing, and lead back to the model.
func TestCycleFormulas(t *testing.T) {
	for _, x := range []float64{0.05, 0.3, 1, 4} {
		m := Model{Kind: First, K: 200, T: 50, L: 50 * x}
		const hi, lo, eps = 0.3, 0.12, 0.4
		swing, err := RelayCycle(m, hi, lo, eps)
		require.NoError(t, err)
		r := relayed(m, m.L/400, hi, lo, eps, newGauge(0, 0, 1, 1), 7)
		ls := r.levels()
		sw := r.swings(ls)
		last := sw[len(sw)-1]
		length, up, down := r[last.to].T-r[last.from].T, 0.0, 200.0
		for _, x := range r[last.from:last.to] {
			up, down = max(up, x.Y), min(down, x.Y)
		}
		assert.InEpsilon(t, swing.Period(), length, 0.01)
		assert.InEpsilon(t, swing.On, r[last.off].T-r[last.from].T, 0.02)
		assert.InEpsilon(t, swing.Up, up-100, 0.02)
		assert.InEpsilon(t, -swing.Down, 100-down, 0.02)
		back, ok := FromCycle(m.K, swing.On, swing.Off, hi, lo, eps)
		require.True(t, ok)
		assert.InEpsilon(t, m.T, back.T, 1e-6)
		assert.InEpsilon(t, m.L, back.L, 1e-6)
		mirror, ok := FromCycle(m.K, swing.Off, swing.On, lo, hi, eps)
		require.True(t, ok)
		assert.InEpsilon(t, m.T, mirror.T, 1e-6)
	}
	slope := Model{Kind: Integrating, Kv: 2, L: 10}
	slow := Model{Kind: First, K: 2e7, T: 1e7, L: 10}
	a, err := RelayCycle(slope, 0.3, 0.1, 1)
	require.NoError(t, err)
	b, err := RelayCycle(slow, 0.3, 0.1, 1)
	require.NoError(t, err)
	assert.InEpsilon(t, a.On, b.On, 1e-4)
	assert.InEpsilon(t, a.Off, b.Off, 1e-4)
	assert.InEpsilon(t, a.Up, b.Up, 1e-4)
	_, err = RelayCycle(Model{Kind: First, K: 1, T: 1, L: 1}, 0.3, 0.1, 0.2)
	assert.Error(t, err, "a hysteresis that is never passed")
	_, ok := FromCycle(100, 10, 10, 0.2, 0.2, 0)
	assert.False(t, ok, "equal steps cannot tell T from L")
	_, ok = FromCycle(100, 10, 90, 0.2, 0.1, 0)
	assert.False(t, ok, "no model swings so")
}

// plan is a relay test for oven A as a cold start would set it up.
func plan() Relay {
	return Relay{Hold: 0.255, Slope: 0.966, Lag: 29.4, Sigma: 0.29, LSB: 0.25, Limit: 230, Window: 2}
}

// drive calls Step with readings of a function until it is done, and gives the way there.
func drive(t *testing.T, r *Relay, end float64, read func(now, duty float64) float64) (
	duty, now float64, why string) {
	t.Helper()
	duty = r.Hold
	for now = 0.0; now < end; now += 0.25 {
		var done bool
		duty, done, why = r.Step(now, read(now, duty))
		require.GreaterOrEqual(t, duty, 0.0)
		require.LessOrEqual(t, duty, 1.0)
		if done {
			again, still, same := r.Step(now+0.25, read(now+0.25, duty))
			require.True(t, still)
			require.Equal(t, duty, again, "the duty after the end stays")
			require.Equal(t, why, same)
			return duty, now, why
		}
		require.Empty(t, why)
	}
	return duty, now, "not done"
}

func TestRelayMachineOnOvens(t *testing.T) {
	for oven, x := range slopes() {
		r, why := relayAt(t, x.params, newGauge(0.5, 0.25, 0.25, 3),
			Relay{Slope: x.slope, Lag: 30, Sigma: 0.29, LSB: 0.25, Window: 2})
		require.Equal(t, WhyGood, why)
		assert.Equal(t, r[0].Duty, r[len(r)-1].Duty, "the duty is put back")
		low, high := math.Inf(1), 0.0
		for _, s := range r {
			low, high = min(low, s.Y), max(high, s.Y)
		}
		start := r[0].Y
		t.Logf("oven %s: %.0f s, +%.1f %.1f °C as read", oven, r[len(r)-1].T, high-start, low-start)
		assert.Less(t, high-start, 10.0)
		assert.Greater(t, low-start, -8.0)
		for i := 1; i < len(r); i++ { // the duty moves only at whole windows
			if r[i].Duty != r[i-1].Duty && i < len(r)-1 {
				assert.InDelta(t, 0, math.Mod(r[i].T, 2), 1e-9)
			}
		}
	}
}

func TestRelayMachineGuards(t *testing.T) {
	still := func(float64, float64) float64 { return 200 }
	rows := map[string]struct {
		change func(*Relay)
		read   func(now, duty float64) float64
		why    string
		duty   float64
	}{
		"no heat held":   {func(r *Relay) { r.Hold = 0 }, still, WhyPlan, 0},
		"full heat held": {func(r *Relay) { r.Hold = 0.98 }, still, WhyPlan, 0},
		"no slope":       {func(r *Relay) { r.Slope = 0 }, still, WhyPlan, 0},
		"NaN lag":        {func(r *Relay) { r.Lag = math.NaN() }, still, WhyPlan, 0},
		"NaN limit":      {func(r *Relay) { r.Limit = math.NaN() }, still, WhyPlan, 0},
		"limit": {nil, func(now, _ float64) float64 {
			if now > 300 {
				return 231
			}
			return 200
		}, WhyLimit, 0},
		"no reading": {nil, func(now, _ float64) float64 {
			if now > 100 {
				return math.NaN()
			}
			return 200
		}, WhyReading, 0},
		"door while waiting": {nil, func(now, _ float64) float64 {
			return 200 - 4*min(max(0, now-100), 15)
		}, WhyDoor, 0.255},
		"door while swinging": {nil, func(now, _ float64) float64 {
			return 200 - 4*min(max(0, now-260), 15)
		}, WhyDoor, 0.255},
		"never steady": {nil, func(now, _ float64) float64 { return 150 + 0.02*now }, WhyUnsteady,
			0.255},
		"no answer": {nil, still, WhyLong, 0.255},
	}
	for name, row := range rows {
		t.Run(name, func(t *testing.T) {
			r := plan()
			if row.change != nil {
				row.change(&r)
			}
			duty, _, why := drive(t, &r, 7200, row.read)
			assert.Equal(t, row.why, why)
			assert.InDelta(t, row.duty, duty, 1e-12)
		})
	}
	r := plan()
	_, _, why := drive(t, &r, 10, still)
	require.Equal(t, "not done", why)
	_, done, why := r.Step(5, 200)
	assert.True(t, done)
	assert.Equal(t, WhyReading, why, "time that runs backwards")
}

// It starts only after eight lags of steady readings, and its hysteresis is three times the
// noise or twice the rounding.
func TestRelayMachineStart(t *testing.T) {
	for name, row := range map[string]struct{ sigma, lsb, eps float64 }{
		"noise": {0.5, 0.25, 1.5}, "rounding": {0.1, 1, 2},
	} {
		r := plan()
		r.Sigma, r.LSB = row.sigma, row.lsb
		var first float64
		duty := 0.0
		for now := 0.0; first == 0; now += 0.25 {
			if duty, _, _ = r.Step(now, 200); duty != r.Hold {
				first = now
			}
		}
		assert.GreaterOrEqual(t, first, 8*r.Lag, name)
		assert.Less(t, first, 8*r.Lag+10, name)
		assert.Greater(t, duty, r.Hold, name)
		for now := first + 0.25; duty > r.Hold; now += 0.25 {
			y := 200 + 0.02*(now-first)
			duty, _, _ = r.Step(now, y)
			if duty < r.Hold {
				assert.InDelta(t, 200+row.eps, y, 0.15, name)
				assert.InDelta(t, 2, (r.up-r.Hold)/(r.Hold-r.down), 0.01, name)
			}
		}
	}
}

func TestRelayAllocatesNothing(t *testing.T) {
	oven, u0 := steadyAt(t, plant.A(), 200, newGauge(0.5, 0.25, 0.25, 1))
	r := plan()
	r.Hold = u0
	var readings []float64
	duty := u0
	for range 4 * 600 {
		y := oven.gauge.read(float64(oven.oven.Probe()))
		readings = append(readings, y)
		duty, _, _ = r.Step(oven.now(), y)
		oven.advance(duty)
	}
	require.Zero(t, testing.AllocsPerRun(1, func() {
		r = plan()
		for i, y := range readings {
			r.Step(float64(i)/4, y)
		}
	}))
}
