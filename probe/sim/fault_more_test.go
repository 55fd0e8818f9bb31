package sim_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/board"
	"strawline/probe/sim"
	"strawline/probe/thermocouple"
)

// read gives what the last word of channel 1 says, hot and cold.
func (h *host) read() (hot, cold float64) {
	h.Helper()
	a, b, fault := thermocouple.Decode("MAX31855K", h.reading.Raw)
	require.Zero(h, fault)
	return float64(a), float64(b)
}

// Volts at nine tenths are 0.81 of the power, one of two elements is half of it, and none none.
func TestPowerFaults(t *testing.T) {
	joules := func(fault string) float64 {
		h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, fault)})
		h.run(8)
		h.heat(1000, 60)
		return h.b.Truth().Joules
	}
	whole := joules("door@9h")
	require.Greater(t, whole, 1400.0*55)
	assert.InDelta(t, 0.81*whole, joules("sag@0s"), 1)
	assert.InDelta(t, whole/2, joules("weak@0s"), 1)
	assert.Zero(t, joules("no-heat@0s"))
	h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, "ssr-short@0s", "no-heat@0s")})
	h.run(8)
	assert.Zero(t, h.b.Truth().Watts, "a broken element heats with no relay")
}

// The bead comes down to the room by its own lag, exactly as a lag of one time constant does.
func TestFallenProbe(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Start: 200, Noise: -1, Faults: faults(t, "fallen@10s+80s")})
	h.run(40)
	from, _ := h.read()
	room := 22.0 // of reference oven A
	for _, after := range []int{20, 40, 60} {
		h.run(80)
		got, _ := h.read()
		want := room + (from-room)*math.Exp(-float64(after)/20)
		assert.InDelta(t, want, got, 1, "%d s after", after)
	}
	h.run(80)
	got, _ := h.read()
	assert.Greater(t, got, 150.0, "back in its place")
}

func TestLeadsTogether(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Start: 200, Noise: -1, Faults: faults(t, "lead-short@10s")})
	h.run(8)
	hot, _ := h.read()
	assert.Greater(t, hot, 150.0)
	h.run(40)
	var cold float64
	hot, cold = h.read()
	assert.InDelta(t, cold, hot, 0.26, "no emf: the chip reads its own heat")
}

func TestWarmBoard(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, "warm-board@1m")})
	h.run(4 * 60)
	_, before := h.read()
	h.run(4 * 60 * 5)
	_, after := h.read()
	assert.InDelta(t, 10, after-before, 0.2, "2 °C a minute")
	h.run(4 * 60 * 30)
	_, end := h.read()
	assert.InDelta(t, 65, end, 0.1)
}

func TestAFaultEndsWithItsLength(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, "no-heat@20s+3s")})
	h.run(8)
	off := 0
	for range 30 {
		h.heat(1000, 1)
		if h.b.Truth().Watts == 0 {
			off++
			end := h.b.Truth().Now
			assert.True(t, end > 20*time.Second && end <= 23*time.Second, "%v", end)
		}
	}
	assert.Equal(t, 3, off)
}

// TestShortedToARail: the chip says which, and the program latches it after four.
func TestShortedToARail(t *testing.T) {
	for fault, want := range map[string]probe.Latch{"short-ground@4s": probe.LatchShortGround,
		"short-supply@4s": probe.LatchShortSupply} {
		h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, fault)})
		h.run(1)
		h.heat(1000, 2)
		require.True(t, h.b.Truth().Output)
		h.run(1)
		assert.False(t, h.b.Truth().Output, "in the same sample")
		h.run(3)
		assert.Equal(t, want, h.reading.Latches)
	}
}

// TestMute: the board works on unheard, and takes the heat away when it hears nothing.
func TestMute(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, "mute@4s")})
	h.run(1)
	h.heat(1000, 2)
	n := len(h.frames)
	h.heat(1000, 5)
	assert.Len(t, h.frames, n)
	assert.True(t, h.b.Truth().Output, "it hears the host")
	h.run(4)
	assert.Greater(t, len(h.frames), n)
}

// TestHang: for the watchdog's second the output stays as it was and nothing is said or taken;
// then the board starts anew.
func TestHang(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, "hang@4s")})
	h.run(1)
	h.heat(1000, 2)
	require.True(t, h.b.Truth().Output)
	n, on := len(h.frames), h.b.Truth().On
	h.heat(0, 1)
	assert.Equal(t, on+time.Second, h.b.Truth().On, "the duty of 0 was not taken")
	h.run(1)
	assert.False(t, h.b.Truth().Output)
	h.run(6)
	require.Greater(t, len(h.frames), n)
	assert.Equal(t, board.CauseWatchdog, h.frames[n].(board.Boot).Cause)
	assert.Equal(t, on+time.Second, h.b.Truth().On)
	_, err := sim.ParseFault("hang@1s+1s")
	assert.ErrorContains(t, err, "no length")
}

// TestSlowWander: half a degree a minute up to five, and back when it is over.
func TestSlowWander(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Noise: -1, Faults: faults(t, "wander-up@1m+15m")})
	read := func(minutes int) float64 {
		h.run(4 * 60 * minutes)
		hot, _ := h.read()
		return hot
	}
	before := read(1)
	assert.InDelta(t, before+2.5, read(5), 0.26)
	assert.InDelta(t, before+5, read(8), 0.26)
	assert.InDelta(t, before, read(15), 0.26)
	h = newHost(t, sim.Config{Seed: 1, Noise: -1})
	before = read(1)
	h.b.Befall(sim.Fault{Kind: sim.WanderDown, At: h.b.Truth().Now})
	assert.InDelta(t, before-5, read(12), 0.26)
}

// TestMains: the power goes with the square of the volts.
func TestMains(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1})
	h.run(8)
	h.heat(1000, 2)
	h.b.Mains(1.1)
	h.heat(1000, 1)
	assert.InDelta(t, 1400*1.21, h.b.Truth().Watts, 1e-6)
	h.b.Mains(1)
	h.heat(1000, 1)
	assert.InDelta(t, 1400, h.b.Truth().Watts, 1e-6)
}

// TestAFaultsLengthIsSaid: how it is written is no secret.
func TestAFaultsLengthIsSaid(t *testing.T) {
	for _, s := range []string{"open@40m/60s", "open@40m:60s", "open@40m,60s", "open@x"} {
		_, err := sim.ParseFault(s)
		require.ErrorContains(t, err, "open@40m+60s", s)
	}
	f, err := sim.ParseFault("open@40m+60s")
	require.NoError(t, err)
	require.Equal(t, sim.Fault{Kind: sim.Open, At: 40 * time.Minute, For: time.Minute}, f)
}
