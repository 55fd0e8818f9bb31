package thermocouple

import (
	"strawline/probe"
	"strawline/probe/temp"
)

// The status register 0x04 of the MCP9600 (DS20005426C, page 28): the input is out of range. In
// the MCP9601 this bit also says an open probe, and the one above it a short (from memory).
const (
	out9600   = 1 << 4
	short9601 = 1 << 5
)

// MCP9600 reads the hot junction (register 0x00), the cold junction (0x02) and the status (0x04,
// 0 if it was not read) of an MCP9600 or MCP9601; t is the type that it was set to. Both
// temperatures are signed sixteenths (DS20005426C, pages 24 to 26): 0x0C80 is 200.00 °C. The
// chip linearises, but by the sheet it adds temperatures where emfs belong, which for type K at
// a cold junction of 25 °C would cost up to 1.5 °C, more than its own tolerance. Nobody has
// measured that for us, so the chip's figure is passed on as it is; EMFMCP9600 goes round it.
// Both registers all zeros or all ones are FaultNoChip. The MCP9600 cannot see an open probe.
func MCP9600(t Type, hot, cold uint16, status uint8) Measure {
	switch c := sixteenths(cold); {
	case !t.known(), hot == 0 && cold == 0, hot == 0xFFFF && cold == 0xFFFF:
		return failed(probe.FaultNoChip)
	case !coldHolds(c):
		return failed(probe.FaultColdJunction)
	default:
		m := hot9600(t, hot, status)
		if m.Fault == probe.FaultNone {
			m.Cold, m.HasCold = temp.C(c), true
		}
		return m
	}
}

// HotMCP9600 is MCP9600 where the cold junction was not read. A hot register of all zeros or all
// ones is FaultNoChip here, as nothing else speaks for a chip.
func HotMCP9600(t Type, hot uint16, status uint8) Measure {
	if !t.known() || hot == 0 || hot == 0xFFFF {
		return failed(probe.FaultNoChip)
	}
	return hot9600(t, hot, status)
}

// hot9600 reads the hot register of a chip that is there.
func hot9600(t Type, hot uint16, status uint8) Measure {
	if status&(out9600|short9601) != 0 || !curves[t].measurable(sixteenths(hot)) {
		return failed(probe.FaultRange)
	}
	c := temp.C(sixteenths(hot))
	return Measure{Hot: c, Own: c}
}

// sixteenths gives the temperature of a register in °C.
func sixteenths(register uint16) float64 { return float64(int16(register)) / 16 }

// EMFMCP9600 reads the raw converter (register 0x03, three bytes, signed, 2 µV each as a public
// sketch has it) and the cold junction (0x02), and linearises here: emfs are added. For type K
// 0x000DF1 with 0x0190 is 7.138 mV at 25 °C, 200.0 °C. All zeros or all ones in both are
// FaultNoChip.
func EMFMCP9600(t Type, raw uint32, cold uint16) Measure {
	const allOnes = 0xFFFFFF
	raw &= allOnes
	if !t.known() || raw == 0 && cold == 0 || raw == allOnes && cold == 0xFFFF {
		return failed(probe.FaultNoChip)
	}
	c := sixteenths(cold)
	hot, fault := t.hotFrom(float64(int32(raw<<8)>>8)*0.002, c)
	if fault != probe.FaultNone {
		return failed(fault)
	}
	return Measure{Hot: temp.C(hot), Own: temp.C(hot), Cold: temp.C(c), HasCold: true}
}
