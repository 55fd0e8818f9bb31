// Package tui has the screens: Snapshots in, Asks out. It never touches a port or a file.
package tui

import (
	"context"

	"strawline/control"
)

// Source is where a screen gets what it shows: a run in this process, a keeper's socket or a
// replay.
type Source interface {
	// Next blocks until there is a Snapshot newer than the last one it gave, and gives the
	// newest; what came between is gone. It ends with io.EOF when the source has no more.
	Next(ctx context.Context) (control.Snapshot, error)
	// Past gives the run's past up to the newest Snapshot, thinned to 10 s.
	Past() []control.Past
	// Ask hands over what a person asks; it never blocks.
	Ask(control.Ask)
}

// Lease says which of several screens may raise the heat of a run or change its profile.
type Lease interface {
	// Lease gives the name of the screen that may; "" while none has asked.
	Lease() (name string, mine bool)
	// Take takes it over.
	Take()
}
