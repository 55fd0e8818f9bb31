package belief

import (
	"math"
	"math/rand/v2"
	"time"

	"strawline/probe"
	"strawline/probe/plant"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

const chip = "MAX31855K"

// shop is an oven of reference with a chip before it, a person and a controller: what a clean
// day looks like, and what faults look like on request.
type shop struct {
	oven    *plant.Oven
	p       plant.Params
	rng     *rand.Rand
	uniform float64 // °C, the noise before the chip counts: ± this
	sigma   float64 // °C, or Gaussian
	cold    float64 // °C, of the cold junction
	box     float64 // °C above the room, where the cold junction ends
	coldSd  float64
	gain    float64 // duty a °C
	ti      float64 // s
	ramp    float64 // °C/s; 0 a step
	sag     float64 // share of the power that the mains give, 1

	now      time.Duration
	set      float64
	integral float64
	duty     float64
	manual   bool // duty stays as it is
	filtered float64
	cfg      Config
	st       State
	word     uint32
	reversed bool
	stuck    bool // the word stays as it is
	plain    bool // the chip is a rounding to 0.25 °C, and its cold junction stands still
	asF      bool // degrees Fahrenheit taken for Celsius
}

// noises are those of the clean hours: the simulated board's, three quiet ones, none.
var noises = []struct{ uniform, sigma float64 }{{0.5, 0}, {0, 0.1}, {0, 0.05}, {0, 0.02}, {0, 0}}

func newShop(seed uint64) *shop {
	rng := rand.New(rand.NewPCG(seed, 5))
	p := plant.A()
	if seed%2 == 0 {
		p = plant.B()
	}
	p.Room = temp.C(5 + 28*rng.Float64())
	n := noises[seed/2%uint64(len(noises))]
	s := &shop{p: p, rng: rng, uniform: n.uniform, sigma: n.sigma, sag: 1, cfg: Default()}
	s.box = 1 + 7*rng.Float64()
	s.cold = float64(p.Room) + s.box*rng.Float64()
	s.coldSd = []float64{0, 0.02, 0.06}[rng.IntN(3)]
	s.gain = 0.01 * math.Exp(1.2*rng.Float64())
	s.ti = 150 + 300*rng.Float64()
	if rng.IntN(3) == 0 {
		s.ramp = (2 + 6*rng.Float64()) / 60
	}
	s.start(p.Room)
	return s
}

func (s *shop) start(at temp.C) {
	s.oven = plant.New(s.p, at)
	s.filtered = float64(at)
	s.set = float64(at)
}

// read is one conversion. With leads the wrong way round the chip sees the voltage with its
// sign turned, which on a straight line is twice the cold junction less the truth.
func (s *shop) read() probe.Reading {
	hot := float64(s.oven.Probe())
	if s.reversed {
		hot = 2*s.cold - hot
	}
	hot += s.uniform*(2*s.rng.Float64()-1) + s.sigma*s.rng.NormFloat64()
	if s.plain {
		return probe.Reading{At: s.now, Channel: 1, Hot: temp.C(math.Round(4*hot) / 4),
			Cold: temp.C(s.cold), HasCold: true}
	}
	c := s.cold + s.coldSd*s.rng.NormFloat64()
	if !s.stuck {
		s.word = thermocouple.Word(chip, temp.C(hot), temp.C(c), probe.FaultNone)
	}
	h, cj, fault := thermocouple.Decode(chip, s.word)
	if s.asF {
		h = temp.C(h.F())
	}
	return probe.Reading{At: s.now, Channel: 1, Hot: h, Cold: cj, HasCold: true, Fault: fault,
		Raw: s.word}
}

// step is a quarter of a second of the shop.
func (s *shop) step(target float64) Verdict {
	s.oven.Step(s.duty * s.sag * s.p.HeaterW)
	s.now += beat
	if !s.plain {
		s.cold += (float64(s.p.Room) + s.box - s.cold) * 0.25 / 1200
	}
	var v Verdict
	s.st, v = Step(s.cfg, s.st, Input{Reading: s.read(), Duty: s.duty})
	if v.Good {
		s.filtered = float64(v.Filtered)
	}
	s.control(target)
	return v
}

// control is a PI law with conditional integration and limits of 0 to 1, whose setpoint goes up
// a ramp or in one step.
func (s *shop) control(target float64) {
	if s.manual {
		return
	}
	if target <= 0 {
		s.duty, s.integral, s.set = 0, 0, s.filtered
		return
	}
	if s.ramp > 0 && s.set < target {
		s.set = min(target, s.set+s.ramp*0.25)
	} else {
		s.set = target
	}
	e := s.set - s.filtered
	u := s.gain*e + s.integral
	if u > 0 && u < 1 || u >= 1 && e < 0 || u <= 0 && e > 0 {
		s.integral += s.gain * e * 0.25 / s.ti
	}
	s.duty = math.Round(1000*min(1, max(0, u))) / 1000
}

// run goes on for a time with a target, 0 for no heat.
func (s *shop) run(d time.Duration, target float64, see func(Verdict)) {
	for range int(d / beat) {
		see(s.step(target))
	}
}

// bad says that a verdict is one of those that clean hours must not have.
func bad(v Verdict) bool {
	return v.Warn != "" || v.Why == WhyFrozen || v.Why == WhyReversed || v.Why == WhyCold
}
