package plant

import (
	"math"
	"time"

	"strawline/probe/temp"
)

// Every is the oven time of one step.
const Every = 250 * time.Millisecond

const (
	stepS    = 0.25
	stefan   = 5.670374e-8 // Stefan-Boltzmann constant, W/(m² K⁴), CODATA 2018
	toKelvin = 273.15
)

// The places of a state.
const (
	element = iota
	air
	wall
	outer // the case
	blade
	sensor // the probe
	places
)

// state has the temperatures in °C.
type state [places]float64

// Oven is one oven under way. It is not safe for use from several goroutines.
type Oven struct {
	p      Params
	x      state
	loaded bool // a blade is in
	door   bool
	mixing []float64 // the air's temperatures during one delay, a ring
	at     int
	felt   float64 // the air as the probe feels it, one delay ago

	in, lost  float64 // J since the start
	reference float64 // the heat held at the start, and brought and taken with blades since, J
}

// New gives an oven that stands at start throughout, its door closed and p.Blade in it. The
// parameters must be such as A, B, Parse or a nil from Params.Check vouches for.
func New(p Params, start temp.C) *Oven {
	var x state
	for i := range x {
		x[i] = float64(start)
	}
	return startAt(p, x)
}

func startAt(p Params, x state) *Oven {
	o := &Oven{p: p, x: x, loaded: true, felt: x[air]}
	o.mixing = make([]float64, int(math.RoundToEven(p.Delay/stepS))+1)
	for i := range o.mixing {
		o.mixing[i] = x[air]
	}
	o.reference = o.held()
	return o
}

// Step advances the oven by 0.25 s with the heater taking so many watts all the while. What is
// not above 0 counts as 0.
func (o *Oven) Step(watts float64) {
	if !(watts > 0) {
		watts = 0
	}
	o.mixing[o.at] = o.x[air]
	o.at = (o.at + 1) % len(o.mixing)
	o.felt = o.mixing[o.at]

	s1, lost1 := o.slopes(o.x, watts)
	ahead := o.x
	for i := range ahead {
		ahead[i] += stepS * s1[i]
	}
	s2, lost2 := o.slopes(ahead, watts)
	for i := range o.x {
		o.x[i] += stepS / 2 * (s1[i] + s2[i])
	}
	o.in += stepS * watts
	o.lost += stepS / 2 * (lost1 + lost2)
}

// slopes gives how fast each temperature changes, K/s, and the heat that leaves the oven, W.
func (o *Oven) slopes(x state, watts float64) (s state, lost float64) {
	p := &o.p
	room := float64(p.Room)
	element4, wall4, case4, room4 := fourth(x[element]), fourth(x[wall]), fourth(x[outer]),
		fourth(room)

	radiated := p.ElementEmissivity * stefan * p.ElementArea * (element4 - wall4)
	elementAir := p.ElementAir * p.ElementArea * (x[element] - x[air])
	airWall := p.WallAir * p.WallArea * (x[air] - x[wall])
	gap := p.Gap*(x[wall]-x[outer]) + p.GapEmissivity*stefan*p.GapArea*(wall4-case4)
	caseRoom := p.CaseAir*p.CaseArea*(x[outer]-room) +
		p.CaseEmissivity*stefan*p.CaseArea*(case4-room4)
	leak := p.Leak * (x[air] - room)
	opening := 0.0
	if o.door {
		leak += p.DoorExchange * (x[air] - room)
		opening = p.DoorEmissivity * stefan * p.DoorArea * (wall4 - room4)
	}
	elementBlade, airBlade, wallBlade := 0.0, 0.0, 0.0
	if o.loaded {
		b := &p.Blade
		elementBlade = b.ElementShare * radiated
		airBlade = b.Air * b.Area * (x[air] - x[blade])
		wallBlade = b.Emissivity * stefan * b.Area * (wall4 - fourth(x[blade]))
		s[blade] = (airBlade + wallBlade + elementBlade) / b.heat()
	}
	s[element] = (watts - radiated - elementAir) / p.ElementHeat
	s[air] = (elementAir - airWall - airBlade - leak) / p.AirHeat
	s[wall] = (radiated - elementBlade + airWall - wallBlade - gap - opening) / p.WallHeat
	s[outer] = (gap - caseRoom) / p.CaseHeat
	follows := p.ProbeAirShare*o.felt + (1-p.ProbeAirShare)*x[wall]
	s[sensor] = (follows - x[sensor]) / p.ProbeLag
	return s, caseRoom + leak + opening
}

// fourth gives the fourth power of the absolute temperature, K⁴.
func fourth(c float64) float64 {
	k := c + toKelvin
	return k * k * k * k
}

// SetDoor opens or closes the door.
func (o *Oven) SetDoor(open bool) { o.door = open }

// BladeIn lays a blade of temperature at into the oven, in place of what lay there. The door is
// not opened by it. The blade must pass Blade.Check.
func (o *Oven) BladeIn(b Blade, at temp.C) {
	o.BladeOut()
	o.p.Blade = b
	o.loaded = true
	o.x[blade] = float64(at)
	o.reference += b.heat() * o.x[blade]
}

// BladeOut takes the blade out. An empty oven has no blade in its equations at all.
func (o *Oven) BladeOut() {
	if o.loaded {
		o.reference -= o.p.Blade.heat() * o.x[blade]
	}
	o.loaded = false
	o.x[blade] = 0
}

// Loaded reports whether a blade is in.
func (o *Oven) Loaded() bool { return o.loaded }

// Probe gives the temperature of the probe: what a perfect board would read.
func (o *Oven) Probe() temp.C { return temp.C(o.x[sensor]) }

// Air gives the temperature of the air.
func (o *Oven) Air() temp.C { return temp.C(o.x[air]) }

// Wall gives the temperature of the inner wall, rack and tray.
func (o *Oven) Wall() temp.C { return temp.C(o.x[wall]) }

// Element gives the temperature of the heater rods.
func (o *Oven) Element() temp.C { return temp.C(o.x[element]) }

// Case gives the temperature of the outer case.
func (o *Oven) Case() temp.C { return temp.C(o.x[outer]) }

// Blade gives the temperature of the blade, NaN in an empty oven.
func (o *Oven) Blade() temp.C {
	if !o.loaded {
		return temp.C(math.NaN())
	}
	return temp.C(o.x[blade])
}

// Balance is where the heat went since the start, J: what came in is stored or lost. Heat that
// a blade brings or takes with it counts in none of the three.
type Balance struct {
	In     float64 // from the heater
	Stored float64 // held more than at the start, in element, air, wall, case and blade
	Lost   float64 // by the case, the leak and the open door
}

// Open gives what the balance fails to account for, J: In less Stored and Lost.
func (b Balance) Open() float64 { return b.In - b.Stored - b.Lost }

// Balance gives the heat balance since the start.
func (o *Oven) Balance() Balance {
	return Balance{In: o.in, Stored: o.held() - o.reference, Lost: o.lost}
}

// held is the heat above 0 °C in all that holds any, J.
func (o *Oven) held() float64 {
	p := &o.p
	h := p.ElementHeat*o.x[element] + p.AirHeat*o.x[air] + p.WallHeat*o.x[wall] +
		p.CaseHeat*o.x[outer]
	if o.loaded {
		h += p.Blade.heat() * o.x[blade]
	}
	return h
}
