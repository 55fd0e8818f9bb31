package pid

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// lag is the plant gain/(tau s + 1), integrated exactly between samples.
type lag struct{ gain, tau, y float64 }

// step holds u for h and gives the integral of y over that time.
func (l *lag) step(u, h float64) float64 {
	end := l.gain * u
	gone := -math.Expm1(-h / l.tau)
	area := end*h + (l.y-end)*l.tau*gone
	l.y += (end - l.y) * gone
	return area
}

// windup runs the textbook's example: 0.5/(s+1), |u| at most 1, a setpoint step from rest.
type windup struct{ cross, leave, peak float64 }

func runWindup(t *testing.T, mode AntiWindup, tt float64) (w windup, r float64) {
	t.Helper()
	var in struct {
		PI struct{ Kc, TauI float64 }
		U  [2]float64
		R  float64
	}
	var expected any
	entry(t, "windup_no_aw", &in, &expected)
	cfg := Config{K: in.PI.Kc, Ti: in.PI.TauI, B: 1, Min: in.U[0], Max: in.U[1],
		AntiWindup: mode, Tt: tt}
	plant := lag{gain: 0.5, tau: 1}
	st := State{Begun: true, R: in.R} // at rest: y and the integral are zero
	const h = 0.0005
	for i := range int(10 / h) {
		var out Output
		var err error
		st, out, err = Step(cfg, st, Input{H: h, R: in.R, Y: plant.y})
		require.NoError(t, err)
		now := float64(i) * h
		if w.leave == 0 && out.V < cfg.Max {
			w.leave = now
		}
		if w.cross == 0 && plant.y > in.R {
			w.cross = now
		}
		w.peak = max(w.peak, plant.y)
		plant.step(out.U, h)
	}
	return w, in.R
}

func TestWindupWithout(t *testing.T) {
	var in any
	var want struct {
		Cross float64 `json:"t_cross"`
		Leave float64 `json:"t_leave_saturation"`
		Peak  float64 `json:"y_max"`
	}
	entry(t, "windup_no_aw", &in, &want)
	got, _ := runWindup(t, None, 0)
	assert.InDelta(t, want.Cross, got.cross, 0.005)
	assert.InDelta(t, want.Leave, got.leave, 0.005)
	assert.InDelta(t, want.Peak, got.peak, 0.005)
}

func TestWindupBackCalculation(t *testing.T) {
	var in struct{ Tt float64 }
	var want struct {
		Leave float64 `json:"t_leave_saturation"`
		Over  float64 `json:"overshoot"`
	}
	entry(t, "windup_backcalc", &in, &want)
	got, r := runWindup(t, BackCalculation, in.Tt)
	assert.InDelta(t, want.Leave, got.leave, 0.005)
	assert.InDelta(t, r+want.Over, got.peak, 0.005)
}

// With the integral held at zero the output leaves its limit where 8 (0.4 - y) = 1, that is at
// y = 0.275 on 0.5 (1 - exp(-t)); from there y = 0.4 - 0.0917 exp(-t) - 0.0333 exp(-4t), by
// hand, which never crosses the setpoint.
func TestWindupConditional(t *testing.T) {
	got, r := runWindup(t, Conditional, 0)
	assert.InDelta(t, -math.Log(1-0.275/0.5), got.leave, 0.002)
	assert.LessOrEqual(t, got.peak, r+1e-6)
	assert.Greater(t, got.peak, r-0.001)
}

// The integral of the error after a load step is the step times Ti/K: what the integral part
// must take over, whatever the plant (Åström and Hägglund, from memory).
func TestLoadStep(t *testing.T) {
	for name, h := range map[string]func(*rand.Rand) float64{
		"even":   func(*rand.Rand) float64 { return 0.25 },
		"uneven": func(r *rand.Rand) float64 { return 0.05 + r.Float64() },
	} {
		t.Run(name, func(t *testing.T) {
			cfg := Config{K: 0.02, Ti: 150, Td: 15, N: 8, B: 0.6, Max: 1}
			const load, r = -0.1, 200.0
			plant := lag{gain: 600, tau: 550, y: r}
			rest := r / plant.gain
			st := Preset(cfg, rest, r, r)
			random := rand.New(rand.NewPCG(1, 2))
			area := 0.0
			for now := 0.0; now < 6000; {
				dt := h(random)
				next, out, err := Step(cfg, st, Input{H: dt, R: r, Y: plant.y})
				require.NoError(t, err)
				require.Equal(t, out.V, out.U, "a small load must not saturate")
				st = next
				area += r*dt - plant.step(out.U+load, dt)
				now += dt
			}
			assert.InDelta(t, rest-load, st.V, 1e-6, "the loop must have settled")
			assert.InEpsilon(t, -load*cfg.Ti/cfg.K, area, 0.001)
		})
	}
}

// On a ramp R the error settles at R Ti/(K Kp); a setpoint weight below 1 adds R Ti (1-b),
// because the integral has to carry the rest of the setpoint (both from the final value).
func TestRampError(t *testing.T) {
	var in struct{ R, K, Ti, Kp float64 }
	var want struct{ E float64 }
	entry(t, "ramp_error", &in, &want)
	for _, b := range []float64{1, 0.9, 0.6, 0} {
		cfg := Config{K: in.K, Ti: in.Ti, B: b, Min: -100, Max: 100}
		plant := lag{gain: in.Kp, tau: 600}
		st := Preset(cfg, 0, 0, 0)
		const h = 0.25
		e := 0.0
		for i := range int(6000 / h) {
			r := in.R * float64(i) * h
			e = r - plant.y
			next, out, err := Step(cfg, st, Input{H: h, R: r, Y: plant.y})
			require.NoError(t, err)
			st = next
			plant.step(out.U, h)
		}
		assert.InEpsilon(t, want.E+in.R*in.Ti*(1-b), e, 0.02, "b %v", b)
	}
}
