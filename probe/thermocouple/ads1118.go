package thermocouple

import (
	"strawline/probe"
	"strawline/probe/temp"
)

// microvolts1118 is one count of the ADS1118 in its ±0.256 V range, µV (TI SBAS457F).
const microvolts1118 = 7.8125

// ADS1118 reads two results of the converter: the emf of a thermocouple of type t in the ±0.256 V
// range, signed, 7.8125 µV each, and the internal sensor as the cold junction, the upper 14
// bits, signed, 1/32 °C each (TI SBAS457F). The chip linearises nothing: the emf and the cold
// junction's are added (the way of TI SBAA274A). Type K, 0x0392 with 0x0C80 is 7.141 mV at
// 25 °C, 200.06 °C. All zeros or all ones in both are FaultNoChip. A count at either end is
// FaultRange: an open probe with pull resistors looks so, and without them can look like
// anything.
func ADS1118(t Type, emf, sensor uint16) Measure {
	if !t.known() || emf == 0 && sensor == 0 || emf == 0xFFFF && sensor == 0xFFFF {
		return failed(probe.FaultNoChip)
	}
	cold := temp.C(sensor1118(sensor))
	m := ADS1118At(t, emf, cold)
	if m.Fault == probe.FaultNone {
		m.Cold, m.HasCold = cold, true
	}
	return m
}

// ADS1118At is ADS1118 where the cold junction is known otherwise. It cannot tell a dead line.
func ADS1118At(t Type, emf uint16, cold temp.C) Measure {
	switch mV, fault := EMFADS1118(emf); {
	case !t.known():
		return failed(probe.FaultNoChip)
	case !coldHolds(float64(cold)):
		return failed(probe.FaultColdJunction)
	case fault != probe.FaultNone:
		return failed(fault)
	default:
		hot, fault := t.hotFrom(mV, float64(cold))
		if fault != probe.FaultNone {
			return failed(fault)
		}
		return Measure{Hot: temp.C(hot), Own: temp.C(hot)}
	}
}

// EMFADS1118 gives the emf in mV of a result in the ±0.256 V range, or FaultRange at either end.
func EMFADS1118(emf uint16) (mV float64, fault probe.Fault) {
	if emf == 0x7FFF || emf == 0x8000 {
		return 0, probe.FaultRange
	}
	return float64(int16(emf)) * microvolts1118 / 1000, probe.FaultNone
}

// sensor1118 gives the internal sensor's temperature in °C.
func sensor1118(word uint16) float64 { return float64(int16(word)>>2) / 32 }
