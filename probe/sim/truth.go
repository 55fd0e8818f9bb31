package sim

import (
	"slices"
	"time"

	"strawline/probe/plant"
	"strawline/probe/temp"
)

// Truth is how things really stand at the end of the last Grant: for tests and for the
// simulated person. What judges readings never sees it.
type Truth struct {
	Now    time.Duration // simulated, since New
	Probe  temp.C        // of the thermocouple's bead
	Air    temp.C
	Wall   temp.C
	Rods   temp.C // the heater's
	Case   temp.C
	Blade  temp.C        // NaN if none is in
	Cold   temp.C        // the cold junction
	Output bool          // the board's output is on at that moment
	On     time.Duration // for how long it was on since New, without a shorted SSR
	Watts  float64       // mean heater power of the last Grant
	Joules float64       // heat put in since New
	Door   bool          // open, by a person or a fault
}

func (b *Board) look(watts float64) {
	t := &b.truth
	t.Now = b.now
	t.Probe, t.Air, t.Wall = b.oven.Probe(), b.oven.Air(), b.oven.Wall()
	t.Rods, t.Case, t.Blade = b.oven.Element(), b.oven.Case(), b.oven.Blade()
	t.Cold = temp.C(b.front.cold)
	t.Output, t.Watts, t.Joules = b.on, watts, b.oven.Balance().In
	t.Door = b.ajar
}

// Truth gives how things really stand.
func (b *Board) Truth() Truth {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.truth
}

// Door opens or closes the oven's door, from the next Grant on.
func (b *Board) Door(open bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.door = open
}

// Mains sets what the mains have of their volts, from the next Grant on: 1 is all, and 0.9 and
// 1.1 are what they may be off in most countries (EN 50160, from memory).
func (b *Board) Mains(share float64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.volts = share
}

// Befall has one more fault come over the board, as those of its Config: At counts since New.
func (b *Board) Befall(f Fault) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.cfg.Faults = append(slices.Clip(b.cfg.Faults), f)
}

// Pull pulls the board's cable or plugs it in again, from the next Grant on. The board has its
// power through it, unless it stands apart.
func (b *Board) Pull(out bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.pulled = out
}

// BladeIn lays a blade of temperature at into the oven. It must pass plant.Blade.Check.
func (b *Board) BladeIn(blade plant.Blade, at temp.C) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.oven.BladeIn(blade, at)
}

// BladeOut takes the blade out.
func (b *Board) BladeOut() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.oven.BladeOut()
}
