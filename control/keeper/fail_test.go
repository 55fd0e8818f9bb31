package keeper

import (
	"context"
	"errors"
	"io/fs"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/probe/board"
)

// TestAPanicOfThePortEndsTheRunWithTheHeatOff breaks the port's goroutine while it heats: once,
// and so that every later write breaks as well.
func TestAPanicOfThePortEndsTheRunWithTheHeatOff(t *testing.T) {
	for name, often := range map[string]int32{"once": 1, "for good": 1 << 30} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l := newLive(t, 1)
				defer l.off()
				var armed atomic.Int32
				l.cfg.Port.After = func(d time.Duration) <-chan time.Time {
					if armed.Add(-1) >= 0 {
						panic("provoked")
					}
					return time.After(d)
				}
				l.prepare()
				time.AfterFunc(time.Minute, func() { armed.Store(often) })
				_, err := l.run(time.Hour)
				require.ErrorContains(t, err, "a failure in the port: provoked")
				at := l.clock()
				require.Less(t, at, 2*time.Minute)
				requireEnded(t, l.cfg.Out, "provoked")
				require.Positive(t, l.heatAfter(0), "it was heating")
				time.Sleep(time.Minute)
				if often == 1 {
					require.Zero(t, l.heatAfter(at+Tick), "duty 0 was commanded")
				}
				require.Zero(t, l.heatAfter(at+board.DeadManAfter+Tick), "the dead man at the latest")
			})
		})
	}
}

func TestAPanicOfTheEngineEndsTheRunWithTheHeatOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLive(t, 1)
		defer l.off()
		l.prepare()
		l.rekeep(func(r control.Record) {
			if r.Sample != nil && r.Sample.T >= time.Minute {
				panic("provoked")
			}
		})
		sc := l.k.Screen()
		res, err := l.run(time.Hour)
		require.ErrorContains(t, err, "a failure in the engine: provoked")
		require.Equal(t, "tripped", res.Word)
		at := l.clock()
		requireEnded(t, l.cfg.Out, "provoked")
		last, err := sc.Next(t.Context())
		require.NoError(t, err)
		require.Zero(t, last.Duty, "no screen shows duty when none is commanded")
		require.Equal(t, control.PhaseEnded, last.Phase)
		require.Equal(t, last, res.Last)
		require.Positive(t, l.heatAfter(0), "it was heating")
		time.Sleep(time.Minute)
		require.Zero(t, l.heatAfter(at+Tick))
	})
}

func TestAPanicOfTheLogEndsTheRunWithTheHeatOff(t *testing.T) {
	breaks := func(l *live) {
		l.relog(func() error {
			if l.clock() > time.Minute {
				panic("provoked")
			}
			return nil
		})
	}
	t.Run("on a real port", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			l := newLive(t, 1)
			defer l.off()
			l.prepare()
			breaks(l)
			_, err := l.run(time.Hour)
			require.ErrorContains(t, err, "a failure in the log: provoked")
			at := l.clock()
			require.Less(t, at, 2*time.Minute)
			time.Sleep(time.Minute)
			require.Zero(t, l.heatAfter(at+Tick))
		})
	})
	t.Run("in lockstep", func(t *testing.T) {
		s := newShop(t, simSeed(3))
		l := &live{shop: s, t: t, cfg: s.lockstep(t, longSoak(150, time.Hour), 3, Away)}
		l.prepare()
		l.clock = func() time.Duration { return l.k.now }
		breaks(l)
		_, err := l.k.Run(t.Context())
		require.ErrorContains(t, err, "a failure in the log: provoked")
		require.Less(t, l.k.now, 2*time.Minute)
		requireOffForGood(t, s)
	})
}

func TestAnEndOfTheContextCommandsHeatOffAndWaitsForTheAnswer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLive(t, 1)
		defer l.off()
		l.prepare()
		res, err := l.run(3 * time.Minute)
		require.NoError(t, err)
		require.Equal(t, "stopped", res.Word)
		require.Equal(t, "the test is over", res.Why)
		require.Positive(t, l.heatAfter(0), "it was heating")
		rs := records(t, l.cfg.Out)
		asks := events(rs, control.EvAsk)
		require.Equal(t, control.AskStop, asks[len(asks)-1].Ask.Kind)
		require.Len(t, events(rs, control.EvEnd), 1)
		require.Len(t, events(rs, control.EvClosed), 1)
		l.requireOffAnsweredFirst()
		at := l.clock()
		time.Sleep(time.Minute)
		require.Zero(t, l.heatAfter(at+Tick))
	})
}

// requireOffAnsweredFirst asserts the order at the end: duty 0 is the last duty, a reading
// answers it, and only then the port is closed.
func (l *live) requireOffAnsweredFirst() {
	l.t.Helper()
	duty, ok := l.last(&l.said, isDuty)
	require.True(l.t, ok)
	d := duty.f.(board.Duty)
	require.Zero(l.t, d.PerMille)
	answer, ok := l.last(&l.heard, func(f board.Frame) bool {
		r, is := f.(board.Reading)
		return is && r.Accepted == d.Seq
	})
	require.True(l.t, ok, "the board has answered it")
	l.mu.Lock()
	defer l.mu.Unlock()
	require.Len(l.t, l.closes, 1)
	require.LessOrEqual(l.t, duty.at, answer.at)
	require.LessOrEqual(l.t, answer.at, l.closes[0])
}

// TestAPrinterThatBlocksDoesNotHoldTheHeat ends a run whose printer hangs for good: the board
// must be told all the same.
func TestAPrinterThatBlocksDoesNotHoldTheHeat(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLive(t, 1)
		defer l.off()
		never := make(chan struct{})
		defer close(never)
		l.cfg.Records = func(control.Record) { <-never }
		l.prepare()
		_, err := l.run(3 * time.Minute)
		require.NoError(t, err)
		l.requireOffAnsweredFirst()
		require.Less(t, l.closes[0]-3*time.Minute, 3*time.Second)
	})
}

func TestABoardThatDoesNotAnswerTheLastDutyIsNamed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLive(t, 1)
		l.prepare()
		time.AfterFunc(3*time.Minute-Tick, l.off) // the board dies just before the end
		res, err := l.run(3 * time.Minute)
		require.NoError(t, err)
		require.Equal(t, "stopped", res.Word)
		notes := events(records(t, l.cfg.Out), control.EvNote)
		require.Len(t, notes, 1)
		require.Contains(t, notes[0].Text, "did not answer")
	})
}

// TestAWriteThatBlocksLeavesTheHeatToTheDeadMan hangs the cable's way out and then keeps the
// port away.
func TestAWriteThatBlocksLeavesTheHeatToTheDeadMan(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLive(t, 1)
		defer l.off()
		l.prepare()
		var at time.Duration
		time.AfterFunc(time.Minute, func() {
			l.mu.Lock()
			defer l.mu.Unlock()
			at = l.clock()
			l.stuck, l.gone = make(chan struct{}), fs.ErrNotExist
		})
		_, err := l.run(5 * time.Minute)
		require.NoError(t, err)
		require.Positive(t, l.heatAfter(0)-l.heatAfter(at), "it was heating")
		require.Zero(t, l.heatAfter(at+board.DeadManAfter+Tick))
		rs := records(t, l.cfg.Out)
		doubts, trips := events(rs, control.EvDoubt), events(rs, control.EvTrip)
		require.Len(t, doubts, 1)
		require.Regexp(t, "^link (gone|missing)$", doubts[0].Text, "by when the step looks")
		require.Len(t, trips, 1)
		require.InDelta(t, (10 * time.Second).Seconds(), (trips[0].T - doubts[0].T).Seconds(), 0.3)
		require.Zero(t, dutyAfter(rs, doubts[0].T-1))
		require.Equal(t, "tripped", events(rs, control.EvEnd)[0].Word)
	})
}

// TestAReadThatHangsDoesNotHoldTheRun hangs the port's own goroutine: the run trips by itself,
// and its end does not wait for a port that never comes back.
func TestAReadThatHangsDoesNotHoldTheRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLive(t, 1)
		defer l.off()
		l.prepare()
		never := make(chan struct{})
		defer close(never)
		time.AfterFunc(time.Minute, func() {
			l.mu.Lock()
			defer l.mu.Unlock()
			l.hangs = never
		})
		_, err := l.run(2 * time.Minute)
		require.NoError(t, err)
		require.Less(t, l.clock(), 2*time.Minute+7*time.Second)
		rs := records(t, l.cfg.Out)
		trips := events(rs, control.EvTrip)
		require.Len(t, trips, 1)
		require.Contains(t, trips[0].Text, "no reading")
		require.Less(t, trips[0].T, time.Minute+12*time.Second)
		require.Contains(t, events(rs, control.EvNote)[0].Text, "did not answer")
		require.Zero(t, l.heatAfter(time.Minute+2*board.DeadManAfter), "the dead man at the latest")
	})
}

var errAsked = errors.New("asked")

// TestAScreenMayComeAndGo ends a screen's Next by its own context, and one after the run.
func TestAScreenMayComeAndGo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLive(t, 1)
		defer l.off()
		l.prepare()
		early := l.k.Screen()
		gone, cancel := context.WithCancelCause(t.Context())
		left := make(chan error)
		go func() {
			for {
				if _, err := early.Next(gone); err != nil {
					left <- err
					return
				}
			}
		}()
		time.AfterFunc(time.Minute, func() { cancel(errAsked) })
		ended := make(chan error)
		go func() {
			_, err := l.run(2 * time.Minute)
			ended <- err
		}()
		require.ErrorIs(t, <-left, context.Canceled)
		require.NoError(t, <-ended)
		late := l.k.Screen()
		s, err := late.Next(t.Context())
		require.NoError(t, err)
		require.Equal(t, control.PhaseClosed, s.Phase)
		require.NotEmpty(t, late.Past())
		_, err = late.Next(t.Context())
		require.Error(t, err)
	})
}
