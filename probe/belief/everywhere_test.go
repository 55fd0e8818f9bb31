package belief

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/plant"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// TestFrozenAnywhereInAColdStart freezes the chip at each of many moments of a heat-up at full
// duty, with noise and without: found within 75 s wherever the rise was quick, and within three
// minutes and a little everywhere.
func TestFrozenAnywhereInAColdStart(t *testing.T) {
	for _, noise := range []float64{0.5, 0.25, 0.1, 0} {
		for at := 30; at <= 200; at += 7 {
			for seed := range uint64(4) {
				rnd := rand.New(rand.NewPCG(seed, uint64(at)))
				oven := plant.New(plant.A(), 22)
				oven.BladeOut()
				var st State
				var v Verdict
				cfg, word, now := Default(), uint32(0), time.Duration(0)
				freeze, within := time.Duration(at)*time.Second, 75*time.Second
				if at < 60 { // the rise is not established yet
					within = fullShows + 15*time.Second
				}
				for v.Why != WhyFrozen {
					oven.Step(plant.A().HeaterW)
					if now < freeze {
						hot := oven.Probe().Add(temp.Delta((rnd.Float64()*2 - 1) * noise))
						word = thermocouple.Word("MAX31855K", hot, 24, probe.FaultNone)
					}
					hot, cold, fault := thermocouple.Decode("MAX31855K", word)
					st, v = Step(cfg, st, Input{Duty: 1, Reading: probe.Reading{At: now, Channel: 1,
						Hot: hot, Cold: cold, HasCold: true, Fault: fault, Raw: word}})
					now += 250 * time.Millisecond
					if now < freeze {
						require.True(t, v.Good, "noise %v, seed %d, %v: %s", noise, seed, now, v.Why)
					}
					require.LessOrEqual(t, now-freeze, within,
						"noise %v, frozen at %v, seed %d", noise, freeze, seed)
				}
			}
		}
	}
}
