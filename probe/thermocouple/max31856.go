package thermocouple

import (
	"strawline/probe"
	"strawline/probe/temp"
)

// The fault status register 0x0F of the MAX31856 (the eight names read, their order from
// memory).
const (
	open31856     = 1 << 0
	voltage31856  = 1 << 1 // an input above the supply or below ground
	hotLow31856   = 1 << 2
	hotHigh31856  = 1 << 3
	coldLow31856  = 1 << 4
	coldHigh31856 = 1 << 5
	hotOut31856   = 1 << 6
	coldOut31856  = 1 << 7
)

// MAX31856 reads the chip's three bytes of hot junction (registers 0x0C to 0x0E, highest first)
// and its fault status (0x0F). The chip linearises by a table of its own and adds the cold
// junction, which these bytes do not say (ColdMAX31856 reads it), so that nothing is undone
// here; t is the type that it was set to, and a setting that does not fit the probe shows
// nowhere. The hot junction's upper 19 bits are signed, 1/128 °C each: 0x064F00 is 100.9375 °C.
// All zeros (what the chip says while it has not converted) and all ones are FaultNoChip, and
// so are a temperature too low and too high at once, which only a broken link says. Every other
// bit of the status is a fault as well, thresholds stored in the chip among them: open;
// FaultColdJunction for the cold junction; FaultRange for the hot one, a voltage outside the
// chip's supply, and a temperature outside the range of the chip's table (K: -200 to 1372 °C;
// type B from 250 °C; from memory).
func MAX31856(t Type, hot uint32, status uint8) Measure {
	const (
		allOnes  = 0xFFFFFF
		coldBits = coldLow31856 | coldHigh31856
		hotBits  = hotLow31856 | hotHigh31856
	)
	hot &= allOnes
	switch {
	case !t.known(), hot == 0 && status == 0, hot == allOnes && status == 0xFF,
		status&coldBits == coldBits, status&hotBits == hotBits:
		return failed(probe.FaultNoChip)
	case status&open31856 != 0:
		return failed(probe.FaultOpen)
	case status&(coldBits|coldOut31856) != 0:
		return failed(probe.FaultColdJunction)
	case status&(hotBits|hotOut31856|voltage31856) != 0:
		return failed(probe.FaultRange)
	}
	c := hot31856(hot)
	if !curves[t].measurable(c) {
		return failed(probe.FaultRange)
	}
	return Measure{Hot: temp.C(c), Own: temp.C(c)}
}

// hot31856 gives the hot junction in °C.
func hot31856(hot uint32) float64 { return float64(int32(hot<<8)>>13) / 128 }

// ColdMAX31856 reads the chip's cold junction (registers 0x0A and 0x0B): the upper 14 bits,
// signed, 1/64 °C each (from memory). 0x1900 is 25.00 °C. Outside -40 to 125 °C it is
// FaultColdJunction.
func ColdMAX31856(word uint16) (temp.C, probe.Fault) {
	c := float64(int16(word)>>2) / 64
	if !coldHolds(c) {
		return 0, probe.FaultColdJunction
	}
	return temp.C(c), probe.FaultNone
}
