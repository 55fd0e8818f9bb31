package keeper

import (
	"context"
	"io"
	"sync"

	"strawline/control"
)

// slot is the one-place mailbox between a run and one screen: the run never waits, and what the
// screen did not fetch in time is replaced by what is newer.
type slot struct {
	mu    sync.Mutex
	snap  control.Snapshot
	fresh bool
	ended bool
	bell  chan struct{} // one place; rung when something is there
}

func newSlot() *slot { return &slot{bell: make(chan struct{}, 1)} }

func (s *slot) put(snap control.Snapshot) {
	s.mu.Lock()
	s.snap, s.fresh = snap, true
	s.mu.Unlock()
	s.ring()
}

func (s *slot) end() {
	s.mu.Lock()
	s.ended = true
	s.mu.Unlock()
	s.ring()
}

func (s *slot) ring() {
	select {
	case s.bell <- struct{}{}:
	default:
	}
}

// next waits for the newest Snapshot; io.EOF when the run is over and the last was fetched.
func (s *slot) next(ctx context.Context) (control.Snapshot, error) {
	for {
		s.mu.Lock()
		snap, fresh, ended := s.snap, s.fresh, s.ended
		s.fresh = false
		s.mu.Unlock()
		switch {
		case fresh:
			return snap, nil
		case ended:
			return control.Snapshot{}, io.EOF
		}
		select {
		case <-ctx.Done():
			return control.Snapshot{}, ctx.Err()
		case <-s.bell:
		}
	}
}
