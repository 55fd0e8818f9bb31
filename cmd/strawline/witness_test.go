package main

import (
	"sync"
	"time"
)

// witness ticks as long as the tests run, and so knows when the machine stood still: then a step
// that came late is no fault of the program.
type witness struct {
	mu    sync.Mutex
	stood []standstill
}

type standstill struct {
	until time.Time
	long  time.Duration
}

// machine watches while the tests of this package run.
var machine witness

// watch never ends.
func (w *witness) watch() {
	const every, worth = 20 * time.Millisecond, 100 * time.Millisecond
	before := time.Now()
	for range time.Tick(every) {
		now := time.Now()
		if long := now.Sub(before) - every; long > worth {
			w.mu.Lock()
			w.stood = append(w.stood, standstill{now, long})
			w.mu.Unlock()
		}
		before = now
	}
}

// longest gives the longest standstill that ended later than that; 0 if there was none of 0.1 s.
func (w *witness) longest(since time.Time) (most time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, s := range w.stood {
		if s.until.After(since) {
			most = max(most, s.long)
		}
	}
	return most
}
