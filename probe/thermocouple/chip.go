package thermocouple

import (
	"strings"

	"strawline/probe"
	"strawline/probe/temp"
)

// Measure is what a chip's word comes to.
type Measure struct {
	Hot temp.C // the hot junction in truth; 0 with a fault
	// Own is what the chip itself calls the hot junction: on its straight line for MAX31855 and
	// MAX6675, and Hot for a chip that linearises or says an emf. 0 with a fault.
	Own     temp.C
	Cold    temp.C // the cold junction; 0 with a fault, and where the word does not say it
	HasCold bool   // the word says Cold
	Fault   probe.Fault
}

// failed is the Measure of a fault.
func failed(f probe.Fault) Measure { return Measure{Fault: f} }

// AssumedCold stands for the cold junction of a chip that does not say it: a MAX6675 undone with
// 25 °C is wrong by less than 0.2 °C as long as it is really at 15 to 45 °C (computed for type
// K).
const AssumedCold temp.C = 25

// The cold junction that the chips can have, °C (operating range of the MAX31855, from memory; a
// chip's sign bit read wrongly gives more).
const coldMin, coldMax = -40, 125

func coldHolds(c float64) bool { return c >= coldMin && c <= coldMax }

// Chip is a kind of chip, without the type of the thermocouple at it.
type Chip string

// The chips whose words are read.
const (
	ChipMAX31855 Chip = "MAX31855"
	ChipMAX6675  Chip = "MAX6675"
	ChipMAX31856 Chip = "MAX31856"
	ChipMCP9600  Chip = "MCP9600" // and MCP9601
	ChipADS1118  Chip = "ADS1118"
)

// Chips gives every kind of chip.
func Chips() []Chip {
	return []Chip{ChipMAX31855, ChipMAX6675, ChipMAX31856, ChipMCP9600, ChipADS1118}
}

// Takes reports whether the chip is made for, or can be set to, a thermocouple of type t.
func (c Chip) Takes(t Type) bool {
	switch c {
	case ChipMAX31855:
		return slope31855(t) > 0
	case ChipMAX6675:
		return t == K
	case ChipMAX31856, ChipMCP9600, ChipADS1118:
		return t.known()
	}
	return false
}

// Name gives the name by which Decode and Read know the chip with a thermocouple of type t:
// "MAX31855K", "MAX6675", "ADS1118N".
func (c Chip) Name(t Type) string {
	if c == ChipMAX6675 {
		return string(c)
	}
	return string(c) + t.String()
}

// ChipNames gives every name that Decode and Read know.
func ChipNames() []string {
	var names []string
	for _, c := range Chips() {
		for _, t := range Types() {
			if c.Takes(t) {
				names = append(names, c.Name(t))
			}
		}
	}
	return names
}

// SplitChip reads a name of ChipNames; ok is false for any other text.
func SplitChip(name string) (c Chip, t Type, ok bool) {
	if name == string(ChipMAX6675) {
		return ChipMAX6675, K, true
	}
	for _, c := range Chips() {
		letter, is := strings.CutPrefix(name, string(c))
		if !is || c == ChipMAX6675 {
			continue
		}
		for _, t := range Types() {
			if letter == t.String() && c.Takes(t) {
				return c, t, true
			}
		}
	}
	return "", 0, false
}

// Read reads the word of a chip named as in ChipNames. A 32-bit word holds
//   - MAX31855: the chip's own 32 bits;
//   - MAX6675: the chip's 16 bits below 16 zeros, undone with AssumedCold;
//   - MAX31856: the registers 0x0C to 0x0F as they come in one reading, three bytes of
//     temperature and the fault status;
//   - MCP9600: the hot junction's register above the cold one's;
//   - ADS1118: the result of the emf above the result of the internal sensor.
//
// A name that is none of them is FaultNoChip.
func Read(name string, word uint32) Measure {
	c, t, ok := SplitChip(name)
	if !ok {
		return failed(probe.FaultNoChip)
	}
	high, low := uint16(word>>16), uint16(word)
	switch c {
	case ChipMAX31855:
		return MAX31855(t, word)
	case ChipMAX6675:
		if high != 0 {
			return failed(probe.FaultNoChip)
		}
		return MAX6675(low, AssumedCold)
	case ChipMAX31856:
		return MAX31856(t, word>>8, uint8(word))
	case ChipMCP9600:
		return MCP9600(t, high, low, 0)
	default:
		return ADS1118(t, high, low)
	}
}

// Decode is Read for a board whose words say both junctions: the hot one in truth and the cold
// one as the chip says it, or the fault that stands in their place; both temperatures are 0
// with a fault. For MAX6675 and MAX31856, whose words do not say the cold junction, cold is
// AssumedCold: a caller that shows it asks SaysCold first. Word 0x0C601900 of a MAX31855K is
// 198.00 °C on the chip's line, 200.06 °C in truth, with the cold junction at 25 °C.
func Decode(chip string, word uint32) (hot, cold temp.C, fault probe.Fault) {
	m := Read(chip, word)
	if m.Fault == probe.FaultNone && !m.HasCold {
		m.Cold = AssumedCold
	}
	return m.Hot, m.Cold, m.Fault
}

// SaysCold reports whether the words of the chip, named as in ChipNames, say the cold junction.
func SaysCold(name string) bool {
	c, _, ok := SplitChip(name)
	return ok && c != ChipMAX6675 && c != ChipMAX31856
}

// hotFrom gives the hot junction in °C of an emf measured with the cold junction at cold, where
// the chip can measure: from -200 °C (J -210, R and S -50, B 250) to the end of the type's
// reference function, which is where NIST gives an inverse. t must be known.
func (t Type) hotFrom(mV, cold float64) (float64, probe.Fault) {
	if !coldHolds(cold) {
		return 0, probe.FaultColdJunction
	}
	k := curves[t]
	e, err := k.checkedEMF(cold)
	if err != nil {
		return 0, probe.FaultColdJunction
	}
	hot, err := k.temp(mV + e)
	if err != nil || !k.measurable(hot) {
		return 0, probe.FaultRange
	}
	return hot, probe.FaultNone
}

// measurable tells whether a chip gives a temperature of t °C.
func (c *curve) measurable(t float64) bool { return t >= c.coldest && t <= c.hottest }
