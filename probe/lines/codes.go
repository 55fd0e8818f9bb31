package lines

import (
	"math"

	"strawline/probe"
	"strawline/probe/temp"
)

const (
	// noNumber is where a number means that there is none: instruments send 9.91E37 for it.
	noNumber = 1e30
	// The cold junction of every chip is between these, °C (MAX31855 and MAX31856 datasheets:
	// the specified range of the part is -40 to 125 °C).
	coldLeast, coldMost = -40, 125
)

// codeOf gives the fault that libraries mean by a number in place of a reading: 2000 plus the
// chip's fault bits, 10000 and above, -127, -555, 0.1, 0.2, 0.4; and the numbers that a dead
// data line gives, 0.00, 1023.75 and 2047.75. In °F they come converted or as they are. The
// caller lets pass what the channel was near already: a real oven crosses these numbers.
func codeOf(v float64, u Unit) probe.Fault {
	if f := plainCode(v); f != probe.FaultNone {
		return f
	}
	if u == Celsius || u == NoUnit {
		return probe.FaultNone
	}
	c := float64(u.c(v))
	for _, code := range []float64{0, 1023.75, 2047.75, -127} {
		if math.Abs(c-code) < 0.006 {
			return probe.FaultNoChip
		}
	}
	return probe.FaultNone
}

func plainCode(v float64) probe.Fault {
	switch v {
	case 0, 1023.75, 2047.75, -127, -555:
		return probe.FaultNoChip
	case 0.1, 2001, 2003, 2005, 2007, 10001:
		return probe.FaultOpen
	case 0.2, 2002, 2006, 10002:
		return probe.FaultShortGround
	case 0.4, 2004, 10003:
		return probe.FaultShortSupply
	}
	return probe.FaultNone
}

// rangeOf tells whether a temperature can be one of a thermocouple.
func rangeOf(v float64, u Unit) probe.Fault {
	if math.IsNaN(v) || math.Abs(v) > noNumber {
		return probe.FaultRange
	}
	if c := u.c(v); c < temp.Zero || c > hottest {
		return probe.FaultRange
	}
	return probe.FaultNone
}

// statusOf reads a fault number: its bits are open, short to ground, short to supply on the
// chips that have such bits.
func statusOf(v float64) probe.Fault {
	if math.IsNaN(v) || v == 0 {
		return probe.FaultNone
	}
	if v != math.Trunc(v) || v < 0 || v > 7 {
		return probe.FaultRange
	}
	switch n := int(v); {
	case n&1 != 0:
		return probe.FaultOpen
	case n&2 != 0:
		return probe.FaultShortGround
	}
	return probe.FaultShortSupply
}
