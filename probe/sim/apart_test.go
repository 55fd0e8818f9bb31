package sim_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/board"
	"strawline/probe/sim"
)

// TestApart: a board with its power from elsewhere runs on without its cable. It takes the heat
// away by itself 3 s after the last command, and says so once the cable is back: it did not start
// again.
func TestApart(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Apart: true, Name: "by-itself", Faults: faults(t,
		"unplug@4s+6s")})
	boot := h.frames[0].(board.Boot)
	assert.Equal(t, uint16(1), boot.Boot, "its power alone: an opened port is no start")
	assert.Equal(t, board.CausePower, boot.Cause)
	assert.Equal(t, "by-itself", boot.Name)
	h.run(1)
	h.heat(1000, 2) // the last command is taken at 3.0 s
	h.run(1)
	assert.True(t, h.ended, "the reader meets the end at once")
	h.run(6) // to 5.75 s
	assert.True(t, h.b.Truth().Output, "nobody has told it that the cable is out")
	h.run(2) // to 6.25 s
	assert.False(t, h.b.Truth().Output, "its dead man")
	on, millis := h.b.Truth().On, h.reading.Millis
	h.run(16)
	h.opened()
	h.run(4)
	require.NotEmpty(t, h.frames)
	for _, f := range h.frames {
		assert.IsType(t, board.Reading{}, f, "no boot line")
	}
	assert.Equal(t, probe.LatchHostSilent, h.reading.Latches)
	assert.Greater(t, h.reading.Millis, millis+6000, "its clock has gone on")
	assert.Equal(t, on, h.b.Truth().On)
	assert.Equal(t, board.ResultDone, h.ack(board.Query{Seq: 500}).Result)
	info := h.frames[len(h.frames)-2].(board.Info)
	assert.Equal(t, uint16(1), info.Boot)
	assert.Equal(t, probe.LatchHostSilent, info.Latches)
}
