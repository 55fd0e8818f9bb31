package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/plant"
	"strawline/probe/temp"
	"strawline/profiles"
)

// TestCautiousGainsHardlyOvershoot runs cold starts to 400 °F on the reference ovens for two and
// a half hours and looks at the probe itself, without its noise.
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
