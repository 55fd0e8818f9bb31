package control

import (
	"time"

	"strawline/probe/temp"
	"strawline/profiles/steel"
)

// The finishes of a blade: what it radiates by.
const (
	FinishOxidised = "oxidised" // or oil-black; steel.Oxidised
	FinishBright   = "bright"   // ground or polished; steel.Bright
)

// plate gives the lump of profiles/steel that stands for the blade.
func (b *BladeInfo) plate() steel.Plate {
	if b.Finish == FinishBright {
		return steel.Blade(b.ThickMM, steel.Bright)
	}
	return steel.Blade(b.ThickMM, steel.Oxidised)
}

// convection is what the air gives it, in W/(m² K): what was found, or what is usual.
func (b *BladeInfo) convection() float64 {
	switch {
	case b.ConvectionW > 0:
		return b.ConvectionW
	case b.Fan:
		return steel.Fanned
	case b.Finish == FinishBright:
		return steel.Stillest // what radiates least is slowest, and is not to be called hot too soon
	}
	return steel.Still
}

// lag carries the modelled blade over dt in a settled oven with air at the temperature air.
func (b *BladeInfo) lag(blade, air temp.C, dt time.Duration) temp.C {
	return b.plate().After(blade, steel.Oven(air, b.convection()), dt)
}

// wait is how long the modelled blade takes into the band around the air's temperature; at most
// 12 h.
func (b *BladeInfo) wait(blade, air temp.C, band temp.Delta) time.Duration {
	const most = 12 * time.Hour
	goal := air.Add(-band)
	if blade >= goal {
		return 0
	}
	t, there := b.plate().Until(blade, goal, steel.Oven(air, b.convection()))
	if !there {
		return most
	}
	return t
}
