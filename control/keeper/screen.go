package keeper

import (
	"context"
	"slices"
	"sync"

	"strawline/control"
)

// exchange has what screens and the run hand to each other.
type exchange struct {
	mu    sync.Mutex
	asks  []control.Ask
	trace control.Trace
	slots []*slot
	last  control.Snapshot
	ended bool
}

// asksAtMost bounds what screens may pile up between two steps of the run.
const asksAtMost = 64

func (x *exchange) ask(a control.Ask) {
	x.mu.Lock()
	defer x.mu.Unlock()
	off := a.Kind == control.AskHeatOff || a.Kind == control.AskStop // always taken
	if off || len(x.asks) < asksAtMost {
		x.asks = append(x.asks, a)
	}
}

func (x *exchange) takeAsks() []control.Ask {
	x.mu.Lock()
	defer x.mu.Unlock()
	as := x.asks
	x.asks = nil
	return as
}

func (x *exchange) publish(s control.Snapshot) {
	x.mu.Lock()
	x.trace.Add(s.T, s.HasTemp, s.Temp, s.HasSet, s.Set)
	x.last = s
	defer x.mu.Unlock() // put never waits
	for _, sl := range x.slots {
		sl.put(s)
	}
}

func (x *exchange) end() {
	x.mu.Lock()
	x.ended = true
	slots := x.slots
	x.mu.Unlock()
	for _, sl := range slots {
		sl.end()
	}
}

// Screen is one watcher of a run; any number may be made. It never makes the run wait.
type Screen struct {
	x *exchange
	s *slot
}

func (x *exchange) screen() *Screen {
	sc := &Screen{x: x, s: newSlot()}
	x.mu.Lock()
	defer x.mu.Unlock() // until it has the last Snapshot, so that no newer one can come first
	x.slots = append(slices.Clone(x.slots), sc.s)
	if x.last.Info != nil {
		sc.s.put(x.last)
	}
	if x.ended {
		sc.s.end()
	}
	return sc
}

// Next blocks until there is a Snapshot newer than the last one given, and gives the newest.
func (s *Screen) Next(ctx context.Context) (control.Snapshot, error) { return s.s.next(ctx) }

// Past gives the run's past, thinned to 10 s.
func (s *Screen) Past() []control.Past {
	s.x.mu.Lock()
	defer s.x.mu.Unlock()
	return s.x.trace.Points()
}

// Ask hands over what a person asks; it never blocks.
func (s *Screen) Ask(a control.Ask) {
	if a.By == "" {
		a.By = "screen"
	}
	s.x.ask(a)
}

// newest gives the last Snapshot published.
func (x *exchange) newest() control.Snapshot {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.last
}
