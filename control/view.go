package control

import (
	"time"

	"strawline/probe/temp"
)

// Record is one line of a run file behind its head: a sample or an event, never both.
type Record struct {
	Sample *Sample
	Event  *Event
}

// Past is ten seconds of a run's past as a chart needs it.
type Past struct {
	At       time.Duration // start of the ten seconds, on the run's clock
	Has      bool          // at least one good reading
	Min, Max temp.C
	HasSet   bool
	Set      temp.C
}
