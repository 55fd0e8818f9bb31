package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/plant"
	"strawline/probe/temp"
	"strawline/profiles"
)

// TestCautiousGainsHardlyOvershoot runs cold starts to 400 °F on the reference ovens, with and
// without a blade, for two and a half hours and looks at the probe itself, without its noise. It is
// the landing that brings them up, from what it learns on the way.
func TestCautiousGainsHardlyOvershoot(t *testing.T) {
	p := profiles.Profile{Name: "t", Unit: temp.Fahrenheit, Limit: 240, Longest: 10 * time.Hour,
		Steps: []profiles.Step{{Kind: profiles.Soak, To: temp.F(400), For: 9 * time.Hour, Band: 5}}}
	worst := temp.Delta(0)
	for name, oven := range map[string]plant.Params{"A": plant.A(), "B": plant.B()} {
		for _, empty := range []bool{false, true} {
			b := newBench(t, p)
			b.oven = plant.New(oven, 22)
			if empty {
				b.oven.BladeOut()
			}
			over, reached := temp.Delta(-500), time.Duration(0)
			for b.now < 150*time.Minute {
				b.step()
				over = max(over, b.oven.Probe().Sub(temp.F(400)))
				if reached == 0 && over > -5 {
					reached = b.now
				}
			}
			t.Logf("oven %s, empty %t: over by %.2f °C; within 5 °C at %v", name, empty, over, reached)
			require.Positive(t, reached, "it comes there at all")
			worst = max(worst, over)
		}
	}
	require.LessOrEqual(t, worst, temp.Delta(1.5))
}

// TestCautiousGainsHoldAWarmOven begins on ovens that are warm from before, where no cold start
// teaches the law the oven and the gains alone bring it up: another order of them swings or creeps.
func TestCautiousGainsHoldAWarmOven(t *testing.T) {
	p := profiles.Profile{Name: "t", Unit: temp.Fahrenheit, Limit: 240, Longest: 10 * time.Hour,
		Steps: []profiles.Step{{Kind: profiles.Soak, To: temp.F(400), For: 9 * time.Hour, Band: 5}}}
	for name, params := range map[string]plant.Params{"A": plant.A(), "B": plant.B()} {
		for _, from := range []temp.C{60, 100, 150, 190} {
			b := newBench(t, p)
			oven, _, err := plant.At(params, from)
			require.NoError(t, err)
			b.oven = oven
			over, rest, reached := temp.Delta(-500), temp.Delta(0), time.Duration(0)
			for b.now < 75*time.Minute {
				b.step()
				off := b.oven.Probe().Sub(temp.F(400))
				over = max(over, off)
				if reached == 0 && off > -5 {
					reached = b.now
				}
				if b.now > time.Hour {
					rest = max(rest, off, -off)
				}
			}
			t.Logf("oven %s from %v °C: over by %.2f °C, within 5 °C at %v, at rest within %.2f °C",
				name, float64(from), over, reached, rest)
			require.LessOrEqual(t, over, temp.Delta(1.3), "oven %s from %v", name, from)
			require.LessOrEqual(t, rest, temp.Delta(0.1), "oven %s from %v", name, from)
			require.Less(t, reached, 10*time.Minute, "oven %s from %v", name, from)
		}
	}
}
