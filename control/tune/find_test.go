package tune

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control/pid"
)

// wholeRun is a run as a person makes it: a minute without heat, full heat to near 195 °C, then
// a PID until the reading has settled for some time, and after that whatever test next makes.
func wholeRun(t *testing.T, s *shop, settle float64,
	next func(now, y, hold float64) (float64, bool)) Record {
	t.Helper()
	var r Record
	m := Model{Kind: Integrating, Kv: 1, L: 30}
	cfg := pid.Config{K: SIMC(m, 30).Kc, Ti: 240, B: 1, Max: 1, Tf: 3}
	var st pid.State
	phase, until, sum, n, hold := 0, 0.0, 0.0, 0.0, 0.0
	duty := 0.0
	for {
		now, y := s.now(), s.gauge.read(float64(s.oven.Probe()))
		switch {
		case phase == 0 && now >= 60:
			phase, duty = 1, 1
		case phase == 1 && y > 185:
			phase, until = 2, now+settle
			st = pid.Preset(cfg, 0.2, 200, y)
		case phase == 2 && math.Mod(now, 2) == 0:
			var out pid.Output
			var err error
			st, out, err = pid.Step(cfg, st, pid.Input{H: 2, R: 200, Y: y})
			require.NoError(t, err)
			duty = math.Round(out.U*1000) / 1000
			if now > until-300 {
				sum, n = sum+duty, n+1
			}
			if now >= until {
				phase, hold = 3, math.Round(200*sum/n)/200
			}
		}
		if phase == 3 {
			var done bool
			if duty, done = next(now, y, hold); done {
				return append(r, Sample{T: now, Y: y, Duty: duty})
			}
		}
		r = append(r, Sample{T: now, Y: y, Duty: duty})
		s.advance(duty)
	}
}

// A whole run is searched for its test: the relay test or the step test at its end, else the
// cold start at its beginning. The oven has not come to rest when the tests begin, as in a shop.
func TestIdentifyWholeRuns(t *testing.T) {
	for oven, x := range slopes() {
		var machine Relay
		started := math.Inf(1)
		tests := map[string]func(now, y, hold float64) (float64, bool){
			"relay test": func(now, y, hold float64) (float64, bool) {
				if machine.Hold == 0 {
					machine = Relay{Hold: hold, Slope: x.slope, Lag: 30, Sigma: 0.29, LSB: 0.25,
						Limit: 230, Window: 2}
				}
				u, done, why := machine.Step(now, y)
				if done {
					require.Equal(t, WhyGood, why)
				}
				return u, done
			},
			"step test": func(now, _, hold float64) (float64, bool) {
				started = min(started, now)
				if now < started+240 {
					return hold, false
				}
				return hold + 0.1, now > started+840
			},
			"cold start": func(float64, float64, float64) (float64, bool) { return 0, true },
		}
		for name, next := range tests {
			for _, settle := range []float64{1500, 4000} {
				machine, started = Relay{}, math.Inf(1)
				s := coldOven(x.params, newGauge(0.5, 0.25, 0.25, 5))
				r := wholeRun(t, s, settle, next)
				f, err := Identify(r)
				require.NoError(t, err)
				assert.Equal(t, name, f.Test)
				off := f.Model.Slope() / x.slope
				t.Logf("oven %s, %s after %.0f s: %s, K/T %.2f of the step fit's, lag %.1f s", oven,
					name, settle, f.Model.Kind, off, f.Model.Lag())
				assert.InDelta(t, 1, off, 0.15)
			}
		}
	}
}

// What carries nothing says what was tried.
func TestIdentifyRefuses(t *testing.T) {
	_, err := Identify(nil)
	require.Error(t, err)
	oven := Model{Kind: First, K: 500, T: 450, L: 30}
	read := newGauge(0.5, 0.25, 1, 4)
	_, err = Identify(exact(oven, 1, 20, read, stepped(0.3, 0.1, 200, 100)))
	require.Error(t, err)
	var refusal *Refusal
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t, TooShort, refusal.Reason)
	assert.Contains(t, err.Error(), "\n", "both refusals are told")
}
