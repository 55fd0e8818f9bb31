package landing_test

import (
	"math"
	"math/rand/v2"
	"time"

	"strawline/control/landing"
	"strawline/control/pid"
	"strawline/control/tune"
	"strawline/probe/plant"
)

// setC is the heat that every yardstick heats to, °C.
const setC = 200.0

// bench is a simulated oven behind a board: uniform noise of ±0.5 °C, rounding to 0.25 °C and a
// window in steps of 10 ms, the conditions of the published table.
type bench struct {
	p      plant.Params
	oven   *plant.Oven
	rand   *rand.Rand
	every  float64 // s between readings
	window float64
	t      float64
	on     float64 // s of the window that is under way
	power  float64 // of the mains, as a share
}

func newBench(p plant.Params, seed uint64, every float64) *bench {
	return &bench{p: p, oven: plant.New(p, p.Room), rand: rand.New(rand.NewPCG(seed, 7)),
		every: every, window: 2, power: 1}
}

// read gives one reading.
func (b *bench) read() float64 {
	return math.Round((float64(b.oven.Probe())+b.rand.Float64()-0.5)*4) / 4
}

// heat goes on by one reading's time with the duty u, which counts from the next window on.
func (b *bench) heat(u float64) {
	const dt = 0.25
	for range int(math.Round(b.every / dt)) {
		at := math.Mod(b.t, b.window)
		if at < 1e-9 || b.window-at < 1e-9 {
			at = 0
			b.on = math.Round(min(1, max(0, u))*b.window/0.01) * 0.01
		}
		share := max(0, min(b.on, at+dt)-at) / dt
		b.oven.Step(share * b.p.HeaterW * b.power)
		b.t += dt
	}
}

// cautious are gains where nothing is known, as the engine has them.
func cautious() pid.Config {
	return pid.Config{K: 0.03, Ti: 400, Td: 25, N: 8, B: 1, Min: 0, Max: 1}
}

// drive is a law on a bench.
type drive struct {
	*bench
	law *landing.Law
	u   float64
	out landing.Output
}

func newDrive(b *bench, cfg landing.Config) *drive {
	cfg.Window = b.window
	if cfg.Gains.K == 0 {
		cfg.Gains = cautious()
	}
	l, err := landing.New(cfg)
	if err != nil {
		panic(err)
	}
	return &drive{bench: b, law: l}
}

func (d *drive) step(r float64) {
	var err error
	d.out, err = d.law.Step(landing.Input{H: d.every, R: r, Y: d.read(),
		Room: float64(d.p.Room), Applied: d.u})
	if err != nil {
		panic(err)
	}
	d.u = d.out.U
	d.heat(d.u)
}

// tuned is what the oven's own test came to.
type tuned struct {
	model landing.Model
	over  float64 // of the first start, °C
	why   string
	took  time.Duration
}

// tuneItself lets the law heat an oven of which nothing is known and tests it there by a relay.
func tuneItself(p plant.Params, seed uint64, every float64) (r tuned) {
	b := newBench(p, seed, every)
	d := newDrive(b, landing.Config{})
	r.over = math.Inf(-1)
	calm, sum, n := 0.0, 0.0, 0.0
	for d.t < 10000 {
		d.step(setC)
		r.over = max(r.over, float64(b.oven.Probe())-setC)
		if d.out.Phase != landing.Hold && d.out.Phase != landing.Settle ||
			math.Abs(float64(b.oven.Probe())-setC) > 3 {
			calm, sum, n = 0, 0, 0
			continue
		}
		calm += every
		if calm > 120 {
			sum += d.u
			n++
		}
		if calm > max(300, 12*d.out.Learnt.Lag()) && n > 0 {
			break
		}
	}
	m := d.out.Learnt
	relay := tune.Relay{Hold: sum / max(1, n), Slope: m.K, Lag: m.Lag(), Sigma: 0.3, LSB: 0.25,
		Limit: setC + 40, Window: b.window}
	var rec tune.Record
	for {
		y := b.read()
		u, done, why := relay.Step(b.t, y)
		rec = append(rec, tune.Sample{T: b.t, Y: y, Duty: u})
		if done {
			r.why = why
			break
		}
		b.heat(u)
	}
	r.took = time.Duration(b.t * float64(time.Second))
	if r.why != tune.WhyGood {
		return r
	}
	var ok bool
	if r.model, ok = landing.Fit(rec, relay.Hold, m.Lag()); !ok {
		r.why = "no fit"
		return r
	}
	r.model.Start = m.Lag()
	return r
}

// score is one law or loop on one oven.
type score struct {
	reach, over, settle, rms float64
	rebound, recovery, mains float64
	odd                      bool
}

// controller gives the duty for a reading; it is made anew for each run.
type controller func(b *bench) func(r, y float64) float64

// soak runs span seconds and tells each second of it.
func play(b *bench, c controller, span float64, at func(t float64), tell func(t, off float64)) {
	step := c(b)
	next := 1.0
	for b.t < span {
		if at != nil {
			at(b.t)
		}
		b.heat(step(setC, b.read()))
		for b.t >= next-1e-9 {
			tell(next, float64(b.oven.Probe())-setC)
			next++
		}
	}
}

// measure runs the three runs of the table: a quiet one, one with a door, one with the mains.
func measure(p plant.Params, seed uint64, every float64, c controller) (s score) {
	s.reach, s.settle, s.over = math.NaN(), 1, math.Inf(-1)
	sum, n := 0.0, 0.0
	play(newBench(p, seed, every), c, 9001, nil, func(t, off float64) {
		if math.IsNaN(s.reach) && off >= -1 {
			s.reach = t
		}
		s.over = max(s.over, off)
		if math.Abs(off) > 1 {
			s.settle = t + 1
		}
		if t > 1800 && t <= 9000 {
			sum, n = sum+off*off, n+1
		}
	})
	if s.settle > 9001 {
		s.settle = math.NaN()
	}
	s.rms = math.Sqrt(sum / n)
	b := newBench(p, seed, every)
	s.rebound = math.Inf(-1)
	play(b, c, 8000, func(t float64) { b.oven.SetDoor(t >= 5400 && t < 5420) }, func(t, off float64) {
		if t > 5420 && t <= 7200 {
			s.rebound = max(s.rebound, off)
		}
		if t > 5400 && math.Abs(off) > 1 {
			s.recovery = t - 5400
		}
	})
	b = newBench(p, seed, every)
	play(b, c, 5400, func(t float64) {
		if b.power = 1; t >= 3600 {
			b.power = 0.9025
		}
	}, func(t, off float64) {
		if t > 3600 {
			s.mains = max(s.mains, -off)
		}
	})
	return s
}

// ours is the law with a model.
func ours(m landing.Model) controller {
	return func(b *bench) func(r, y float64) float64 {
		d := newDrive(b, landing.Config{Model: m})
		return func(r, y float64) float64 {
			out, err := d.law.Step(landing.Input{H: b.every, R: r, Y: y, Room: float64(b.p.Room),
				Applied: d.u})
			if err != nil {
				panic(err)
			}
			d.u = out.U
			return out.U
		}
	}
}
