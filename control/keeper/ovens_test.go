package keeper

import (
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/tune"
	"strawline/probe/plant"
	"strawline/probe/temp"
)

// ciVariable makes some tests take longer, as .ci/run does.
const ciVariable = "STRAWLINE_CI"

// heldOut is the first seed of .ci/long guard less its part: seeds that nothing was tuned on.
const heldOut = 6000

// wholeSize says how much the injections and the clean hours do: a little, more in .ci/run, or one
// part of .ci/long guard, whose parts have seeds of their own.
func wholeSize(t *testing.T) (seed uint64, times, days int) {
	if s := os.Getenv(partVariable); s != "" {
		part, err := strconv.ParseUint(s, 10, 32)
		require.NoError(t, err, partVariable)
		return heldOut + part, 10, 21
	}
	if os.Getenv(ciVariable) == "1" {
		return 1, 10, 8
	}
	return 1, 1, 2
}

// oven is one that a model is known of, with the gains that a person would have for it.
type oven struct {
	plant plant.Params
	model *control.ModelInfo
	gains control.Gains
	noise float64 // the readings' noise is uniform, ± so many °C
}

// varied gives an oven whose figures are within ±50 % of p's, in a room of 10 to 30 °C.
func varied(r *rand.Rand, p plant.Params) plant.Params {
	for _, v := range []*float64{&p.HeaterW, &p.ElementHeat, &p.WallHeat, &p.Gap, &p.CaseHeat,
		&p.Leak, &p.ProbeLag, &p.Delay, &p.DoorExchange, &p.Blade.Mass} {
		*v *= 0.5 + r.Float64()
	}
	p.Room = temp.C(10 + 20*r.Float64())
	return p
}

// usable says that the oven holds 230 °C with no more than 0.6 of its heater.
func usable(p plant.Params) bool {
	o, err := plant.Steady(p, 0.6)
	return err == nil && o.Probe() > 230 && p.Check() == nil
}

// newOven gives A and B, each once in four, or an oven within ±50 % of them; a slow probe has a
// lag of 45 to 67 s, up to half more than B's. Half have the gains that a test finds and half the
// cautious ones.
func newOven(r *rand.Rand, n int, noise float64, slow bool) oven {
	base := [2]plant.Params{plant.A(), plant.B()}[n%2]
	for {
		o := oven{plant: base, noise: noise, gains: control.CautiousGains()}
		if n%4 >= 2 {
			o.plant = varied(r, base)
		}
		if slow {
			o.plant.ProbeLag = 45 + 22*r.Float64()
		}
		if usable(o.plant) && o.test(r, n%8 >= 4) {
			return o
		}
	}
}

// test finds the model as a cold start of the oven shows it, and the duty that holds 200 °C.
func (o *oven) test(r *rand.Rand, gains bool) bool {
	p := o.plant
	cold := plant.New(p, p.Room)
	var rec tune.Record
	for s := 0; s < 3600 && (s < 30 || cold.Probe() < 205); s++ {
		duty := 0.0
		if s >= 30 {
			duty = 1
		}
		rec = append(rec, tune.Sample{T: float64(s), Duty: duty,
			Y: float64(cold.Probe()) + max(o.noise, 0.1)*(2*r.Float64()-1)})
		for range 4 {
			cold.Step(duty * p.HeaterW)
		}
	}
	f, err := tune.ColdStart(rec)
	if err != nil {
		return false
	}
	_, hold, err := plant.At(p, 200)
	if err != nil {
		return false
	}
	m := f.Model
	o.model = &control.ModelInfo{SlopeCS: m.Slope(), TimeS: m.T, SecondS: m.T2, DeadS: m.L,
		HoldPM: 1000 * hold, HoldC: 200, NoiseC: f.Sigma, StartS: f.Checks[0].Model.L,
		From: "found 2026-01-01"}
	if !gains {
		return true
	}
	best, _, _, err := tune.Recommend(m, tune.Noise{Sigma: f.Sigma, Every: 1}, 2)
	if g := best.Gains; err == nil {
		o.gains = control.Gains{Kp: g.K, TiS: g.Ti, TdS: g.Td, Weight: g.B, From: "SIMC"}
	}
	return err == nil
}
