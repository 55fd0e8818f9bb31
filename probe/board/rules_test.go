package board_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/board"
)

func TestDeadMan(t *testing.T) {
	var n board.Numbers
	var c board.Command
	assert.False(t, c.Silent(time.Hour), "at duty 0 nothing latches")
	require.True(t, c.Take(0, &n, board.Duty{Seq: 1, PerMille: 300}, false))
	assert.False(t, c.Silent(3*time.Second-1))
	assert.True(t, c.Silent(3*time.Second))
	assert.False(t, c.Take(2*time.Second, &n, board.Duty{Seq: 1, PerMille: 300}, false), "replay")
	assert.True(t, c.Silent(3*time.Second), "a replay feeds nothing")
	require.True(t, c.Take(2*time.Second, &n, board.Duty{Seq: 9, PerMille: 300}, false))
	assert.False(t, c.Silent(5*time.Second-1))
	assert.True(t, c.Silent(5*time.Second))
	require.True(t, c.Take(4*time.Second, &n, board.Duty{Seq: 500, PerMille: 0}, false))
	assert.False(t, c.Silent(time.Hour))
	assert.Equal(t, uint16(9), n.Last())
	require.True(t, c.Take(5*time.Second, &n, board.Duty{Seq: 10, PerMille: 1000}, true))
	assert.Zero(t, c.PerMille(), "held at 0 by a latch")
	assert.Equal(t, uint16(10), n.Last())
	require.True(t, c.Take(6*time.Second, &n, board.Duty{Seq: 11, PerMille: 1000}, false))
	c.Off()
	assert.False(t, c.Silent(time.Hour))
}

// TestHeatNeedsNewNumber feeds any commands and checks that heat above the last accepted
// one never comes from a number that was used.
func TestHeatNeedsNewNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var n board.Numbers
		var c board.Command
		n.Start(rapid.Uint16().Draw(t, "start"))
		for range rapid.IntRange(1, 60).Draw(t, "commands") {
			d := board.Duty{
				Seq:      n.Last() + rapid.Uint16Range(0, 12).Draw(t, "ahead") - 2,
				PerMille: rapid.SampledFrom([]uint16{0, 1, 500, 1000}).Draw(t, "duty"),
			}
			ahead := int(d.Seq - n.Last())
			before := n.Last()
			took := c.Take(0, &n, d, false)
			require.Equal(t, d.PerMille == 0 || ahead >= 1 && ahead <= 8, took)
			if took {
				require.Equal(t, d.PerMille, c.PerMille())
			}
			if ahead < 1 || ahead > 8 {
				require.Equal(t, before, n.Last())
			}
		}
	})
}

func TestTwoSteps(t *testing.T) {
	s := board.Stored{Guard: 1, LimitQ: 1040, WindowS: 2, MainsHz: 50}
	p := board.Propose{Seq: 17, Stored: s}
	good := board.Commit{Seq: 18, Check: p.Check()}
	propose := func(c *board.Change) {
		require.Equal(t, board.ResultDone, c.Propose(0, p, 0, 2, 2000))
	}
	var c board.Change
	_, r := c.Commit(0, good, 0)
	assert.Equal(t, board.ResultCheck, r, "nothing proposed")
	propose(&c)
	got, r := c.Commit(10*time.Second, good, 0)
	assert.Equal(t, board.ResultDone, r)
	assert.Equal(t, s, got)
	_, r = c.Commit(10*time.Second, good, 0)
	assert.Equal(t, board.ResultCheck, r, "used up")
	propose(&c)
	_, r = c.Commit(10*time.Second+1, good, 0)
	assert.Equal(t, board.ResultCheck, r, "too late")
	propose(&c)
	_, r = c.Commit(0, board.Commit{Seq: 18, Check: p.Check() ^ 1}, 0)
	assert.Equal(t, board.ResultCheck, r)
	_, r = c.Commit(0, good, 0)
	assert.Equal(t, board.ResultCheck, r, "forgotten after a wrong commit")
	propose(&c)
	_, r = c.Commit(0, good, 1)
	assert.Equal(t, board.ResultHeating, r)
	propose(&c)
	assert.Equal(t, board.ResultHeating, c.Propose(0, p, 1, 2, 2000))
	_, r = c.Commit(0, good, 0)
	assert.Equal(t, board.ResultCheck, r, "a refused proposal forgets the earlier one")
	propose(&c)
	c.Forget()
	_, r = c.Commit(0, good, 0)
	assert.Equal(t, board.ResultCheck, r)
	wrong := p
	wrong.Stored.Guard = 3
	assert.Equal(t, board.ResultRange, c.Propose(0, wrong, 0, 2, 2000))
	assert.Equal(t, board.ResultRange, c.Propose(0, p, 0, 2, 1039))
	assert.Equal(t, board.ResultRange, c.Propose(0, board.Propose{}, 0, 2, 2000))
}

// TestStartsAreFarApart takes every boot number and the next 2: no number of the first 20,000
// of one start fits right after the next.
func TestStartsAreFarApart(t *testing.T) {
	for boot := range 1 << 16 {
		for next := 1; next <= 2; next++ {
			gap := board.StartOf(uint16(boot+next)) - board.StartOf(uint16(boot))
			if gap < 15000 {
				require.Failf(t, "too near", "boot %d, %d later: %d", boot, next, gap)
			}
		}
	}
}
