package thermocouple

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe"
	"strawline/probe/temp"
)

// said makes the word of a MAX31855 with a slope in µV/°C, as its datasheet has it: the hot
// junction's emf seen from the cold one, by the straight line.
func said(t require.TestingT, k Type, slope, hot, cold float64) uint32 {
	mV, err := k.Across(temp.C(hot), temp.C(cold))
	require.NoError(t, err)
	quarters := int32(math.Round(4 * (cold + 1000*mV/slope)))
	return uint32(quarters)<<18 | uint32(int32(math.Round(cold*16)))<<4&0xFFF0
}

// step gives half a word step as degrees of the true type, and 0.01 °C.
func step(t require.TestingT, k Type, slope, hot float64) float64 {
	below, err := k.EMF(temp.C(hot - 0.5))
	require.NoError(t, err)
	above, err := k.EMF(temp.C(hot + 0.5))
	require.NoError(t, err)
	return 0.125*slope/1000/(above-below) + 0.01
}

// The corrected MAX31855K from -100 to 1300 °C and with the cold junction from 0 to 60 °C.
func TestCorrectedMAX31855K(t *testing.T) {
	const slope = 41.276
	assert.InDelta(t, 0.14, step(t, K, slope, 200), 0.005)
	assert.InDelta(t, 0.16, step(t, K, slope, 1300), 0.005)
	assert.InDelta(t, 0.18, step(t, K, slope, -100), 0.005)
	worst := 0.0
	for c := range 25 {
		cold := float64(c)*2.5 + 0.0625*float64(c%3)
		sum, n := 0.0, 0
		for hot := -100.0; hot <= 1300; hot += 0.37 {
			word := said(t, K, slope, hot, cold)
			m := MAX31855(K, word)
			if word == 0 { // both junctions within the chip's step of 0 °C
				require.Equal(t, probe.FaultNoChip, m.Fault)
				continue
			}
			require.Equal(t, probe.FaultNone, m.Fault)
			off := float64(m.Hot) - hot
			require.Less(t, math.Abs(off), step(t, K, slope, hot), "%g °C, cold %g °C", hot, cold)
			sum += off
			n++
		}
		worst = max(worst, math.Abs(sum/float64(n)))
	}
	assert.Less(t, worst, 0.01)
	t.Logf("largest mean error of a sweep %.4f °C", worst)
}

// The slopes of the suffixes as the datasheet's table 1 has them, and the same bound for each.
func TestCorrectedOtherSuffixes(t *testing.T) {
	slopes := map[Type]float64{E: 76.373, J: 57.953, K: 41.276, N: 36.256, R: 10.506, S: 9.587,
		T: 52.18}
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom([]Type{E, J, K, N, R, S, T}).Draw(t, "type")
		low, high := max(curves[k].coldest, -195)+1, curves[k].hottest-1
		hot := rapid.Float64Range(low, high).Draw(t, "hot")
		cold := float64(rapid.IntRange(-40*16, 80*16).Draw(t, "cold")) / 16
		m := Read("MAX31855"+k.String(), said(t, k, slopes[k], hot, cold))
		if m.Own == 0 && m.Fault == probe.FaultNoChip {
			return
		}
		if m.Fault == probe.FaultRange { // only rounding can have taken it over the end
			width := step(t, k, slopes[k], min(max(hot, low+0.5), high-0.5))
			require.Less(t, min(hot-low, high-hot), width+1)
			return
		}
		require.Equal(t, probe.FaultNone, m.Fault)
		require.Equal(t, cold, float64(m.Cold))
		// The slope changes fast near the cold end.
		require.InDelta(t, hot, float64(m.Hot), 1.15*step(t, k, slopes[k], hot))
	})
}

// What the uncorrected chips say, as an independent model of them has it (whole degrees).
func TestUncorrectedError(t *testing.T) {
	for _, p := range []struct {
		chip     string
		hot, off float64
	}{
		{"MAX31855K", 150, -0.5}, {"MAX31855K", 200, -2}, {"MAX31855K", 300, -3.5},
		{"MAX31855K", 1100, -6}, {"MAX31855K", 1200, -16}, {"MAX31855K", 1300, -30},
		{"MAX31855J", 400, -20}, {"MAX31855N", 400, -35}, {"MAX31855S", 400, -50},
		{"MAX31855T", 100, -12},
	} {
		q := ChipQuarters(p.chip, temp.C(p.hot), 25)
		assert.InDelta(t, p.off, float64(q)/4-p.hot, 0.6, "%s at %g °C", p.chip, p.hot)
	}
}

// Near the ends of types R and S the line goes past the 14 bits: such a word says out of range.
func TestLineBeyondTheWord(t *testing.T) {
	require.Equal(t, int16(8191), ChipQuarters("MAX31855R", 1768, 125))
	_, _, fault := Decode("MAX31855R", Word("MAX31855R", 1768, 125, probe.FaultNone))
	require.Equal(t, probe.FaultRange, fault)
	require.True(t, math.IsNaN(float64(FromChipQuarters("MAX31855R", 8191, 125))))
	_, _, fault = Decode("MAX31855R", 0x1FFF<<18|2000<<4)
	require.Equal(t, probe.FaultRange, fault)
}

// A MAX6675 by the carried table: its words at a cold junction of 25 °C, and that undone within
// half a word step of the flattest slope of type K in the range.
func TestMAX6675Line(t *testing.T) {
	names, table := rows(t, "chip_linearisation_K_cj25.csv")
	require.Equal(t, "max6675_word_c", names[7])
	undone := 0
	for _, r := range table {
		quarters := r[7] * 4
		if quarters <= 0 || quarters >= 4095 {
			continue
		}
		undone++
		m := Read("MAX6675", uint32(quarters)<<3)
		require.Equal(t, probe.FaultNone, m.Fault)
		require.Equal(t, r[7], float64(m.Own))
		require.InDelta(t, r[0], float64(m.Hot), 0.125*41/38.9+0.01, "%g °C", r[0])
	}
	require.Greater(t, undone, 15)
	cool, warm := MAX6675(0x18E0, 15), MAX6675(0x18E0, 45)
	assert.InDelta(t, float64(cool.Hot), float64(warm.Hot), 0.4, "what is assumed matters little")
	assert.NotEqual(t, cool.Hot, warm.Hot)
	_, cold, fault := Decode("MAX6675", 0x18E0)
	assert.Equal(t, probe.FaultNone, fault)
	assert.Equal(t, AssumedCold, cold)
}
