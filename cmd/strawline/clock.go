package main

import (
	"context"
	"time"

	"strawline/control/keeper"
)

// realClock is the machine's time: monotonic since the program began, and the wall's.
func realClock() keeper.Clock {
	start := time.Now()
	now := func() time.Duration { return time.Since(start) }
	booted, counts := sinceBoot()
	if counts {
		now = func() time.Duration {
			at, _ := sinceBoot()
			return at - booted
		}
	}
	return keeper.Clock{
		Now:         now,
		CountsSleep: counts,
		Wall:        time.Now,
		Sleep: func(ctx context.Context, d time.Duration) {
			t := time.NewTimer(d)
			defer t.Stop()
			select {
			case <-ctx.Done():
			case <-t.C:
			}
		},
		Tick: func(d time.Duration) (<-chan time.Time, func()) {
			t := time.NewTicker(d)
			return t.C, t.Stop
		},
	}
}
