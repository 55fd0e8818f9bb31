package keeper

import (
	"io/fs"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
)

// TestAPanicOfTheLoopEndsTheRunWithTheHeatOff breaks what the lockstep loop itself calls.
func TestAPanicOfTheLoopEndsTheRunWithTheHeatOff(t *testing.T) {
	s := newShop(t, simSeed(3))
	cfg := s.lockstep(t, longSoak(150, time.Hour), 3, Away)
	armed := true
	cfg.Records = func(r control.Record) {
		if armed && r.Sample != nil && r.Sample.T >= time.Minute {
			armed = false
			panic("provoked")
		}
	}
	k, err := Prepare(t.Context(), cfg)
	require.NoError(t, err)
	res, err := k.Run(t.Context())
	require.ErrorContains(t, err, "a failure in the keeper: provoked")
	require.Equal(t, "tripped", res.Word)
	require.False(t, res.Unanswered)
	requireEnded(t, cfg.Out, "provoked")
	requireOffForGood(t, s)
}

// TestARunThatEndsUnpluggedSaysThatNoDuty0Arrived takes the cable out of a heating oven and then
// stops the run: nothing could be sent, and the run file says so.
func TestARunThatEndsUnpluggedSaysThatNoDuty0Arrived(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLive(t, 1)
		defer l.off()
		l.prepare()
		time.AfterFunc(time.Minute, func() {
			l.mu.Lock()
			defer l.mu.Unlock()
			l.gone = fs.ErrNotExist
			_ = l.tap.Conn.Close()
		})
		res, err := l.run(time.Minute + 5*time.Second)
		require.NoError(t, err)
		require.True(t, res.Unanswered)
		notes := events(records(t, l.cfg.Out), control.EvNote)
		require.Len(t, notes, 1)
		require.Contains(t, notes[0].Text, "did not answer")
	})
}
