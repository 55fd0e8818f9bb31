package thermocouple

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe"
	"strawline/probe/temp"
)

const k55 = "MAX31855K"

// The three worked words of the carried notes' procedure: what stands in the word and what it
// is in truth, computed apart from this code.
func TestDecodeOfWorkedWords(t *testing.T) {
	for word, want := range map[uint32][2]float64{
		0x0C601900: {200.06, 25}, 0x33601F40: {815.10, 31.25}, 0xFAAC1900: {-99.90, 25},
	} {
		hot, cold, fault := Decode(k55, word)
		require.Equal(t, probe.FaultNone, fault)
		require.InDelta(t, want[0], float64(hot), 0.0051, "%08X", word)
		require.Equal(t, want[1], float64(cold))
	}
}

func TestDecodeRefuses(t *testing.T) {
	good := Word(k55, 200, 25, probe.FaultNone)
	for name, c := range map[string]struct {
		chip string
		word uint32
		want probe.Fault
	}{
		"no such suffix":         {"MAX31855B", good, probe.FaultNoChip},
		"unknown chip":           {"MAX31865K", good, probe.FaultNoChip},
		"no name":                {"", good, probe.FaultNoChip},
		"reserved bit 17":        {k55, good | 1<<17, probe.FaultNoChip},
		"reserved bit 3":         {k55, good | 1<<3, probe.FaultNoChip},
		"fault without its name": {k55, good | 1<<16, probe.FaultNoChip},
		"open without fault bit": {k55, good | 1, probe.FaultNoChip},
		"open":                   {k55, good | 1<<16 | 1, probe.FaultOpen},
		"ground":                 {k55, good | 1<<16 | 2, probe.FaultShortGround},
		"supply":                 {k55, good | 1<<16 | 4, probe.FaultShortSupply},
		"all three":              {k55, good | 1<<16 | 7, probe.FaultOpen},
		"ground and supply":      {k55, good | 1<<16 | 6, probe.FaultShortGround},
		"cold above 125":         {k55, good&^0xFFF0 | 0x7D1<<4, probe.FaultColdJunction},
		"cold at 125":            {k55, good&^0xFFF0 | 0x7D0<<4, probe.FaultNone},
		"cold at -40":            {k55, good&^0xFFF0 | 0xD80<<4, probe.FaultNone},
		"cold below -40":         {k55, good&^0xFFF0 | 0xD7F<<4, probe.FaultColdJunction},
		"highest count":          {k55, 0x1FFF<<18 | 400<<4, probe.FaultRange},
		"lowest count":           {k55, 0x2000<<18 | 400<<4, probe.FaultRange},
	} {
		_, _, fault := Decode(c.chip, c.word)
		require.Equal(t, c.want, fault, name)
	}
}

// What the chip says of a true temperature, and that undone, as a Python program has it.
func TestChipLine(t *testing.T) {
	names, table := rows(t, "chip_linearisation_K_cj25.csv")
	require.Equal(t, []string{"true_c", "emf_measured_mv", "max31855_unrounded_c",
		"max31855_word_c"}, names[:4])
	require.Equal(t, "corrected_with_its90_cj_c", names[5])
	require.Len(t, table, 27)
	for _, r := range table {
		q := ChipQuarters(k55, temp.C(r[0]), 25)
		require.Equal(t, r[3], float64(q)/4, "%g °C", r[0])
		require.InDelta(t, r[5], float64(FromChipQuarters(k55, q, 25)), 0.0051, "%g °C", r[0])
		hot, _, fault := Decode(k55, Word(k55, temp.C(r[0]), 25, probe.FaultNone))
		require.Equal(t, probe.FaultNone, fault)
		require.InDelta(t, r[5], float64(hot), 0.0051, "%g °C", r[0])
	}
}

// A word says what was put in: the cold junction to half a sixteenth, the hot one to half a
// quarter of the line, which at the flattest place of the range is 0.35 °C.
func TestWordAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hot := rapid.Float64Range(-199, 1371).Draw(t, "hot")
		cold := rapid.Float64Range(-40, 125).Draw(t, "cold")
		word := Word(k55, temp.C(hot), temp.C(cold), probe.FaultNone)
		h, c, fault := Decode(k55, word)
		if word == 0 {
			require.Equal(t, probe.FaultNoChip, fault)
			return
		}
		require.Equal(t, probe.FaultNone, fault)
		require.InDelta(t, cold, float64(c), 1.0/32+1e-9)
		_, slope := curves[K].emf(hot)
		require.InDelta(t, hot, float64(h), 1.05*0.125*0.041276/slope)
		require.Equal(t, int32(word)>>18, int32(ChipQuarters(k55, h, c)))
		require.Equal(t, h, FromChipQuarters(k55, int16(int32(word)>>18), c))
	})
}

func TestWordOfEachFault(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fault := probe.Fault(rapid.IntRange(1, int(probe.FaultColdJunction)).Draw(t, "fault"))
		hot := temp.C(rapid.Float64().Draw(t, "hot"))
		cold := temp.C(rapid.Float64Range(-40, 125).Draw(t, "cold"))
		h, c, got := Decode(k55, Word(k55, hot, cold, fault))
		require.Equal(t, fault, got)
		require.Zero(t, h)
		require.Zero(t, c)
	})
}

// What cannot be measured never makes a word or a figure that passes for a measurement.
func TestOutsideNothingPasses(t *testing.T) {
	nan, inf := temp.C(math.NaN()), temp.C(math.Inf(1))
	for _, hot := range []temp.C{-201, 1373, 5000, inf, -inf, nan} {
		_, _, fault := Decode(k55, Word(k55, hot, 25, probe.FaultNone))
		require.Equal(t, probe.FaultRange, fault, "%g °C", hot)
	}
	for _, cold := range []temp.C{-40.1, 125.1, -inf, inf, nan} {
		_, _, fault := Decode(k55, Word(k55, 200, cold, probe.FaultNone))
		require.Equal(t, probe.FaultColdJunction, fault, "%g °C", cold)
		require.Equal(t, int16(-8192), ChipQuarters(k55, 200, cold))
		require.True(t, math.IsNaN(float64(FromChipQuarters(k55, 800, cold))))
	}
	for _, hot := range []temp.C{-201, -inf, inf, nan} {
		require.Equal(t, int16(-8192), ChipQuarters(k55, hot, 25), "%g °C", hot)
	}
	require.Equal(t, int16(8191), ChipQuarters(k55, 1373, 25))
	require.Equal(t, int16(-8192), ChipQuarters("other", 200, 25))
	require.Equal(t, uint32(0xFFFFFFFF), Word("other", 200, 25, probe.FaultNone))
	for _, q := range []int16{-8192, -32768, 8191, 32767} {
		require.True(t, math.IsNaN(float64(FromChipQuarters(k55, q, 25))), "%d", q)
	}
	require.True(t, math.IsNaN(float64(FromChipQuarters("other", 800, 25))))
}

// No word makes Decode panic or give a temperature outside the ranges, and what it gives is what
// the word says.
func FuzzDecode(f *testing.F) {
	for _, w := range []uint32{0, 0xFFFFFFFF, 0x0C601900, 0x33601F40, 0xFAAC1900, 0x00011881,
		0x00011882, 0x00011884, 0x0174FF00, 0x7FFCFFF0, 0x80000000, 0x00020000, 8} {
		f.Add(w)
	}
	f.Fuzz(func(t *testing.T, word uint32) {
		for _, k := range []Type{E, J, K, N, R, S, T} {
			name := "MAX31855" + k.String()
			m := Read(name, word)
			sound(t, k, m)
			hot, cold, fault := Decode(name, word)
			if hot != m.Hot || cold != m.Cold || fault != m.Fault {
				t.Fatalf("%s %08X: %g, %g, %v beside %+v", name, word, hot, cold, fault, m)
			}
			if fault != probe.FaultNone {
				continue
			}
			if back := Word(name, hot, cold, probe.FaultNone); back != word {
				t.Fatalf("%s: %08X comes back as %08X", name, word, back)
			}
		}
	})
}
