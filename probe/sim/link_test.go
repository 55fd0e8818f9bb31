package sim_test

import (
	"bytes"
	"io/fs"
	"math/rand/v2"
	"os"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.bug.st/serial"

	"strawline/probe/sim"
)

func TestMemoryContract(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := sim.New(sim.Config{Seed: 1})
		_, err := b.Grant(0)
		assert.Error(t, err, "no link")
		m, err := b.Memory()
		require.NoError(t, err)
		_, err = b.Memory()
		assert.Error(t, err, "one link a board")
		c, err := m.Open()
		require.NoError(t, err)
		_, err = m.Open()
		assert.ErrorIs(t, err, syscall.EBUSY)
		b.Opened()
		buf := make([]byte, 256)
		require.NoError(t, c.SetReadTimeout(50*time.Millisecond))
		start := time.Now()
		n, err := c.Read(buf)
		assert.Equal(t, 0, n)
		assert.NoError(t, err, "a time-out is no error")
		assert.Equal(t, 50*time.Millisecond, time.Since(start))
		for range 8 {
			_, err = b.Grant(0)
			require.NoError(t, err)
		}
		n, err = c.Read(buf)
		assert.Equal(t, 64, n, "parts, as they come")
		require.NoError(t, err)
		require.NoError(t, c.ResetInputBuffer())
		n, _ = c.Read(buf)
		assert.Zero(t, n)
		require.NoError(t, c.SetReadTimeout(-1))
		woken := make(chan error)
		go func() { _, err := c.Read(buf); woken <- err }()
		synctest.Wait()
		require.NoError(t, c.Close())
		assert.ErrorIs(t, <-woken, fs.ErrClosed)
		_, err = c.Write(buf)
		assert.ErrorIs(t, err, fs.ErrClosed)
		assert.NoError(t, c.Close())
		c, err = m.Open()
		require.NoError(t, err)
		go func() { _, err := c.Read(buf); woken <- err }()
		synctest.Wait()
		require.NoError(t, b.Close())
		assert.ErrorIs(t, <-woken, syscall.EIO)
		_, err = b.Grant(0)
		assert.ErrorIs(t, err, sim.ErrClosed)
		_, err = m.Open()
		assert.ErrorIs(t, err, fs.ErrNotExist)
		assert.NoError(t, b.Close())
	})
}

func TestGrantNeedsTheBytes(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1})
	h.duty(0)
	_, err := h.b.Grant(h.sent + 1)
	assert.ErrorContains(t, err, "granted")
	_, err = h.b.Grant(h.sent)
	require.NoError(t, err)
	_, err = h.b.Grant(h.sent - 1)
	assert.ErrorContains(t, err, "after")
	_, err = h.b.Grant(h.sent + 1<<40)
	assert.ErrorContains(t, err, "at once")
}

// TestNobodyReads: a host that never reads stops nothing, and what is lost is not said.
func TestNobodyReads(t *testing.T) {
	for name, newLink := range links() {
		h := newLink(t, sim.Config{Seed: 1})
		h.opened()
		var said, last uint64
		for range 12000 {
			var err error
			last = said
			said, err = h.b.Grant(0)
			require.NoError(t, err, name)
		}
		assert.Equal(t, last, said, name)
		assert.Positive(t, said, name)
		require.NoError(t, h.s.Close())
		h.opened() // what lay in the cable is forgotten, and the counts begin again
		h.run(7)
		assert.Zero(t, h.bad, name)
		assert.Len(t, h.frames, 2, name)
		require.NoError(t, h.s.Close())
	}
}

// links are the two ways to reach a board; the second by the serial library.
func links() map[string]func(*testing.T, sim.Config) *host {
	return map[string]func(*testing.T, sim.Config) *host{
		"memory": func(t *testing.T, cfg sim.Config) *host {
			b := sim.New(cfg)
			m, err := b.Memory()
			require.NoError(t, err)
			t.Cleanup(func() { require.NoError(t, b.Close()) })
			return &host{TB: t, b: b, open: func() (stream, error) { return m.Open() }}
		},
		"terminal": func(t *testing.T, cfg sim.Config) *host {
			b := sim.New(cfg)
			path, err := b.Pty(t.TempDir())
			require.NoError(t, err)
			t.Cleanup(func() { require.NoError(t, b.Close()) })
			return &host{TB: t, b: b, open: func() (stream, error) {
				return serial.Open(path, &serial.Mode{BaudRate: 38400})
			}}
		},
	}
}

// talk plays one seeded host through every fault and gives all that the board said.
func talk(h *host, seed uint64) []byte {
	h.Helper()
	r := rand.New(rand.NewPCG(seed, 9))
	var all []byte
	h.opened()
	reopen := func() {
		all = append(all, h.raw...)
		require.NoError(h, h.s.Close())
		h.s = nil
	}
	for step := range 1600 {
		if h.s == nil {
			if s, err := h.open(); err == nil {
				require.NoError(h, s.Close())
				h.opened() // which opens it once more
			}
		}
		if h.s != nil && r.IntN(4) == 0 {
			switch r.IntN(12) {
			case 0:
				h.write([]byte("\x11\x13\x03\x04\x1a\x00\xff*\r\r\n\n")) // a terminal's own keys
			default:
				if len(h.frames) > 0 {
					h.seq = h.reading.Accepted
				}
				h.duty(uint16(r.IntN(1001)))
			}
		}
		h.run(1)
		if h.s != nil && (h.ended || step == 700) {
			reopen()
		}
	}
	return append(all, h.raw...)
}

func TestSameBytes(t *testing.T) {
	said := map[string][]byte{}
	for name, newLink := range links() {
		for range 2 {
			cfg := sim.Config{Seed: 7, Room: true, Faults: faults(t, "garbage@20s", "open@60s+2s",
				"unplug@90s", "restart@200s", "host-silent@240s", "door@260s", "ssr-short@280s")}
			got := talk(newLink(t, cfg), 5)
			if said[name] != nil {
				require.True(t, bytes.Equal(said[name], got), name)
			}
			said[name] = got
		}
	}
	require.Greater(t, len(said["memory"]), 50000)
	require.Equal(t, string(said["memory"]), string(said["terminal"]))
	other := talk(links()["memory"](t, sim.Config{Seed: 8, Room: true}), 5)
	assert.NotEqual(t, other[:1000], said["memory"][:1000], "another seed")
}

func TestTerminalPath(t *testing.T) {
	dir := t.TempDir()
	b := sim.New(sim.Config{Faults: faults(t, "unplug@1s+1s")})
	path, err := b.Pty(dir)
	require.NoError(t, err)
	_, err = b.Memory()
	assert.Error(t, err)
	for step := range 12 {
		_, err := b.Grant(0)
		require.NoError(t, err)
		_, err = os.Stat(path)
		if step >= 4 && step < 8 {
			assert.ErrorIs(t, err, fs.ErrNotExist, "%d", step)
		} else {
			assert.NoError(t, err, "%d", step)
		}
	}
	require.NoError(t, b.Close())
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, left)
	_, err = sim.New(sim.Config{}).Pty(dir + "/none")
	assert.ErrorIs(t, err, fs.ErrNotExist)
}

// TestTerminalGuard: bytes that never come are an error when the wall clock says so.
func TestTerminalGuard(t *testing.T) {
	var asked time.Duration
	b := sim.New(sim.Config{After: func(d time.Duration) <-chan time.Time {
		asked = d
		c := make(chan time.Time, 1)
		c <- time.Time{}
		return c
	}})
	_, err := b.Pty(t.TempDir())
	require.NoError(t, err)
	b.Opened()
	_, err = b.Grant(3)
	assert.ErrorContains(t, err, "3 host bytes were granted and 0 came within 1m0s")
	assert.Equal(t, time.Minute, asked)
	assert.Zero(t, b.Truth().Now, "no step was skipped into")
	require.NoError(t, b.Close())
}

// TestNoFilesLeft: terminals made, unplugged, opened and closed leave no open file.
func TestNoFilesLeft(t *testing.T) {
	open := func() int {
		files, err := os.ReadDir("/dev/fd")
		require.NoError(t, err)
		return len(files)
	}
	h := links()["terminal"](t, sim.Config{}) // whatever the runtime opens once is open now
	h.opened()
	require.NoError(t, h.s.Close())
	require.NoError(t, h.b.Close())
	before := open()
	for range 20 {
		h := links()["terminal"](t, sim.Config{Faults: faults(t, "unplug@1s+1s")})
		h.opened()
		h.run(12)
		require.NoError(t, h.s.Close())
		require.NoError(t, h.b.Close())
	}
	assert.Equal(t, before, open())
}
