package thermocouple

import (
	"encoding/json"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/temp"
)

// chipWord is a row of the carried words; each says where it comes from.
type chipWord struct {
	Chip, Field, Bits, Hex, Fault, Note string
	Expect                              *float64 `json:"expect_c"`
	Hot                                 *float64 `json:"expect_tc_c"`
	Cold                                *float64 `json:"expect_cj_c"`
}

// number gives the row's bits.
func (w chipWord) number(t *testing.T) uint32 {
	t.Helper()
	text, base := w.Hex, 16
	if w.Bits != "" {
		text, base = w.Bits, 2
	}
	v, err := strconv.ParseUint(text, base, 32)
	require.NoError(t, err)
	return uint32(v)
}

func TestCarriedWords(t *testing.T) {
	var all []chipWord
	require.NoError(t, json.Unmarshal(carried(t, "chip_words.json"), &all))
	require.Len(t, all, 57)
	seen := map[string]int{}
	for _, w := range all {
		seen[w.Chip]++
		switch word := w.number(t); {
		case w.Chip == "MAX31855" && w.Field == "thermocouple D31:18":
			hotRow31855(t, word, *w.Expect)
		case w.Chip == "MAX31855" && w.Field == "reference junction D15:4":
			coldRow31855(t, word, *w.Expect)
		case w.Chip == "MAX31855" && w.Field == "whole word":
			wholeRow31855(t, word, w)
		case w.Chip == "MAX6675":
			row6675(t, uint16(word), w)
		case w.Chip == "MAX31856":
			row31856(t, word, *w.Expect)
		case w.Chip == "ADS1118":
			row1118(t, uint16(word<<2), *w.Expect)
		case w.Chip == "MCP9600/01":
			m := MCP9600(K, uint16(word), 0x0190, 0)
			assert.Equal(t, Measure{Hot: temp.C(*w.Expect), Own: temp.C(*w.Expect), Cold: 25,
				HasCold: true}, m, w.Hex)
			assert.Equal(t, m, Read("MCP9600K", word<<16|0x0190))
		default:
			require.Fail(t, "a row of an unknown kind", "%s %s", w.Chip, w.Field)
		}
	}
	assert.Equal(t, map[string]int{"MAX31855": 26, "MAX6675": 7, "MAX31856": 10, "ADS1118": 10,
		"MCP9600/01": 4}, seen)
}

// hotRow31855 checks the 14 bits of the hot junction beside a cold junction of 25 °C: what the
// chip says on its line comes from the emf that the decoded temperature has.
func hotRow31855(t *testing.T, bits uint32, line float64) {
	t.Helper()
	require.Equal(t, line, float64(hotField31855(bits<<18))/4)
	m := Read(k55, bits<<18|400<<4)
	e25, err := K.EMF(25)
	require.NoError(t, err)
	if sum := (line-25)*0.041276 + e25; sum < -5.891 || sum > 54.886 {
		require.Equal(t, failed(probe.FaultRange), m, "%g °C on the line", line)
		return
	}
	require.Equal(t, probe.FaultNone, m.Fault)
	require.Equal(t, temp.C(25), m.Cold)
	require.Equal(t, temp.C(line), m.Own)
	require.Equal(t, int16(line*4), ChipQuarters(k55, m.Hot, 25))
}

// coldRow31855 checks the 12 bits of the cold junction beside a hot one of 25 °C on the line.
func coldRow31855(t *testing.T, bits uint32, want float64) {
	t.Helper()
	require.Equal(t, want, coldField31855(bits<<4))
	_, cold, fault := Decode(k55, 100<<18|bits<<4)
	if want < -40 || want > 125 {
		require.Equal(t, probe.FaultColdJunction, fault, "%g °C", want)
		return
	}
	require.Equal(t, probe.FaultNone, fault)
	require.Equal(t, want, float64(cold))
}

// wholeRow31855 checks a whole word with all its faults.
func wholeRow31855(t *testing.T, word uint32, w chipWord) {
	t.Helper()
	faults := map[string]probe.Fault{"open": probe.FaultOpen, "short_gnd": probe.FaultShortGround,
		"short_vcc": probe.FaultShortSupply}
	hot, cold, fault := Decode(k55, word)
	switch {
	case w.Hot != nil:
		require.Equal(t, probe.FaultNone, fault, w.Hex)
		require.Equal(t, *w.Cold, float64(cold), w.Hex)
		require.Equal(t, int16(*w.Hot*4), ChipQuarters(k55, hot, cold), w.Hex)
	case w.Fault != "":
		require.Equal(t, faults[w.Fault], fault, w.Hex)
		require.Equal(t, word, Word(k55, 20, temp.C(*w.Cold), fault), w.Hex)
	case w.Hex == "7FFCFFF0":
		require.Equal(t, probe.FaultRange, fault)
	default:
		require.Equal(t, probe.FaultNoChip, fault, w.Hex)
	}
	if fault != probe.FaultNone {
		require.Zero(t, hot)
		require.Zero(t, cold)
	}
}

// row6675 checks a 16-bit word. Its arithmetic makes 0 °C of all zeros, but as a whole word that
// is what a dead line says.
func row6675(t *testing.T, word uint16, w chipWord) {
	t.Helper()
	m := MAX6675(word, 25)
	assert.Equal(t, Read("MAX6675", uint32(word)), m)
	if w.Expect != nil {
		assert.Equal(t, *w.Expect, line6675(word), w.Hex)
	}
	switch {
	case word == 0:
		assert.Equal(t, failed(probe.FaultNoChip), m)
	case w.Fault == "":
		assert.Equal(t, probe.FaultNone, m.Fault)
		assert.Equal(t, *w.Expect, float64(m.Own))
		assert.False(t, m.HasCold)
	case w.Fault == "full scale":
		assert.Equal(t, failed(probe.FaultRange), m)
	case w.Fault == "open":
		assert.Equal(t, failed(probe.FaultOpen), m)
	default:
		assert.Equal(t, failed(probe.FaultNoChip), m, w.Hex)
	}
}

// row31856 checks the three bytes of the hot junction: the arithmetic alone, and with a type
// that reaches so far.
func row31856(t *testing.T, word uint32, want float64) {
	t.Helper()
	assert.Equal(t, want, hot31856(word))
	for _, k := range Types() {
		m := MAX31856(k, word, 0)
		assert.Equal(t, m, Read("MAX31856"+k.String(), word<<8))
		switch {
		case word == 0:
			assert.Equal(t, failed(probe.FaultNoChip), m)
		case want < curves[k].coldest || want > curves[k].hottest:
			assert.Equal(t, failed(probe.FaultRange), m, "type %s, %06X", k, word)
		default:
			assert.Equal(t, Measure{Hot: temp.C(want), Own: temp.C(want)}, m)
		}
	}
}

// row1118 checks the internal sensor's word, alone and as the cold junction beside no emf.
func row1118(t *testing.T, word uint16, want float64) {
	t.Helper()
	assert.Equal(t, want, sensor1118(word))
	m := ADS1118(K, 0, word)
	if word == 0 {
		assert.Equal(t, failed(probe.FaultNoChip), m)
		return
	}
	require.Equal(t, probe.FaultNone, m.Fault)
	assert.Equal(t, temp.C(want), m.Cold)
	assert.InDelta(t, want, float64(m.Hot), 2e-6, "with no emf both junctions are equally warm")
	assert.Equal(t, m, Read("ADS1118K", uint32(word)))
}
