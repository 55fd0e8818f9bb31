package sim

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe"
)

// TestMeanIsDuty: after any count of whole windows the cycles that were on are the duty's,
// within one cycle.
func TestMeanIsDuty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		duty := rapid.IntRange(0, 1000).Draw(t, "duty")
		n := rapid.IntRange(2, 60).Draw(t, "window") * rapid.SampledFrom([]int{50, 60}).Draw(t, "hz")
		windows := rapid.IntRange(1, 40).Draw(t, "windows")
		var w window
		on := 0
		for range windows * n {
			if w.cycle(n, duty, true) {
				on++
			}
		}
		exact := float64(windows*n*duty) / 1000
		require.InDelta(t, exact, float64(on), 1)
		require.LessOrEqual(t, float64(on), exact)
	})
}

func TestNoHeatMadeUp(t *testing.T) {
	var w window
	for range 1000 {
		require.False(t, w.cycle(100, 1000, false))
	}
	on := 0
	for range 1000 {
		if w.cycle(100, 500, true) {
			on++
		}
	}
	assert.Equal(t, 500, on)
	for range 30 {
		w.cycle(100, 500, true)
	}
	assert.False(t, w.cycle(100, 0, true), "duty 0 is off at once")
	assert.False(t, w.cycle(100, 300, true), "30 of 100 were given")
	assert.True(t, w.cycle(100, 320, true), "a new duty counts at once")
}

func FuzzParseFault(f *testing.F) {
	for _, s := range []string{"open@40m", "open@40m+60s", "restart@1s", "ssr-short@0s", "x@", "@"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ParseFault(s)
		if err != nil {
			return
		}
		again, err := ParseFault(got.String())
		require.NoError(t, err)
		require.Equal(t, got, again)
		require.GreaterOrEqual(t, got.At, got.At*0)
	})
}

// TestRead takes the board's view of a word. The good ones are of the MAX31855 datasheet's
// table of thermocouple data, bits D31 to D18.
func TestRead(t *testing.T) {
	const no = probe.LatchNoChip
	for _, c := range []struct {
		word uint32
		why  probe.Latch
		q    int16
	}{
		{0b01100100000000 << 18, 0, 6400}, {0b00000110010011 << 18, 0, 403},
		{0b11111111111111 << 18, 0, -1}, {0b11110000011000 << 18, 0, -1000},
		{0x00010001, probe.LatchOpen, 0}, {0x00010002, probe.LatchShortGround, 0},
		{0x00010004, probe.LatchShortSupply, 0}, {0x00010007, probe.LatchOpen, 0},
		{0, no, 0}, {0xFFFFFFFF, no, 0}, {0x01920190 | 1<<17, no, 0}, {0x01900190 | 1<<3, no, 0},
		{0x01910190, no, 0}, {0x01900191, no, 0},
	} {
		why, q := read(c.word)
		assert.Equal(t, c.why, why, "%08X", c.word)
		assert.Equal(t, c.q, q, "%08X", c.word)
	}
}
