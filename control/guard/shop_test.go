package guard_test

import (
	"math"
	"math/rand/v2"
	"time"

	"strawline/control/guard"
	"strawline/control/pid"
	"strawline/control/tune"
	"strawline/probe/plant"
)

// shop is an oven under a plain control law, with a guard that looks on: 4 readings a second.
type shop struct {
	rnd   *rand.Rand
	p     plant.Params
	oven  *plant.Oven
	cfg   guard.Config
	st    guard.State
	found guard.Findings // all that began so far
	last  guard.Findings
	when  [guard.Count]time.Duration
	at    time.Duration
	sigma float64 // °C of one reading
	set   float64
	duty  float64
	law   pid.Config
	lst   pid.State
	clean float64
	mains float64 // factor on the voltage
	cold  float64 // of the junction
	hands bool    // duty is set from outside

	// faults
	watts   func(duty float64) float64  // the switch and the heater
	read    func(y float64) float64     // the probe
	raw     func(v, cold uint32) uint32 // the word
	correct func(float64) float64       // of the chip's reading
	watch   func()
}

// vary gives an oven within ±50 % of p.
func vary(rnd *rand.Rand, p plant.Params) plant.Params {
	for _, v := range []*float64{&p.HeaterW, &p.ElementHeat, &p.WallHeat, &p.Gap, &p.CaseHeat,
		&p.Leak, &p.ProbeLag, &p.Delay, &p.DoorExchange, &p.Blade.Mass} {
		*v *= 0.5 + rnd.Float64()
	}
	return p
}

// ovenOf gives A, B, or one within ±50 % of either, that can hold 230 °C with 0.6 of its heater.
func ovenOf(rnd *rand.Rand, n int) plant.Params {
	base := [2]plant.Params{plant.A(), plant.B()}[n%2]
	for p := base; ; p = vary(rnd, base) {
		if n%4 >= 2 && p == base {
			continue
		}
		if o, err := plant.Steady(p, 0.6); err == nil && o.Probe() > 230 {
			return p
		}
	}
}

// model gives what a cold start at full duty finds of an oven, and the duty that held 200 °C.
func model(rnd *rand.Rand, p plant.Params, sigma float64) (guard.Model, bool) {
	o := plant.New(p, p.Room)
	var r tune.Record
	for s := 0; s < 3600 && (s < 30 || o.Probe() < 205); s++ {
		duty := 0.0
		if s >= 30 {
			duty = 1
		}
		r = append(r, tune.Sample{T: float64(s), Duty: duty,
			Y: float64(o.Probe()) + sigma*rnd.NormFloat64()})
		for range 4 {
			o.Step(duty * p.HeaterW)
		}
	}
	f, err := tune.ColdStart(r)
	if err != nil {
		return guard.Model{}, false
	}
	_, hold, err := plant.At(p, 200)
	m := f.Model
	return guard.Model{Slope: m.Slope(), Dead: m.L, Time: m.T, Hold: hold, HoldAt: 200}, err == nil
}

func newShop(seed uint64, n int, sigma float64) *shop {
	rnd := rand.New(rand.NewPCG(seed, uint64(n)))
	for {
		p := ovenOf(rnd, n)
		m, ok := model(rnd, p, max(sigma, 0.05))
		if !ok {
			continue
		}
		s := &shop{rnd: rnd, p: p, oven: plant.New(p, p.Room), sigma: sigma, mains: 1,
			cold: 24 + 4*rnd.Float64(), set: 200}
		s.cfg = guard.Config{Model: m, Sigma: sigma}
		s.law = pid.Config{K: 0.03, Ti: 400, Td: 25, N: 8, B: 1, Max: 1}
		if rnd.IntN(2) == 0 { // gains by the model, detuned as a rule would
			l := m.Dead
			s.law.K, s.law.Ti, s.law.Td = 0.3/(m.Slope*l), 8*l, 0.4*l
		}
		return s
	}
}

// step is a quarter of a second.
func (s *shop) step() {
	if s.watch != nil {
		s.watch()
	}
	w := s.duty * s.p.HeaterW
	if s.watts != nil {
		w = s.watts(s.duty)
	}
	s.oven.Step(w * s.mains * s.mains)
	s.at += 250 * time.Millisecond
	y := float64(s.oven.Probe())
	if s.read != nil {
		y = s.read(y)
	}
	v := math.Round((y+s.sigma*s.rnd.NormFloat64())*4) / 4
	c := math.Round((s.cold+0.03*s.rnd.NormFloat64())*16) / 16
	raw := uint32(int32(v*4)<<16 | int32(c*16))
	if s.raw != nil {
		raw = s.raw(raw, 0)
		v, c = float64(int32(raw)>>16)/4, float64(raw&0xffff)/16
	}
	if s.correct != nil {
		v = s.correct(v)
	}
	var f guard.Findings
	f = guard.Step(s.cfg, &s.st, guard.Input{At: s.at, Good: true, Hot: v, Read: v, Raw: raw, Cold: c,
		HasCold: true, Duty: s.duty, Set: s.set, HasSet: true, Room: 22})
	for i := range guard.Count {
		if f.Has(i) && !s.found.Has(i) {
			s.when[i] = s.at
		}
	}
	s.found |= f &^ s.last
	s.last = f
	if s.hands {
		return
	}
	next, out, err := pid.Step(s.law, s.lst, pid.Input{H: 0.25, R: s.set, Y: v})
	if err != nil {
		panic(err)
	}
	s.lst = next
	s.duty = math.Round(out.U*1000) / 1000
}

func (s *shop) run(d time.Duration) {
	for end := s.at + d; s.at < end; {
		s.step()
	}
}
