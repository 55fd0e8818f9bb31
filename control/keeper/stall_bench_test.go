package keeper

import (
	"context"
	"errors"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/probe/sim"
)

// stallVariable sets the real time of each case of BenchmarkStalledScreen, such as 10m.
const stallVariable = "STRAWLINE_STALL"

func stallSpan(b *testing.B) time.Duration {
	s := os.Getenv(stallVariable)
	if s == "" {
		return 5 * time.Second
	}
	d, err := time.ParseDuration(s)
	require.NoError(b, err, stallVariable)
	return d
}

// BenchmarkStalledScreen prints, in real time and with a real disk, how many steps of a run came
// within 5 ms of their time and how late the worst was: with a screen that reads all, and with one
// that stalls beside a printer that blocks. Steps are due every 250 ms from when the loop made its
// ticker.
func BenchmarkStalledScreen(b *testing.B) {
	for _, stalled := range []bool{false, true} {
		name := map[bool]string{false: "reads", true: "stalls"}[stalled]
		b.Run(name, func(b *testing.B) {
			span := stallSpan(b)
			var within, steps, missed int
			var worst time.Duration
			for b.Loop() {
				w, n, m, late := realRun(b, span, stalled)
				within, steps, missed, worst = within+w, steps+n, missed+m, max(worst, late)
			}
			b.ReportMetric(100*float64(within)/float64(steps), "%-within-5ms")
			b.ReportMetric(float64(worst)/float64(time.Millisecond), "worst-late-ms")
			b.ReportMetric(float64(missed), "missed-steps")
			b.ReportMetric(float64(steps), "steps")
		})
	}
}

// realRun is one run in real time.
func realRun(b *testing.B, span time.Duration, stalled bool) (within, steps, missed int, worst time.Duration) {
	s := newShop(b, sim.Config{Seed: 1, After: time.After})
	s.quiet = true
	l := &live{shop: s, t: b, cfg: s.config(b, longSoak(150, 100*time.Hour))}
	never := make(chan struct{})
	defer close(never)
	if stalled {
		l.cfg.Records = func(control.Record) { <-never }
	}
	boardCtx, end := context.WithCancel(b.Context())
	ended := make(chan error, 1)
	go func() {
		tick := time.NewTicker(Tick)
		defer tick.Stop()
		for {
			select {
			case <-boardCtx.Done():
				ended <- nil
				return
			case <-tick.C:
			}
			if err := s.grant(); err != nil {
				ended <- err
				return
			}
		}
	}()
	var err error
	l.k, err = Prepare(b.Context(), l.cfg)
	require.NoError(b, err)
	var at []time.Duration
	var made, began time.Duration // the ticker; the first step, a few µs before its record
	l.k.cfg.Clock.Tick = func(d time.Duration) (<-chan time.Time, func()) {
		made = l.k.cfg.Clock.Now()
		return l.cfg.Clock.Tick(d)
	}
	l.rekeep(func(r control.Record) {
		if r.Sample == nil {
			return
		}
		if len(at) == 0 {
			began = l.k.cfg.Clock.Now()
		}
		at = append(at, began-made+r.Sample.T)
	})
	l.k.Screen() // never read
	sc, done := l.k.Screen(), make(chan struct{})
	go func() {
		defer close(done)
		for {
			if _, err := sc.Next(context.Background()); err != nil {
				return
			}
			if stalled {
				<-never
				return
			}
		}
	}()
	ctx, cancel := context.WithTimeoutCause(b.Context(), span, errors.New("enough"))
	defer cancel()
	_, err = l.k.Run(ctx)
	require.NoError(b, err)
	end()
	require.NoError(b, <-ended)
	if !stalled {
		<-done
	}
	return punctual(at[:len(at)-1]) // the last is the stop's own
}

// punctual judges steps that are due every Tick from one Tick on; it knows which tick a step took
// only as the first that no earlier step can have had, so that lateness is never told too small.
func punctual(at []time.Duration) (within, steps, missed int, worst time.Duration) {
	last := 0 // number of the newest tick that had passed at the step before
	for _, t := range at {
		late := max(0, t-time.Duration(last+1)*Tick)
		if late <= 5*time.Millisecond {
			within++
		}
		worst = max(worst, late)
		now := max(last+1, int(t/Tick))
		missed += now - last - 1
		last = now
	}
	return within, len(at), missed, worst
}

func TestPunctual(t *testing.T) {
	ms := func(v ...int) (at []time.Duration) {
		for _, x := range v {
			at = append(at, time.Duration(x)*time.Millisecond)
		}
		return at
	}
	within, steps, missed, worst := punctual(ms(250, 503, 756, 1000))
	require.Equal(t, []any{3, 4, 0, 6 * time.Millisecond}, []any{within, steps, missed, worst})
	within, steps, missed, worst = punctual(ms(251, 990, 1000, 1251)) // one tick was lost
	require.Equal(t, []any{3, 4, 1, 490 * time.Millisecond}, []any{within, steps, missed, worst})
}
