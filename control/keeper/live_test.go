package keeper

import (
	"context"
	"errors"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/probe/belief"
	"strawline/probe/sim"
)

// live is a run on what the keeper takes for a real port, in a bubble of fake time: a goroutine
// gives the simulated board 250 ms every 250 ms.
type live struct {
	*shop
	t    testing.TB
	cfg  Config
	k    *Keeper
	errs chan error // of the board's goroutine
	off  func()     // ends it
	on   []heated   // what each grant gave
}

// heated is how long the output was on in one grant, and when the grant was over.
type heated struct {
	at time.Duration
	on time.Duration
}

// newLive makes the shop; the caller changes cfg, then calls prepare.
func newLive(t *testing.T, seed uint64) *live { return liveOn(t, sim.Config{Seed: seed}) }

func liveOn(t *testing.T, c sim.Config) *live {
	c.After = time.After
	l := &live{shop: newShop(t, c), t: t, errs: make(chan error, 1)}
	l.cfg = l.config(t, longSoak(150, 100*time.Hour))
	l.clock = l.cfg.Clock.Now
	ctx, cancel := context.WithCancel(t.Context())
	var once sync.Once
	l.off = func() { once.Do(func() { cancel(); <-l.errs }) }
	go func() {
		defer close(l.errs)
		// Half a beat beside the engine's ticker, so that the two never race for an instant.
		time.Sleep(Tick / 2)
		tick := time.NewTicker(Tick)
		defer tick.Stop()
		for was := time.Duration(0); ; {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
			}
			if err := l.grant(); err != nil {
				l.errs <- err
				return
			}
			on := l.board.Truth().On
			l.mu.Lock()
			l.on = append(l.on, heated{l.clock(), on - was})
			l.mu.Unlock()
			was = on
		}
	}()
	return l
}

func (l *live) prepare() {
	l.t.Helper()
	var err error
	l.k, err = Prepare(l.t.Context(), l.cfg)
	require.NoError(l.t, err)
}

// run runs until the time-out of fake time, or until it ends by itself.
func (l *live) run(span time.Duration) (Result, error) {
	l.t.Helper()
	ctx, cancel := context.WithTimeoutCause(l.t.Context(), span, errors.New("the test is over"))
	defer cancel()
	return l.k.Run(ctx)
}

// heatAfter sums the time for which the output was on later than at.
func (l *live) heatAfter(at time.Duration) (sum time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, h := range l.on {
		if h.at > at {
			sum += h.on
		}
	}
	return sum
}

// samples gives the time of each sample, in order.
func samples(rs []control.Record) (ts []time.Duration) {
	for _, r := range rs {
		if r.Sample != nil {
			ts = append(ts, r.Sample.T)
		}
	}
	return slices.Compact(ts) // two readings of one step have a sample each
}

// requireEnded asserts that the run file ends in a trip and an end that say why.
func requireEnded(t *testing.T, path, why string) {
	t.Helper()
	rs := records(t, path)
	trips, ends := events(rs, control.EvTrip), events(rs, control.EvEnd)
	require.Len(t, trips, 1)
	require.Contains(t, trips[0].Text, why)
	require.Len(t, ends, 1)
	require.Equal(t, "tripped", ends[0].Word)
	require.Contains(t, ends[0].Text, why)
}

const hours = 2 * time.Hour

// twoHours gives the times of the steps of a run of two hours, with what watch does beside it.
func twoHours(t *testing.T, watch func(*live) (release func())) (ts []time.Duration) {
	synctest.Test(t, func(t *testing.T) {
		l := newLive(t, 1)
		defer l.off()
		release := watch(l)
		if l.k == nil {
			l.prepare()
		}
		l.relog(func() error { return nil }) // two hours of syncs are seconds of a real disk
		_, err := l.run(hours)
		require.NoError(t, err)
		release()
		ts = samples(records(t, l.cfg.Out))
	})
	return ts
}

func TestNothingThatWatchesChangesTheSteps(t *testing.T) {
	plain := twoHours(t, func(*live) func() { return func() {} })
	require.Len(t, plain, int(hours/Tick)) // the stop's own step shares the last one's time
	for i, at := range plain {
		require.Equal(t, time.Duration(i)*Tick, at)
	}
	t.Run("a screen that stalls and one that never reads", func(t *testing.T) {
		require.Equal(t, plain, twoHours(t, func(l *live) func() {
			l.prepare()
			l.k.Screen()
			sc, done := l.k.Screen(), make(chan struct{})
			go func() {
				defer close(done)
				for {
					if _, err := sc.Next(context.Background()); err != nil {
						return
					}
					time.Sleep(7 * time.Minute)
				}
			}()
			return func() { <-done }
		}))
	})
	t.Run("a printer that blocks", func(t *testing.T) {
		require.Equal(t, plain, twoHours(t, func(l *live) func() {
			never := make(chan struct{})
			l.cfg.Records = func(control.Record) { <-never }
			return func() { close(never) } // only after Run has come back
		}))
	})
	t.Run("a disk that hangs", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			l := newLive(t, 1)
			defer l.off()
			l.prepare()
			never := make(chan struct{})
			l.relog(func() error { <-never; return nil })
			var got []time.Duration
			alarmed := time.Duration(0)
			l.rekeep(func(r control.Record) {
				if r.Sample != nil {
					got = append(got, r.Sample.T)
				}
				if e := r.Event; e != nil && e.Kind == control.EvAlarm && e.Code == "log-full" {
					alarmed = e.T
				}
			})
			_, err := l.run(hours)
			require.ErrorIs(t, err, context.DeadlineExceeded, "the file could not be closed")
			require.Equal(t, plain, slices.Compact(got))
			require.Positive(t, alarmed)
			require.Less(t, alarmed, 3*time.Minute, "a queue of two minutes is full")
			close(never)
		})
	})
}

// relog begins the run file's writer anew, with another sync.
func (l *live) relog(sync func() error) {
	l.t.Helper()
	require.NoError(l.t, l.k.log.Close(l.t.Context()))
	l.cfg.Out += "2"
	w, err := runlog.Create(l.cfg.Out, l.k.info)
	require.NoError(l.t, err)
	w.SetSync(sync)
	l.k.log = runlog.Start(w, l.k.guard("log"))
}

// rekeep makes the engine anew; look sees every record before a screen does.
func (l *live) rekeep(look func(control.Record)) {
	l.t.Helper()
	var err error
	l.k.engine, err = control.New(control.Config{Info: l.k.info, Belief: belief.Default(),
		Keep: func(r control.Record) {
			look(r)
			runlog.RoundOwn(r)
		}})
	require.NoError(l.t, err)
}
