package thermocouple

import (
	"math"

	"strawline/probe"
	"strawline/probe/temp"
)

// slope31855 is the slope of the straight line that the chip of a type's suffix takes the
// thermocouple for, µV/°C: MAX31855 datasheet 19-5793, table 1, page 8, read as a public
// driver's header carries it. There is none for type B, and 0 for it here.
func slope31855(t Type) float64 {
	switch t {
	case E:
		return 76.373
	case J:
		return 57.953
	case K:
		return 41.276
	case N:
		return 36.256
	case R:
		return 10.506
	case S:
		return 9.587
	case T:
		return 52.18
	}
	return 0
}

// The word of the MAX31855 (datasheet 19-5793, tables 2 to 5, page 10, read in a hosted copy):
// D31 to D18 the hot junction on the chip's line, signed, in quarter degrees; D16 any fault;
// D15 to D4 the cold junction, signed, in sixteenths; D2 to D0 the faults; D17 and D3 always 0.
const (
	hotShift  = 18
	coldShift = 4
	reserved  = 1<<17 | 1<<3
	anyFault  = 1 << 16
	supplyBit = 1 << 2
	groundBit = 1 << 1
	openBit   = 1 << 0

	quarterMin, quarterMax = -1 << 13, 1<<13 - 1
	coldCountMax           = 1<<11 - 1
	noChipWord             = 0xFFFFFFFF // the data line held high
)

// MAX31855 reads a word of the chip with type t's suffix (K, J, N, T, S, R or E). The chip says
// a straight line through its cold junction, which is undone: its emf and the cold junction's
// emf by the reference function are added. A word that no such chip can send (all ones, a
// reserved bit set, a fault named without the fault bit or the other way round) and all zeros
// (which a chip sends only with both junctions at 0.00 °C, and a dead line always) are
// FaultNoChip. With several fault bits the order is open, ground, supply. A cold junction
// outside -40 to 125 °C is FaultColdJunction. A hot one outside -200 °C (J -210, R and S -50)
// to the end of the type's function, and the highest and lowest count, are FaultRange. Of K,
// word 0x0C601900 is 198.00 °C on the line, 200.06 °C in truth, cold junction 25.00 °C.
func MAX31855(t Type, word uint32) Measure {
	named := word & (openBit | groundBit | supplyBit)
	switch {
	case slope31855(t) == 0, word == 0, word&reserved != 0, (word&anyFault != 0) != (named != 0):
		return failed(probe.FaultNoChip)
	case word&openBit != 0:
		return failed(probe.FaultOpen)
	case word&groundBit != 0:
		return failed(probe.FaultShortGround)
	case word&supplyBit != 0:
		return failed(probe.FaultShortSupply)
	}
	cold := coldField31855(word)
	hot, fault := unline31855(t, hotField31855(word), cold)
	if fault != probe.FaultNone {
		return failed(fault)
	}
	return Measure{Hot: temp.C(hot), Own: temp.C(float64(hotField31855(word)) / 4),
		Cold: temp.C(cold), HasCold: true}
}

// hotField31855 gives the hot junction's count, quarter degrees on the line.
func hotField31855(word uint32) int16 { return int16(int32(word) >> hotShift) }

// coldField31855 gives the cold junction in °C.
func coldField31855(word uint32) float64 { return float64(int16(word)>>coldShift) / 16 }

// unline31855 gives the true temperature of a count on the chip's straight line.
func unline31855(t Type, quarters int16, cold float64) (float64, probe.Fault) {
	if !coldHolds(cold) {
		return 0, probe.FaultColdJunction
	}
	if quarters <= quarterMin || quarters >= quarterMax {
		return 0, probe.FaultRange
	}
	return t.hotFrom(slope31855(t)*(float64(quarters)/4-cold)/1000, cold)
}

// of31855 gives the type of a MAX31855's name.
func of31855(chip string) (t Type, is bool) {
	c, t, ok := SplitChip(chip)
	return t, ok && c == ChipMAX31855
}

// ChipQuarters gives what a MAX31855 counts for a true hot and cold junction: the temperature on
// its straight line in quarter degrees, rounded to the nearest. For "MAX31855K" 200 °C with the
// cold junction at 25 °C is 792, which is 198.00 °C. A hot junction above what the chip can
// measure is 8191, the highest count; one below it, a number that is not finite, a cold junction
// outside the chip's range and another chip are -8192, the lowest. FromChipQuarters and Decode
// refuse both counts; as a high limit the lowest one trips at once.
func ChipQuarters(chip string, hot, cold temp.C) int16 {
	t, is := of31855(chip)
	h, c := float64(hot), float64(cold)
	if !is || !coldHolds(c) || math.IsInf(h, 0) || !(h >= curves[t].coldest) {
		return quarterMin
	}
	if h > curves[t].hottest {
		return quarterMax
	}
	eh, _ := curves[t].emf(h)
	ec, _ := curves[t].emf(c)
	line := c + 1000*(eh-ec)/slope31855(t)
	return int16(min(max(math.Round(4*line), quarterMin), quarterMax))
}

// FromChipQuarters gives the true temperature of what a MAX31855 counts: its straight line in
// quarter degrees, with the cold junction's true temperature. For "MAX31855K" 792 with 25 °C is
// 200.06 °C. It is NaN, which compares false with everything and so lets nothing pass, for a
// count outside what the chip can measure (K: -200 to 1372 °C), a cold junction outside its
// range and another chip.
func FromChipQuarters(chip string, q int16, cold temp.C) temp.C {
	t, is := of31855(chip)
	if !is {
		return temp.C(math.NaN())
	}
	hot, fault := unline31855(t, q, float64(cold))
	if fault != probe.FaultNone {
		return temp.C(math.NaN())
	}
	return temp.C(hot)
}

// Word builds the word that a MAX31855 would send, for a simulated board: what Decode gives back
// within half a quarter degree of the chip's line. The cold junction is rounded to a sixteenth
// first, as the chip knows no finer one. A temperature that the chip cannot measure makes a
// word that Decode takes for FaultRange or FaultColdJunction. With a fault the word is the one
// that means it, with the cold junction beside an open or shorted probe; for another chip,
// and for FaultNoChip, it is all ones.
func Word(chip string, hot, cold temp.C, fault probe.Fault) uint32 {
	if _, is := of31855(chip); !is {
		return noChipWord
	}
	count := int32(coldCountMax)
	if coldHolds(float64(cold)) {
		count = int32(math.Round(16 * float64(cold)))
	}
	coldBits := uint32(count) << coldShift & 0xFFF0
	switch fault {
	case probe.FaultNone:
		rounded := temp.C(float64(count) / 16)
		return uint32(int32(ChipQuarters(chip, hot, rounded)))<<hotShift | coldBits
	case probe.FaultOpen:
		return anyFault | openBit | coldBits
	case probe.FaultShortGround:
		return anyFault | groundBit | coldBits
	case probe.FaultShortSupply:
		return anyFault | supplyBit | coldBits
	case probe.FaultRange:
		return quarterMax<<hotShift | coldBits
	case probe.FaultColdJunction:
		return coldCountMax << coldShift
	default:
		return noChipWord
	}
}
