package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe"
)

// place is where an engine is: the run's position with its interlock.
type place struct {
	phase        Phase
	step         int
	doubt, acked bool
	reset, over  bool
	latched      bool
	heats        bool
}

func (b *bench) place() place {
	e := b.e
	return place{phase: e.phase, step: e.step, doubt: e.doubt.stand, acked: e.trip.acked,
		reset: e.trip.reset, over: e.isOver, latched: e.latches != 0, heats: b.out.Duty > 0}
}

// moves are what can happen to an engine; each takes a second or more.
var moves = []struct {
	name string
	do   func(b *bench)
}{
	{"good", func(b *bench) { b.run(time.Second) }},
	{"bad", func(b *bench) { b.spoilt(time.Second, func(r *probe.Reading) { r.Fault = probe.FaultOpen }) }},
	{"bad for long", func(b *bench) {
		b.spoilt(11*time.Second, func(r *probe.Reading) { r.Fault = probe.FaultOpen })
	}},
	{"hot", func(b *bench) {
		b.spoilt(2*time.Second, func(r *probe.Reading) { r.Hot = b.e.limit.Add(20) })
	}},
	{"latch", func(b *bench) {
		b.spoilt(time.Second, func(r *probe.Reading) { r.Latches = probe.LatchHighLimit })
	}},
	{"silent", silent},
	{"acknowledge", func(b *bench) { b.ask(Ask{Kind: AskAcknowledge}) }},
	{"reset", func(b *bench) { b.ask(Ask{Kind: AskReset}) }},
	{"go on", func(b *bench) { b.ask(Ask{Kind: AskGoOn}); b.run(time.Second) }},
	{"heat off", func(b *bench) { b.ask(Ask{Kind: AskHeatOff}) }},
	{"skip", func(b *bench) { b.ask(Ask{Kind: AskSkip}) }},
	{"stop", func(b *bench) { b.ask(Ask{Kind: AskStop}) }},
	{"answer", func(b *bench) { b.ask(Ask{Kind: AskAnswer}) }},
}

func (b *bench) spoilt(d time.Duration, how func(*probe.Reading)) {
	b.read = func(r *probe.Reading) bool { how(r); return true }
	b.run(d)
	b.read = nil
}

// silent lets 3 s go by without a word from the board.
func silent(b *bench) {
	b.read = func(*probe.Reading) bool { return false }
	b.run(3 * time.Second)
	b.read = nil
}

// placesReached is how many there are: it follows from the engine's rules and changes with them.
const placesReached = 88

// TestEveryPlaceOfTheInterlock walks the engine through everything that can happen, from each
// place once, by the shortest way there. In every one heat is off within 3 s of silence; from
// every one a person can end the run; and a trip ends only by acknowledge, reset and go on.
func TestEveryPlaceOfTheInterlock(t *testing.T) {
	profile := temper(t, time.Minute)
	at := func(path []int) *bench {
		b := newBench(t, profile)
		b.run(2 * time.Second)
		for _, m := range path {
			moves[m].do(b)
		}
		return b
	}
	seen := map[place]bool{at(nil).place(): true}
	for todo := [][]int{nil}; len(todo) > 0; todo = todo[1:] {
		path := todo[0]
		b := at(path)
		was := b.place()
		silent(b)
		require.Zero(t, b.out.Duty, "%+v after 3 s of silence", was)
		b.ask(Ask{Kind: AskStop})
		require.Equal(t, PhaseClosed, b.e.phase, "%+v cannot be ended", was)
		for m := range moves {
			way := append(path[:len(path):len(path)], m)
			b := at(way)
			is := b.place()
			switch {
			case is.phase != PhaseRunning:
				require.Zero(t, b.out.Duty, "%+v heats", is)
			case was.phase == PhaseTripped:
				require.Equal(t, "go on", moves[m].name, "%+v", was)
				require.True(t, was.acked && was.reset, "%+v", was)
			case was.phase != PhaseRunning:
				t.Fatalf("%+v runs again", was)
			}
			if is.heats {
				require.False(t, is.doubt || is.latched, "%+v", is)
			}
			if !seen[is] {
				seen[is] = true
				todo = append(todo, way)
			}
		}
	}
	require.Equal(t, placesReached, len(seen))
}
