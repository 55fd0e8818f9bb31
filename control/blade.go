package control

import (
	"time"

	"strawline/probe/temp"
	"strawline/profiles/steel"
)

// bladeLag carries the modelled blade over dt in air at the temperature air: profiles/steel's
// lump of oxidised steel in a settled oven with still air.
func bladeLag(blade, air temp.C, thickMM float64, dt time.Duration) temp.C {
	return steel.Blade(thickMM, steel.Oxidised).After(blade, steel.Oven(air, steel.Still), dt)
}

// bladeWait is how long the modelled blade takes into the band around the air's temperature;
// at most 12 h.
func bladeWait(blade, air temp.C, band temp.Delta, thickMM float64) time.Duration {
	const most = 12 * time.Hour
	goal := air.Add(-band)
	if blade >= goal {
		return 0
	}
	t, there := steel.Blade(thickMM, steel.Oxidised).Until(blade, goal, steel.Oven(air, steel.Still))
	if !there {
		return most
	}
	return t
}
