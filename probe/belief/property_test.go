package belief

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"strawline/probe"
	"strawline/probe/temp"
)

// noise is seeded, so that a test says the same every time.
type noise struct{ r *rand.Rand }

func newNoise(seed uint64) noise { return noise{rand.New(rand.NewPCG(seed, 1))} }

func (n noise) gauss() float64 { return n.r.NormFloat64() }

// anyInput draws readings that are mostly sound, and every kind that is not.
func anyInput(t *rapid.T, at time.Duration) Input {
	v := rapid.OneOf(rapid.Float64Range(190, 210), rapid.Float64Range(-300, 2000),
		rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 200})).Draw(t, "value")
	return Input{Duty: rapid.Float64Range(0, 1).Draw(t, "duty"), Reading: probe.Reading{
		At: at, Hot: temp.C(v), Raw: rapid.Uint32Range(0, 3).Draw(t, "raw"),
		Fault: rapid.SampledFrom([]probe.Fault{0, 0, 0, 0, 0, probe.FaultOpen,
			probe.FaultNoChip, probe.FaultRange}).Draw(t, "fault")}}
}

// Whatever comes, a faulty or impossible reading is never good, a refusal carries no value and
// a reason, and what is believed lies within what was read since the filter last began.
func TestWhateverComes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cfg := Default()
		cfg.Window = rapid.IntRange(-1, 9).Draw(t, "window")
		var st State
		var at time.Duration
		low, high := math.Inf(1), math.Inf(-1)
		for range rapid.IntRange(1, 60).Draw(t, "n") {
			at += time.Duration(rapid.Int64Range(0, 3e9).Draw(t, "gap"))
			in := anyInput(t, at)
			restart := st.jumps
			var v Verdict
			st, v = Step(cfg, st, in)
			hot := float64(in.Reading.Hot)
			possible := hot >= -40 && hot <= 1300
			if in.Reading.Fault != probe.FaultNone || !possible {
				assert.False(t, v.Good)
			}
			if !v.Good {
				assert.NotEmpty(t, v.Why)
				assert.True(t, math.IsNaN(float64(v.Filtered)))
				continue
			}
			assert.Empty(t, v.Why)
			if restart == cfg.Persist-1 && float64(v.Filtered) == hot && st.count == 1 {
				low, high = hot, hot // a jump that lasted began the filter anew
			}
			low, high = min(low, hot), max(high, hot)
			assert.GreaterOrEqual(t, float64(v.Filtered), low-1e-9)
			assert.LessOrEqual(t, float64(v.Filtered), high+1e-9)
			assert.Equal(t, v, Age(cfg, st, at))
			assert.Equal(t, WhyStale, Age(cfg, st, at+1501*time.Millisecond).Why)
		}
	})
}

// One spike of any size on a signal with noise of ±a moves the output by no more than the
// filter's share of what the median test lets pass: alpha·3·1.4826·max(MAD, floor), and the
// MAD of such a signal is at most 2a.
func TestOneSpikeHardlyShows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const a = 0.25
		cfg := Default()
		bound := a + (1-math.Exp(-0.125))*3*1.4826*max(2*a, 0.1)
		c := channel{cfg: cfg}
		spikeAt := rapid.IntRange(5, 25).Draw(t, "when")
		spike := rapid.OneOf(rapid.Float64Range(-10, 10),
			rapid.Float64Range(-240, 1100)).Draw(t, "spike")
		for i := range 40 {
			v := 200 + rapid.Float64Range(-a, a).Draw(t, "noise")
			if i == spikeAt {
				v = 200 + spike
			}
			out := c.read(temp.C(v), probe.FaultNone)
			if i != spikeAt {
				assert.True(t, out.Good, "only the spike itself may be refused: %s", out.Why)
			}
			if out.Good {
				assert.InDelta(t, 200, float64(out.Filtered), bound+1e-9)
			}
		}
	})
}

// A step of the signal is followed completely, however large.
func TestEveryLastingChangeIsFollowed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := channel{cfg: Default()}
		from := temp.C(rapid.Float64Range(-40, 1300).Draw(t, "from"))
		to := temp.C(rapid.Float64Range(-40, 1300).Draw(t, "to"))
		for range 10 {
			c.read(from, probe.FaultNone)
		}
		bad := 0
		var v Verdict
		for range 100 { // 25 s, more than ten time constants
			if v = c.read(to, probe.FaultNone); !v.Good {
				bad++
			}
		}
		assert.LessOrEqual(t, bad, 2)
		assert.InDelta(t, float64(to), float64(v.Filtered), 0.001)
	})
}
