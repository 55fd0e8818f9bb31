package sim_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/board"
	"strawline/probe/plant"
	"strawline/probe/sim"
	"strawline/probe/thermocouple"
)

// second gives what channel 2 said last.
func second(t *testing.T, h *host) float64 {
	t.Helper()
	r := h.frames[len(h.frames)-1].(board.Reading)
	require.Equal(t, uint8(2), r.Channel)
	hot, _, fault := thermocouple.Decode("MAX31855K", r.Raw)
	require.Equal(t, probe.FaultNone, fault)
	return float64(hot)
}

// TestProbeAtTheBlade: channel 2 reads the blade, which lags the air, and the air without one.
func TestProbeAtTheBlade(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 3, BladeProbe: true, Room: true, Start: 200, Noise: -1})
	h.run(1)
	assert.InDelta(t, float64(h.b.Truth().Air), second(t, h), 0.15)
	h.b.BladeIn(plant.A().Blade, 22)
	h.run(1)
	assert.InDelta(t, 22, second(t, h), 0.2)
	h.run(4 * 60)
	assert.InDelta(t, float64(h.b.Truth().Blade), second(t, h), 0.15)
	assert.Greater(t, second(t, h), 25.0, "it warms")
	assert.Less(t, second(t, h), float64(h.b.Truth().Air)-50)
}
