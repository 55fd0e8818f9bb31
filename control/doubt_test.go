package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe"
)

// TestThreeGoodReadingsBehindTheDoubtGiveHeatBack takes the link away for less time than makes
// a reading stale: the readings before the doubt do not count towards the three.
func TestThreeGoodReadingsBehindTheDoubtGiveHeatBack(t *testing.T) {
	for _, c := range []struct {
		name string
		link func(*probe.Batch)
	}{
		{"the link is silent", func(x *probe.Batch) { x.Link.State, x.Readings = probe.LinkSilent, nil }},
		{"the board takes no commands", func(x *probe.Batch) { x.Link.Heats = false }},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := atSoak(t, time.Hour)
			b.link = c.link
			b.run(time.Second)
			require.NotEmpty(t, b.e.Snapshot().Doubt)
			b.link = nil
			for range TrustAfter - 1 {
				b.step()
				require.NotEmpty(t, b.e.Snapshot().Doubt)
				require.Zero(t, b.out.Duty)
			}
			b.step()
			require.Empty(t, b.e.Snapshot().Doubt)
		})
	}
}

// TestReadingsTwoSecondsApartGiveCreditWhileTheEngineStepsOn drops readings while steps go on
// four times a second, as on a real port: between two good readings inside the band the time
// counts up to 2 s, stale or not.
func TestReadingsTwoSecondsApartGiveCreditWhileTheEngineStepsOn(t *testing.T) {
	for _, c := range []struct {
		lost int // readings left out
		want time.Duration
	}{{5, 6 * tick}, {6, 7 * tick}, {7, 8 * tick}, {8, 0}} {
		e, now := soaker(t)
		for range 100 {
			feed(e, now, tick, 200, 0)
		}
		had := e.credits[0]
		for range c.lost {
			*now += tick
			e.Step(*now, Input{Batch: probe.Batch{Link: probe.Link{State: probe.LinkUp, Heats: true}}})
		}
		feed(e, now, tick, 200, 0)
		require.Equal(t, c.want, e.credits[0]-had, "%d readings lost", c.lost)
	}
}
