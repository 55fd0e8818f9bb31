package tune

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"strawline/probe/plant"
	"strawline/probe/temp"
)

// gauge is how an oven is read: noise uniform within ± noise, rounded to lsb, once in every.
type gauge struct {
	noise, lsb, every float64
	random            *rand.Rand
}

func newGauge(noise, lsb, every float64, seed uint64) *gauge {
	return &gauge{noise, lsb, every, rand.New(rand.NewPCG(seed, 7))}
}

func (g *gauge) read(y float64) float64 {
	y += g.noise * (2*g.random.Float64() - 1)
	if g.lsb > 0 {
		y = math.Round(y/g.lsb) * g.lsb
	}
	return y
}

// shop is an oven of probe/plant behind its window: the duty is latched every 2 s and spread
// over it in steps of 10 ms, as the reference study has it.
type shop struct {
	oven   *plant.Oven
	watts  float64
	gauge  *gauge
	ticks  int
	onTime float64
	spread bool // no window: the duty acts evenly
}

// advance gives one sample at the present time and then lets the duty act for g.every.
func (s *shop) advance(duty float64) {
	const window, tick = 2.0, 0.25
	for range int(s.gauge.every / tick) {
		if s.spread {
			s.oven.Step(s.watts * duty)
			s.ticks++
			continue
		}
		phase := math.Mod(float64(s.ticks)*tick, window)
		if phase == 0 {
			s.onTime = math.Round(duty*window/0.01) * 0.01
		}
		on := min(max(s.onTime-phase, 0), tick)
		s.oven.Step(s.watts * on / tick)
		s.ticks++
	}
}

func (s *shop) now() float64 { return float64(s.ticks) * 0.25 }

// run records with a duty that depends on the time, until the end, s.
func (s *shop) run(end float64, duty func(now float64) float64) Record {
	var r Record
	for s.now() < end {
		u := duty(s.now())
		r = append(r, Sample{T: s.now(), Y: s.gauge.read(float64(s.oven.Probe())), Duty: u})
		s.advance(u)
	}
	return r
}

// steadyAt gives an oven that has settled, and its duty, which the window spreads exactly.
func steadyAt(t testing.TB, p plant.Params, at temp.C, g *gauge) (*shop, float64) {
	t.Helper()
	_, duty, err := plant.At(p, at)
	require.NoError(t, err)
	duty = math.Round(duty*200) / 200
	oven, err := plant.Steady(p, duty)
	require.NoError(t, err)
	return &shop{oven: oven, watts: p.HeaterW, gauge: g}, duty
}

func coldOven(p plant.Params, g *gauge) *shop {
	return &shop{oven: plant.New(p, p.Room), watts: p.HeaterW, gauge: g}
}

// heatUp is a cold start: 60 s of no heat, then full power to 195 °C.
func heatUp(p plant.Params, g *gauge) Record {
	s := coldOven(p, g)
	var r Record
	for {
		u := 1.0
		if s.now() < 60 {
			u = 0
		}
		y := float64(s.oven.Probe())
		r = append(r, Sample{T: s.now(), Y: g.read(y), Duty: u})
		if y >= 195 {
			return r
		}
		s.advance(u)
	}
}

// stepUp is a step test at 190 °C by 5 %, after that long a baseline, s.
func stepUp(t testing.TB, p plant.Params, g *gauge, base, after float64) Record {
	s, u0 := steadyAt(t, p, 190, g)
	return s.run(base+after, func(now float64) float64 {
		if now < base {
			return u0
		}
		return u0 + 0.05
	})
}

// relayAt runs the state machine at 200 °C and gives the record.
func relayAt(t testing.TB, p plant.Params, g *gauge, plan Relay) (Record, string) {
	s, u0 := steadyAt(t, p, 200, g)
	plan.Hold, plan.Limit = u0, 230
	var r Record
	for s.now() < 7200 {
		y := g.read(float64(s.oven.Probe()))
		u, done, why := plan.Step(s.now(), y)
		r = append(r, Sample{T: s.now(), Y: y, Duty: u})
		if done {
			return r, why
		}
		s.advance(u)
	}
	return r, "not done in two hours"
}
