package main

import (
	"context"
	"time"

	"strawline/control/keeper"
)

// realClock is the machine's time: monotonic since the program began, and the wall's.
func realClock() keeper.Clock {
	start := time.Now()
	return keeper.Clock{
		Now:  func() time.Duration { return time.Since(start) },
		Wall: time.Now,
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
