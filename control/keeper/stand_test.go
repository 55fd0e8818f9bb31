package keeper

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
)

// TestAnEngineThatStandsStillLosesTheHeatBeforeTheDeadMan holds up one step for 2.75 s while the
// oven heats at full duty: a duty is good for 1.5 s, the board's dead man waits 3 s.
func TestAnEngineThatStandsStillLosesTheHeatBeforeTheDeadMan(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLive(t, 1)
		defer l.off()
		l.prepare()
		const stand = 2750 * time.Millisecond
		var at time.Duration
		l.rekeep(func(r control.Record) {
			if at == 0 && r.Sample != nil && r.Sample.T >= time.Minute {
				at = l.clock()
				time.Sleep(stand)
			}
		})
		_, err := l.run(time.Minute + 10*time.Second)
		require.NoError(t, err)
		require.Positive(t, at)
		l.mu.Lock()
		defer l.mu.Unlock()
		before, late := time.Duration(0), time.Duration(0)
		for _, h := range l.on {
			switch {
			case h.at > at && h.at <= at+time.Second:
				before += h.on
			case h.at > at+control.MaxAge+Tick && h.at <= at+stand:
				late += h.on
			}
		}
		require.Positive(t, before, "it heats")
		require.Zero(t, late)
	})
}
