package thermocouple

import (
	"strawline/probe"
	"strawline/probe/temp"
)

// slope6675 is the slope of the MAX6675's straight line, µV/°C (Maxim 19-2235, text of the
// datasheet). It is printed with two digits, so the undone reading wants a check at two known
// temperatures.
const slope6675 = 41

// The word of the MAX6675 (Maxim 19-2235, text of the datasheet): D15 always 0; D14 to D3 the
// hot junction on the chip's line, unsigned, in quarter degrees; D2 open; D1 always 0; D0
// floats.
const (
	zero6675  = 1<<15 | 1<<1
	open6675  = 1 << 2
	float6675 = 1 << 0
	full6675  = 1<<12 - 1
)

// MAX6675 reads a word of the chip, which is made for type K only. It says a straight line
// through its cold junction, but not the cold junction: cold is what it is known or assumed to
// be (AssumedCold). All zeros (also where D0 floats high), all ones and a fixed bit that is set
// are FaultNoChip: the chip has no number below 0 °C, so that its zero is no reading either.
// D2 is FaultOpen; it works only with T- at ground (from memory). Full scale, 1023.75 °C, is
// FaultRange. With 25 °C, word 0x18E0 is 199.00 °C on the line and 199.89 °C in truth.
func MAX6675(word uint16, cold temp.C) Measure {
	switch {
	case word&^float6675 == 0, word&zero6675 != 0:
		return failed(probe.FaultNoChip)
	case word&open6675 != 0:
		return failed(probe.FaultOpen)
	case word>>3 >= full6675:
		return failed(probe.FaultRange)
	}
	own := line6675(word)
	hot, fault := K.hotFrom(slope6675*(own-float64(cold))/1000, float64(cold))
	if fault != probe.FaultNone {
		return failed(fault)
	}
	return Measure{Hot: temp.C(hot), Own: temp.C(own)}
}

// line6675 gives the hot junction on the chip's line, °C.
func line6675(word uint16) float64 { return float64(word>>3&full6675) / 4 }
