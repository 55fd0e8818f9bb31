package keeper

import (
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
)

// jumps are by how much a clock is set: an hour and a day, both ways.
var jumps = [...]time.Duration{time.Hour, -time.Hour, 24 * time.Hour, -24 * time.Hour}

// TestAClockThatIsSetChangesNothing: 100 jumps of the wall's clock are each told and cost neither
// a step nor the heat.
func TestAClockThatIsSetChangesNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLive(t, 3)
		defer l.off()
		var off atomic.Int64
		wall := l.cfg.Clock.Wall
		l.cfg.Clock.Wall = func() time.Time { return wall().Add(time.Duration(off.Load())) }
		l.cfg.Clock.CountsSleep = true
		l.prepare()
		done := make(chan struct{})
		go func() {
			defer close(done)
			for i := range 100 {
				time.Sleep(2*time.Second + Tick/3)
				off.Add(int64(jumps[i%len(jumps)]))
			}
		}()
		_, err := l.run(5 * time.Minute)
		require.NoError(t, err)
		<-done
		rs := records(t, l.k.Out())
		require.Len(t, events(rs, control.EvNote), 100)
		require.Empty(t, events(rs, control.EvTrip))
		require.Empty(t, events(rs, control.EvDoubt))
		require.Positive(t, l.heatAfter(l.clock()-time.Minute))
		ts := samples(rs)
		for i := range ts[1:] {
			require.Less(t, ts[i+1]-ts[i], 3*Tick)
		}
	})
}

// TestSleepOfTheComputer: after a sleep of more than the trip's time there is no heat without a
// person, whether the run's clock counted the sleep or only the wall's did; the record says how
// long it was.
func TestSleepOfTheComputer(t *testing.T) {
	for _, counts := range []bool{true, false} {
		for _, span := range []time.Duration{11 * time.Second, time.Hour, 24 * time.Hour} {
			synctest.Test(t, func(t *testing.T) {
				l := newLive(t, 4)
				defer l.off()
				var slept, steps atomic.Int64
				now, wall := l.cfg.Clock.Now, l.cfg.Clock.Wall
				l.cfg.Clock.CountsSleep = counts
				l.cfg.Clock.Wall = func() time.Time { return wall().Add(time.Duration(slept.Load())) }
				l.cfg.Clock.Now = func() time.Duration {
					if steps.Add(1); counts {
						return now() + time.Duration(slept.Load())
					}
					return now()
				}
				l.prepare()
				go func() {
					time.Sleep(time.Minute + Tick/3)
					slept.Store(int64(span))
				}()
				res, err := l.run(5 * time.Minute)
				require.NoError(t, err)
				require.Equal(t, "tripped", res.Word)
				rs := records(t, l.k.Out())
				notes, trips := events(rs, control.EvNote), events(rs, control.EvTrip)
				require.Len(t, notes, 1)
				require.Contains(t, notes[0].Text, "the computer slept")
				require.Contains(t, notes[0].Text, span.String())
				require.Len(t, trips, 1)
				require.Contains(t, trips[0].Text, "stood still for")
				require.InDelta(t, 60, trips[0].T.Seconds()-span.Seconds(), 2)
				require.Zero(t, l.heatAfter(now()-3*time.Minute))
			})
		}
	}
}

// TestClockWatch: what is told of two clocks that part.
func TestClockWatch(t *testing.T) {
	start := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		step, wall time.Duration
		counts     bool
		want       string
		slept      time.Duration
	}{
		{Tick, Tick, true, "", 0},
		{Tick, 1900 * time.Millisecond, false, "", 0},
		{time.Hour, time.Hour, true, "slept, or the program was stopped, for 1h0m0s", 0},
		{time.Minute, time.Minute, false, "the program was stopped for 1m0s", 0},
		{Tick, time.Hour + Tick, true, "clock was put on by 1h0m0s", 0},
		{Tick, Tick - time.Hour, true, "clock was put back by 1h0m0s", 0},
		{Tick, time.Hour + Tick, false, "slept, or its clock was put on, for 1h0m0s", time.Hour},
		{Tick, Tick - time.Hour, false, "clock was put back by 1h0m0s", 0},
	} {
		var w clockWatch
		words, _ := w.look(time.Second, start, c.counts)
		require.Empty(t, words)
		words, slept := w.look(time.Second+c.step, start.Add(c.wall), c.counts)
		require.Contains(t, words, c.want)
		require.Equal(t, c.want == "", words == "")
		require.Equal(t, c.slept, slept)
	}
}
