package steel

import (
	"math"
	"time"

	"strawline/probe/temp"
)

// What the model of a blade supposes. Convection and the finish's emissivity are from memory.
const (
	Density     = 7850.0      // kg/m³
	Heat        = 500.0       // J/(kg K), near 200 °C
	Conducts    = 45.0        // W/(m K), carbon steel near 200 °C
	Still       = 8.0         // W/(m² K), convection in still oven air; 6 to 8
	Stillest    = 6.0         // W/(m² K), the lower end of that
	Fanned      = 20.0        // W/(m² K), with a fan
	Bright      = 0.3         // emissivity of bright steel
	Oxidised    = 0.6         // emissivity of oxidised or oil-black steel
	boltzmann   = 5.670374e-8 // W/(m² K⁴), CODATA
	longestWait = 12 * time.Hour
)

// Plate is a thin plate that is heated on both sides as one lump.
type Plate struct {
	Thick      float64 // m
	Density    float64 // kg/m³
	Heat       float64 // J/(kg K)
	Emissivity float64 // 0 to 1
}

// Around is what surrounds a plate.
type Around struct {
	Air        temp.C
	Walls      temp.C  // what it sees; the air's temperature in an oven that has settled
	Convection float64 // W/(m² K)
}

// Blade is a plate of steel so many mm thick.
func Blade(thickMM, emissivity float64) Plate {
	return Plate{Thick: thickMM / 1000, Density: Density, Heat: Heat, Emissivity: emissivity}
}

// Oven is a settled oven, its walls as hot as its air.
func Oven(air temp.C, convection float64) Around {
	return Around{Air: air, Walls: air, Convection: convection}
}

// rate is how fast the plate warms in K/s: (h(Ta − T) + εσ(Tw⁴ − T⁴)) · 2/(ρcδ).
func (p Plate) rate(at float64, a Around) float64 {
	hot, own := kelvins(a.Walls), at-float64(temp.Zero)
	flux := a.Convection*(float64(a.Air)-at) +
		p.Emissivity*boltzmann*(hot*hot*hot*hot-own*own*own*own)
	return 2 * flux / (p.Density * p.Heat * p.Thick)
}

// film is convection and radiation together in W/(m² K), at a plate's temperature.
func (p Plate) film(at temp.C, a Around) float64 {
	hot, own := kelvins(a.Walls), kelvins(at)
	return a.Convection + p.Emissivity*boltzmann*(hot*hot+own*own)*(hot+own)
}

// Tau is the plate's time constant ρcδ/(2h) at a temperature, h with its radiation: 394 s for
// 4 mm of oxidised steel at 140 °C in still air of 200 °C, and 350 s when it is as hot.
func (p Plate) Tau(at temp.C, a Around) time.Duration {
	s := p.Density * p.Heat * p.Thick / (2 * p.film(at, a))
	return time.Duration(s * float64(time.Second))
}

// Biot is h(δ/2)/k: one lump is good far below 0.1. k is what the metal conducts in W/(m K).
func (p Plate) Biot(at temp.C, a Around, k float64) float64 {
	return p.film(at, a) * p.Thick / 2 / k
}

// sane reports whether the plate has a thickness and the figures are numbers.
func (p Plate) sane(at temp.C, a Around) bool {
	return p.Thick > 0 && p.Density > 0 && p.Heat > 0 && p.Emissivity >= 0 &&
		a.Convection >= 0 && a.Convection+p.Emissivity > 0 && sound(at) && sound(a.Air) &&
		sound(a.Walls)
}

// step is the length of one step of the integration in s, a fortieth of the time constant.
func (p Plate) step(at temp.C, a Around) float64 {
	hottest := max(at, a.Air, a.Walls)
	a.Walls = hottest
	return p.Tau(hottest, a).Seconds() / 40
}

// advance is one step of Runge and Kutta's fourth order method.
func (p Plate) advance(at float64, a Around, h float64) float64 {
	k1 := p.rate(at, a)
	k2 := p.rate(at+h/2*k1, a)
	k3 := p.rate(at+h/2*k2, a)
	k4 := p.rate(at+h*k3, a)
	return at + h/6*(k1+2*k2+2*k3+k4)
}

// After is the plate's temperature after a span in surroundings that stay as they are. A plate
// without thickness is as warm as the air.
func (p Plate) After(start temp.C, a Around, span time.Duration) temp.C {
	if !p.sane(start, a) {
		return a.Air
	}
	at, left := float64(start), min(span, longestWait).Seconds()
	for h := p.step(start, a); left > 0; left -= h {
		at = p.advance(at, a, min(h, left))
	}
	return temp.C(at)
}

// Until is how long the plate takes from start to a temperature; false if it is not there
// within 12 h.
func (p Plate) Until(start, goal temp.C, a Around) (time.Duration, bool) {
	if !p.sane(start, a) || !sound(goal) {
		return 0, false
	}
	up := goal > start
	there := func(t float64) bool { return t >= float64(goal) == up || t == float64(goal) }
	at, spent := float64(start), 0.0
	if goal == start {
		return 0, true
	}
	for h := p.step(start, a); spent < longestWait.Seconds(); spent += h {
		next := p.advance(at, a, h)
		if there(next) {
			low, high := 0.0, h
			for range 50 {
				if mid := (low + high) / 2; there(p.advance(at, a, mid)) {
					high = mid
				} else {
					low = mid
				}
			}
			return time.Duration((spent + high) * float64(time.Second)), true
		}
		if math.Abs(next-at) < 1e-12 {
			return 0, false
		}
		at = next
	}
	return 0, false
}
