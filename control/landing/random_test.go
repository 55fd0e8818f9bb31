package landing_test

import (
	"math"
	"math/rand/v2"

	"strawline/probe/plant"
	"strawline/probe/temp"
)

// nearA draws an oven around A: heater power, wall mass and loss, probe lag and delay each
// within ±50 %.
func nearA(seed uint64) plant.Params {
	r := rand.New(rand.NewPCG(seed, 500))
	f := func() float64 { return 0.5 + r.Float64() }
	p := plant.A()
	p.HeaterW *= f()
	p.WallHeat *= f()
	p.Gap *= f()
	p.ProbeLag *= f()
	p.Delay = math.Round(p.Delay*f()*4) / 4
	return p
}

// wide draws from the ranges of the design study's own set; an oven that holds 200 °C at less
// than 0.06 or more than 0.60 of its power is drawn again.
func wide(seed uint64) plant.Params {
	r := rand.New(rand.NewPCG(seed, 501))
	lu := func(a, b float64) float64 { return math.Exp(math.Log(a) + r.Float64()*math.Log(b/a)) }
	for {
		p := plant.A()
		f, g := lu(0.6, 1.8), lu(0.1, 6)
		p.Gap = lu(0.8, 5)
		p.HeaterW, p.WallHeat, p.WallAir = lu(700, 3500), lu(500, 5000), lu(4, 25)
		p.ProbeLag, p.Delay = lu(4, 70), math.Round((1+19*r.Float64())*4)/4
		p.ProbeAirShare = 0.4 + 0.6*r.Float64()
		p.ElementHeat, p.ElementArea = 125*f, 0.023*f*lu(0.7, 1.4)
		p.ElementAir = lu(8, 40)
		p.Blade.Mass, p.Blade.Area, p.Blade.Air = 0.314*g, 0.0223*g, lu(5, 25)
		p.Room, p.Leak = temp.C(5+30*r.Float64()), lu(0.1, 1)
		p.CaseHeat, p.AirHeat = lu(400, 2500), lu(8, 30)
		if _, u, err := plant.At(p, setC); err == nil && u >= 0.06 && u <= 0.6 {
			return p
		}
	}
}

// fullPower is the time at full power until the probe reads the heat, s.
func fullPower(p plant.Params) float64 {
	o := plant.New(p, p.Room)
	for i := range 4 * 9000 {
		o.Step(p.HeaterW)
		if o.Probe() >= setC {
			return float64(i+1) / 4
		}
	}
	return math.NaN()
}
