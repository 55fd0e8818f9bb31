package thermocouple

import (
	"math"

	"strawline/probe"
	"strawline/probe/temp"
)

// chip says how one kind of chip writes what it measures.
type chip struct {
	curve *curve
	// uVPerC is the slope of the straight line that the chip takes the thermocouple for:
	// 41.276 µV/°C for the K chip (MAX31855 datasheet, table 1, page 8).
	uVPerC float64
	// The cold junction that the chip can have, °C.
	coldMin, coldMax float64
}

// chips are the chips that can be read, by name.
var chips = map[string]chip{
	"MAX31855K": {curve: &typeK, uVPerC: 41.276, coldMin: -40, coldMax: 125},
}

// The word of the MAX31855 (datasheet 19-5793, tables 2 to 5): D31 to D18 the hot junction on
// the chip's line, signed, in quarter degrees; D16 any fault; D15 to D4 the cold junction,
// signed, in sixteenths; D2 to D0 the faults; D17 and D3 always 0.
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

// Decode reads the word of a chip ("MAX31855K"): the hot junction linearised by the reference
// function and the cold junction as the chip says it, or the fault that stands in their place;
// both temperatures are 0 with a fault. A word that no such chip can send (all ones, a reserved
// bit set, a fault named without the fault bit or the other way round), all zeros (which a
// chip sends only with both junctions at 0.00 °C, and a dead line always) and a chip that this
// package does not know are FaultNoChip. A cold junction outside -40 to 125 °C is
// FaultColdJunction; a hot one outside -200 to 1372 °C is FaultRange. With several fault bits
// the order is open, ground, supply. Word 0x0C601900 is 198.00 °C on the chip's line, 200.06 °C
// in truth, with the cold junction at 25 °C.
func Decode(chip string, word uint32) (hot, cold temp.C, fault probe.Fault) {
	k, known := chips[chip]
	named := word & (openBit | groundBit | supplyBit)
	switch {
	case !known, word == 0, word&reserved != 0, (word&anyFault != 0) != (named != 0):
		return 0, 0, probe.FaultNoChip
	case word&openBit != 0:
		return 0, 0, probe.FaultOpen
	case word&groundBit != 0:
		return 0, 0, probe.FaultShortGround
	case word&supplyBit != 0:
		return 0, 0, probe.FaultShortSupply
	}
	c := float64(int16(word)>>coldShift) / 16
	if !k.holds(c) {
		return 0, 0, probe.FaultColdJunction
	}
	t, err := k.unline(float64(int32(word)>>hotShift)/4, c)
	if err != nil {
		return 0, 0, probe.FaultRange
	}
	return temp.C(t), temp.C(c), probe.FaultNone
}

// unline gives the true temperature of what the chip says on its straight line.
func (k chip) unline(line, cold float64) (float64, error) {
	e, err := k.curve.checkedEMF(cold)
	if err != nil {
		return 0, err
	}
	return k.curve.temp(k.uVPerC*(line-cold)/1000 + e)
}

// ChipQuarters gives what the chip counts for a true hot and cold junction: the temperature on
// its straight line in quarter degrees, rounded to the nearest. 200 °C with the cold junction
// at 25 °C is 792, which is 198.00 °C. A hot junction above what the chip can measure is 8191,
// the highest count; one below it, a number that is not finite, a cold junction outside the
// chip's range and an unknown chip are -8192, the lowest. FromChipQuarters and Decode refuse
// both counts; as a high limit the lowest one trips at once.
func ChipQuarters(chip string, hot, cold temp.C) int16 {
	k, known := chips[chip]
	h, c := float64(hot), float64(cold)
	if !known || math.IsInf(h, 0) || !(h >= k.curve.coldest) || !k.holds(c) {
		return quarterMin
	}
	if h > k.curve.hottest {
		return quarterMax
	}
	eh, _ := k.curve.emf(h)
	ec, _ := k.curve.emf(c)
	return int16(math.Round(4 * (c + 1000*(eh-ec)/k.uVPerC)))
}

func (k chip) holds(cold float64) bool { return cold >= k.coldMin && cold <= k.coldMax }

// FromChipQuarters gives the true temperature of what the chip counts: its straight line in
// quarter degrees, with the cold junction's true temperature. 792 with 25 °C is 200.06 °C. It
// is NaN, which compares false with everything and so lets nothing pass, for a count outside
// -200 to 1372 °C, a cold junction outside the chip's range and an unknown chip.
func FromChipQuarters(chip string, q int16, cold temp.C) temp.C {
	k, known := chips[chip]
	if !known || !k.holds(float64(cold)) {
		return temp.C(math.NaN())
	}
	t, err := k.unline(float64(q)/4, float64(cold))
	if err != nil {
		return temp.C(math.NaN())
	}
	return temp.C(t)
}

// Word builds the word that a chip would send, for a simulated board: what Decode gives back
// within half a quarter degree of the chip's line. The cold junction is rounded to a sixteenth
// first, as the chip knows no finer one. A temperature that the chip cannot measure makes a
// word that Decode takes for FaultRange or FaultColdJunction. With a fault the word is the one
// that means it, with the cold junction beside an open or shorted probe; for an unknown chip,
// and for FaultNoChip, it is all ones.
func Word(chip string, hot, cold temp.C, fault probe.Fault) uint32 {
	k, known := chips[chip]
	if !known {
		return noChipWord
	}
	count := int32(coldCountMax)
	if k.holds(float64(cold)) {
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
