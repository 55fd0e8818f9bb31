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
