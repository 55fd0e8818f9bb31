package sim_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/port"
	"strawline/probe/sim"
)

// openers reach a board as a keeper does, by either link.
func openers(t *testing.T, cfg sim.Config) map[string]struct {
	b    *sim.Board
	open port.Opener
} {
	byMemory, byTerminal := sim.New(cfg), sim.New(cfg)
	m, err := byMemory.Memory()
	require.NoError(t, err)
	path, err := byTerminal.Pty(t.TempDir())
	require.NoError(t, err)
	t.Cleanup(func() {
		require.NoError(t, byMemory.Close())
		require.NoError(t, byTerminal.Close())
	})
	serial := port.OpenSerial(path, 38400)
	return map[string]struct {
		b    *sim.Board
		open port.Opener
	}{
		"memory": {byMemory, func() (port.Stream, error) {
			c, err := m.Open()
			if err != nil {
				return nil, err
			}
			byMemory.Opened()
			return c, nil
		}},
		"terminal": {byTerminal, func() (port.Stream, error) {
			s, err := serial()
			if err == nil {
				byTerminal.Opened()
			}
			return s, err
		}},
	}
}

// TestPortInLockstep drives a board through probe/port: it heats, the cable goes and comes,
// and the same is seen over both links.
func TestPortInLockstep(t *testing.T) {
	seen := map[string][]probe.Batch{}
	for name, l := range openers(t, sim.Config{Seed: 3, Faults: faults(t, "unplug@30s+5s")}) {
		p := port.New(port.Config{}, l.open)
		var said uint64
		var heated, again time.Duration
		for now := time.Duration(0); now < time.Minute; now += sim.Step {
			batch, err := p.Collect(now, said)
			require.NoError(t, err, "%s at %v", name, now)
			if batch.Link.Board != nil {
				b := *batch.Link.Board
				batch.Link.Board = &b
			}
			seen[name] = append(seen[name], batch)
			p.Command(now, 400)
			said, err = l.b.Grant(p.Sent())
			require.NoError(t, err, "%s at %v", name, now)
			if on := l.b.Truth().On; now < 30*time.Second {
				heated = on
			} else {
				again = on
			}
		}
		assert.InDelta(t, 0.4*27, heated.Seconds(), 1, name)
		assert.InDelta(t, 0.4*22, (again - heated).Seconds(), 1, name)
		p.Close(time.Minute)
	}
	require.Equal(t, len(seen["memory"]), len(seen["terminal"]))
	gone := 0
	for i, b := range seen["memory"] {
		assert.Equal(t, b, seen["terminal"][i], "step %d", i)
		if b.Link.State == probe.LinkGone {
			gone++
			assert.Equal(t, 30*time.Second+sim.Step, b.Link.Since, "seen in the very step")
		}
	}
	assert.Positive(t, gone)
}
