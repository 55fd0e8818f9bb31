package control

import (
	"math"
	"time"

	"strawline/probe/temp"
)

// bladeLag carries the modelled blade over dt in air at the temperature air.
//
// The blade is one lump heated on both sides: dT/dt = (air − T)/τ with τ = ρ c δ / (2 h) and
// h = hc + ε σ (Ta² + Tb²)(Ta + Tb), the exact radiation term with the walls at the air's
// temperature. It is good while Bi = h δ / (2 k) is far below 0.1: about 0.001 here
// (Incropera & DeWitt, lumped capacitance, chapter 5; oven constants below).
func bladeLag(blade, air temp.C, thickMM float64, dt time.Duration) temp.C {
	const (
		rho   = 7850.0      // kg/m³, steel
		c     = 500.0       // J/(kg K), steel near 200 °C
		hc    = 8.0         // W/(m² K), still oven air; from memory, 6 to 8
		eps   = 0.6         // oxidised or oil-black steel; from memory
		sigma = 5.670374e-8 // W/(m² K⁴), CODATA
	)
	const step = 5.0 // s: the lag is 50 s even for 0.5 mm, so that h hardly changes in a step
	left := dt.Seconds()
	for left > 0 {
		h := min(step, left)
		ta, tb := float64(air-temp.Zero), float64(blade-temp.Zero)
		tau := rho * c * thickMM / 1000 / (2 * (hc + eps*sigma*(ta*ta+tb*tb)*(ta+tb)))
		blade = blade.Add(temp.Delta(float64(air-blade) * -math.Expm1(-h/tau)))
		left -= h
	}
	return blade
}

// bladeWait is how long the modelled blade takes into the band around the air's temperature;
// at most 12 h.
func bladeWait(blade, air temp.C, band temp.Delta, thickMM float64) time.Duration {
	const step = 5 * time.Second
	t := time.Duration(0)
	for air.Sub(blade) > band && t < 12*time.Hour {
		blade = bladeLag(blade, air, thickMM, step)
		t += step
	}
	return t
}
