package landing_test

import (
	"math"

	"strawline/control/landing"
	"strawline/control/pid"
	"strawline/control/tune"
	"strawline/probe/plant"
)

// cautious are gains of which nobody knows whether they fit, as the engine's.
func cautious() pid.Config {
	return pid.Config{K: 0.03, Ti: 400, Td: 25, N: 8, B: 1, Min: 0, Max: 1}
}

// drive is our law as a board's readings drive it.
type drive struct {
	law   *landing.Law
	every float64
	room  float64
	u     float64
	out   landing.Output
}

func newDrive(p plant.Params, every float64, m landing.Model) *drive {
	l, err := landing.New(landing.Config{Model: m, Gains: cautious(), Window: windowS})
	if err != nil {
		panic(err)
	}
	return &drive{law: l, every: every, room: float64(p.Room)}
}

func (d *drive) step(y float64) float64 {
	out, err := d.law.Step(landing.Input{H: d.every, R: setC, Y: y, Room: d.room, Applied: d.u})
	if err != nil {
		panic(err)
	}
	d.out, d.u = out, out.U
	return d.u
}

// ours is our law with a model.
func ours(p plant.Params, every float64, m landing.Model) maker {
	return func() duties { return newDrive(p, every, m).step }
}

// tuned is what an oven's own test came to.
type tuned struct {
	model landing.Model
	first float64 // by how much the first start, of which nothing was known, passed, °C
	why   string  // why there is no model; empty if there is
	took  float64 // s past the heat-up
}

// Figures of the test as a person makes it: the oven is left alone until it is calm.
const (
	calmFor  = 300.0 // s, and
	calmLags = 12.0
	calmOff  = 3.0 // °C
	meanOver = 120 // s after which the holding duty is taken
	testMost = 12000.0
	slack    = 40.0 // °C above the setpoint that a test may go
)

// testItself heats an oven of which nothing is known by our law, and tests it there by a relay,
// through the readings alone.
func testItself(p plant.Params, every float64, seed uint64) (r tuned) {
	d := newDrive(p, every, landing.Model{})
	relay := tune.Relay{Sigma: 0.3, LSB: lsbC, Limit: setC + slack, Window: windowS}
	var rec tune.Record
	calm, sum, n, t, begun := 0.0, 0.0, 0.0, 0.0, 0.0
	swings, done := false, false
	b := newBench(p, every, seed, func(y float64) float64 {
		t += every
		if swings {
			var duty float64
			duty, done, r.why = relay.Step(t, y)
			rec = append(rec, tune.Sample{T: t, Y: y, Duty: duty})
			return duty
		}
		u := d.step(y)
		if ph := d.out.Phase; ph != landing.Hold && ph != landing.Settle || math.Abs(y-setC) > calmOff {
			calm, sum, n = 0, 0, 0
			return u
		}
		if calm += every; calm > meanOver {
			sum, n = sum+u, n+1
		}
		if calm > max(calmFor, calmLags*d.out.Learnt.Lag()) && n > 0 {
			swings, begun = true, t
			relay.Hold, relay.Slope, relay.Lag = sum/n, d.out.Learnt.K, d.out.Learnt.Lag()
		}
		return u
	})
	r.first = math.Inf(-1)
	for until := 1; !done && t < testMost; until++ {
		b.run(until)
		if !swings {
			r.first = highest(b.probe) - setC
		}
	}
	r.took = t - begun + calmFor
	switch {
	case !done:
		r.why = "it took too long"
	case r.why == tune.WhyGood:
		m, ok := landing.Fit(rec, relay.Hold, d.out.Learnt.Lag())
		if r.why = ""; !ok {
			r.why = "the swings carry no model"
		}
		m.Start = d.out.Learnt.Lag()
		r.model = m
	}
	return r
}
