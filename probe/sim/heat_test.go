package sim_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/plant"
	"strawline/probe/sim"
)

// TestLongRunDuty: the time that the output was on is the duty's share within one mains
// cycle, in both mains, though no window holds a whole count of cycles at this duty.
func TestLongRunDuty(t *testing.T) {
	for _, hz := range []uint8{50, 60} {
		h := newHost(t, sim.Config{Seed: 1, MainsHz: hz, Limit: 300})
		h.run(7) // to 2 s after the boot line, where a window begins
		h.heat(333, 600)
		cycle := float64(time.Second) / float64(hz)
		assert.InDelta(t, 0.333*600*float64(time.Second), float64(h.b.Truth().On), cycle, "%d Hz", hz)
		assert.InDelta(t, 1400*h.b.Truth().On.Seconds(), h.b.Truth().Joules, 1)
	}
}

// TestSameOven: at full duty the oven behind the board is the oven of probe/plant.
func TestSameOven(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Blade: true})
	alone := plant.New(plant.A(), plant.A().Room)
	for range 8 {
		alone.Step(0)
	}
	h.run(1) // to where a mains cycle begins
	h.heat(1000, 60)
	for range 240 {
		alone.Step(1400)
	}
	got := h.b.Truth()
	assert.Equal(t, alone.Probe(), got.Probe)
	assert.Equal(t, alone.Blade(), got.Blade)
	assert.Equal(t, alone.Element(), got.Rods)
	assert.Equal(t, 1400.0*60, got.Joules)
	assert.Greater(t, got.Rods, got.Air)
	assert.Greater(t, got.Air, got.Wall)
	assert.Greater(t, got.Wall, got.Case)
}

func TestBlade(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Start: 150})
	assert.True(t, math.IsNaN(float64(h.b.Truth().Blade)), "the oven is empty at first")
	h.b.BladeIn(plant.A().Blade, 20)
	h.run(4 * 60)
	in := h.b.Truth()
	assert.Greater(t, float64(in.Blade), 25.0)
	assert.Less(t, in.Blade, in.Air)
	h.b.BladeOut()
	h.run(1)
	assert.True(t, math.IsNaN(float64(h.b.Truth().Blade)))
}

func BenchmarkGrant(b *testing.B) {
	h := newHost(b, sim.Config{Seed: 1, Limit: 300})
	i := 0
	b.ReportAllocs()
	for b.Loop() {
		if i++; i%4 == 0 {
			h.duty(300)
		}
		h.run(1)
		h.frames, h.raw = h.frames[:0], h.raw[:0]
	}
	require.Positive(b, h.b.Truth().Joules)
}
