package sim_test

import (
	"io/fs"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/board"
	"strawline/probe/sim"
)

func TestParseFault(t *testing.T) {
	for in, want := range map[string]sim.Fault{
		"open@40m":            {Kind: sim.Open, At: 40 * time.Minute, For: time.Minute},
		"open@40m+90s":        {Kind: sim.Open, At: 40 * time.Minute, For: 90 * time.Second},
		"ssr-short@1h30m":     {Kind: sim.SSRShort, At: 90 * time.Minute, For: math.MaxInt64},
		"ssr-short@0s+5m":     {Kind: sim.SSRShort, For: 5 * time.Minute},
		"host-silent@1.5s":    {Kind: sim.HostSilent, At: 1500 * time.Millisecond, For: 5 * time.Second},
		"restart@1s":          {Kind: sim.Restart, At: time.Second},
		"garbage@1s":          {Kind: sim.Garbage, At: time.Second, For: 3 * time.Second},
		"unplug@1s":           {Kind: sim.Unplug, At: time.Second, For: 20 * time.Second},
		"door@1s":             {Kind: sim.DoorOpen, At: time.Second, For: 20 * time.Second},
		"unplug@20m0s+1h0m0s": {Kind: sim.Unplug, At: 20 * time.Minute, For: time.Hour},
	} {
		got, err := sim.ParseFault(in)
		require.NoError(t, err)
		assert.Equal(t, want, got)
		again, err := sim.ParseFault(got.String())
		require.NoError(t, err)
		assert.Equal(t, got, again)
	}
	for _, in := range []string{"", "open", "open@", "open@40", "open@-1s", "open@1s+", "open@1s+0s",
		"open@1s+-1s", "open@1s+1s+1s", "Open@1s", "fire@1s", "restart@1s+1s", "@1s", "open@1s@2s"} {
		_, err := sim.ParseFault(in)
		assert.Error(t, err, in)
	}
	_, err := sim.ParseFault("fire@1s")
	assert.ErrorContains(t, err, "open, ssr-short, host-silent, restart, garbage, unplug, door")
}

func TestShortedSSR(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, "ssr-short@2s")})
	h.run(1)
	require.Zero(t, h.b.Truth().Joules)
	h.heat(0, 60)
	assert.InDelta(t, 1400*60, h.b.Truth().Joules, 1, "full power at duty 0")
	assert.Zero(t, h.b.Truth().On)
	assert.False(t, h.b.Truth().Output)
	h.opened()
	h.run(4)
	assert.Equal(t, 1400.0, h.b.Truth().Watts, "while the board boots as well")
}

func TestHostSilent(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, "host-silent@4750ms")})
	h.run(1)
	h.heat(1000, 3) // the last command taken comes at 4 s
	require.Equal(t, 5*time.Second, h.b.Truth().Now)
	require.Equal(t, h.seq, h.reading.Accepted)
	h.heat(1000, 2)
	assert.Equal(t, probe.LatchHostSilent, h.reading.Latches, "at 7 s")
	assert.Equal(t, 5*time.Second, h.b.Truth().On, "from 2 s to 7 s")
	h.heat(0, 4) // from 9.75 s on lines arrive; the numbers have run only 6 ahead
	assert.Equal(t, h.seq, h.reading.Accepted)
	assert.Zero(t, h.reading.Refused)
	assert.Equal(t, probe.LatchHostSilent, h.reading.Latches)
}

func TestRestart(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, "restart@4s")})
	h.run(1)
	h.heat(1000, 2)
	require.True(t, h.b.Truth().Output)
	from := len(h.frames)
	h.duty(1000)
	h.run(6)
	assert.Len(t, h.frames, from, "silent while it boots")
	assert.False(t, h.b.Truth().Output)
	on := h.b.Truth().On
	h.heat(1000, 5)
	boot := h.frames[from].(board.Boot)
	assert.Equal(t, board.CauseWatchdog, boot.Cause)
	assert.Equal(t, uint16(3), boot.Boot, "once")
	assert.Equal(t, on, h.b.Truth().On, "old numbers are refused after the start")
	assert.Equal(t, board.StartOf(3), h.reading.Accepted)
}

func TestGarbage(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, "garbage@4s")})
	h.run(9)
	require.Zero(t, h.bad)
	n := len(h.frames)
	h.run(12)
	assert.Positive(t, h.bad)
	assert.Less(t, len(h.frames), n+4, "hardly a line gets through")
	h.run(1)
	n = len(h.frames)
	h.run(10)
	assert.Len(t, h.frames, n+10)
}

func TestUnplug(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, "unplug@4s")})
	h.run(1)
	h.heat(1000, 2)
	require.True(t, h.b.Truth().Output)
	on := h.b.Truth().On
	h.run(1)
	assert.True(t, h.ended, "the reader meets the end at once")
	_, err := h.s.Write([]byte("x"))
	assert.Error(t, err)
	assert.False(t, h.b.Truth().Output)
	require.NoError(t, h.s.Close())
	_, err = h.open()
	assert.ErrorIs(t, err, fs.ErrNotExist)
	h.run(79)
	_, err = h.open()
	assert.ErrorIs(t, err, fs.ErrNotExist, "out for 20 s")
	h.run(1)
	said, err := h.b.Grant(12345)
	require.NoError(t, err)
	assert.Zero(t, said, "nothing is open: no host byte is waited for")
	h.opened()
	h.run(7)
	boot := h.frames[0].(board.Boot)
	assert.Equal(t, uint16(4), boot.Boot, "power, DTR, power, DTR")
	assert.Equal(t, board.CauseReset, boot.Cause)
	assert.Equal(t, on, h.b.Truth().On)
}

func TestDoorFault(t *testing.T) {
	shut := newHost(t, sim.Config{Seed: 1, Start: 200})
	open := newHost(t, sim.Config{Seed: 1, Start: 200, Faults: faults(t, "door@4s")})
	shut.run(9)
	open.run(9)
	require.Equal(t, shut.b.Truth().Air, open.b.Truth().Air)
	shut.run(80)
	open.run(80)
	assert.Less(t, float64(open.b.Truth().Air), float64(shut.b.Truth().Air)-5)
	assert.True(t, open.b.Truth().Door)
	open.run(1)
	assert.False(t, open.b.Truth().Door)
	open.b.Door(true)
	open.run(1)
	assert.True(t, open.b.Truth().Door, "a person opens it")
}
