//go:build linux || darwin

package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/probe/board"
	"strawline/probe/sim"
)

// toll is what the lanes of a test count together.
type toll struct {
	left   atomic.Int64 // kills
	mu     sync.Mutex
	kills  map[string]int // by the moment
	files  int            // run files that a kill has met
	torn   int            // of them with a torn tail
	taken  int            // runs taken up
	goOns  int            // and let go on
	soaks  int            // cuts in a soak whose clock went on where it was
	heats  int            // kills that met the output on
	missed float64        // the most that was shown and is not in the file, s
	behind float64        // the longest from a run's last record to the kill, s
	heat   time.Duration  // for how long outputs were on
	after  time.Duration  // the longest from a kill to the end of its heat
}

// moment is when a keeper is killed. Its name ends the sentence "killed ...".
type moment struct {
	name string
	// act brings the run there and waits; it says whether the moment was reached. Nil needs no run.
	act func(*lane) bool
	// within is how long after the start at most, where there is no act.
	within time.Duration
	often  int // in how many of the draws, against the others
}

var lotHeats = func(s control.Snapshot) bool { return s.Duty > 0 }

// moments are the phases of a keeper's life. More than half of the draws are such that the output
// is on: there is the harm.
func moments() []moment {
	return []moment{
		{name: "starting", within: 120 * time.Millisecond, often: 1},
		{name: "proving or taking up", within: 1500 * time.Millisecond, often: 1},
		{name: "tripped", often: 1, act: func(l *lane) bool {
			pause(upTo(l.dice, 400*time.Millisecond))
			return true
		}},
		{name: "half asked", often: 1, act: (*lane).half},
		{name: "asked", often: 1, act: func(l *lane) bool {
			pause(upTo(l.dice, time.Second))
			l.kiln.said()
			l.view.asks(control.AskAcknowledge, control.AskReset, control.AskGoOn)
			pause(upTo(l.dice, 300*time.Millisecond))
			return true
		}},
		{name: "heating", often: 4, act: func(l *lane) bool {
			return l.heats(1200*time.Millisecond) && l.on(300*time.Millisecond)
		}},
		{name: "heating on", often: 2, act: func(l *lane) bool {
			return l.heats(4*time.Second) && l.on(300*time.Millisecond)
		}},
		{name: "switching on", often: 1, act: func(l *lane) bool {
			return l.heats(time.Millisecond) && l.on(10*time.Millisecond)
		}},
		{name: "a screen attaches", often: 1, act: func(l *lane) bool {
			if !l.heats(50 * time.Millisecond) {
				return false
			}
			l.screens = append(l.screens, l.onTerminal(false, "watch"))
			pause(upTo(l.dice, 400*time.Millisecond))
			return l.on(10 * time.Millisecond)
		}},
		{name: "told to end while on", often: 1, act: func(l *lane) bool {
			if !l.heats(time.Second) || !l.on(100*time.Millisecond) {
				return false
			}
			l.view.asks(control.AskStop)
			pause(upTo(l.dice, 40*time.Millisecond))
			return true
		}},
		{name: "ending", often: 1, act: func(l *lane) bool {
			l.view.asks(control.AskStop)
			pause(upTo(l.dice, 600*time.Millisecond))
			return true
		}},
	}
}

// draws gives one of the moments.
func (l *lane) draws() moment {
	var all []moment
	for _, m := range moments() {
		all = append(all, slices.Repeat([]moment{m}, m.often)...)
	}
	return all[l.dice.IntN(len(all))]
}

// on waits until the output is on, and a random time below most longer, and it is still on.
func (l *lane) on(most time.Duration) bool {
	is := func() bool { return l.kiln.board.Truth().Output }
	for range 20 {
		waitFor(2*time.Second, is)
		pause(upTo(l.dice, most))
		if is() {
			return true
		}
	}
	return false
}

// half acknowledges and perhaps resets, and asks to go on without: there must be no heat.
func (l *lane) half() bool {
	pause(upTo(l.dice, 800*time.Millisecond))
	all := [][]control.AskKind{{control.AskGoOn}, {control.AskAcknowledge, control.AskGoOn},
		{control.AskAcknowledge, control.AskReset}, {control.AskReset, control.AskGoOn}}
	l.view.asks(all[l.dice.IntN(len(all))]...)
	pause(upTo(l.dice, 800*time.Millisecond))
	return l.fresh || assert.True(l.t, l.view.shown(0, tripped), "tripped until all was asked")
}

func tripped(s control.Snapshot) bool { return s.Phase == control.PhaseTripped && s.Duty == 0 }

// heats lets the run go on and heat for a while.
func (l *lane) heats(most time.Duration) bool {
	runs := l.view.shown(0, func(s control.Snapshot) bool { return s.Phase == control.PhaseRunning })
	if !runs && !l.goesOn() {
		return false
	}
	hot := l.view.shown(5*time.Second, lotHeats)
	pause(upTo(l.dice, most))
	return hot
}

// TestTheKeeperIsKilled kills keepers with SIGKILL at random moments of their lives, several
// persons at once, each run taken up by the next keeper.
func TestTheKeeperIsKilled(t *testing.T) {
	t.Parallel()
	n := kills(t, 8, 50)
	s := &toll{kills: map[string]int{}}
	s.left.Store(int64(n))
	seed := crashSeed(t)
	t.Run("lanes", func(t *testing.T) {
		for i := range min(8, (n+3)/4) {
			t.Run(fmt.Sprint(i), func(t *testing.T) {
				t.Parallel()
				l := newLane(t, s, seed, uint64(i))
				for s.left.Add(-1) >= 0 && !t.Failed() {
					l.once()
					l.kiln.good()
				}
				s.mu.Lock()
				defer s.mu.Unlock()
				s.heat += l.kiln.board.Truth().On
				s.after = max(s.after, l.kiln.longest())
			})
		}
	})
	var parts []string
	for _, name := range slices.Sorted(maps.Keys(s.kills)) {
		parts = append(parts, fmt.Sprintf("%s %d", name, s.kills[name]))
	}
	t.Logf("keepers killed: %d; run files %d, torn %d, taken up %d, gone on with %d, soaks recounted "+
		"%d, output on %d; shown and not in the file at most %.2f s; last record at most %.2f s "+
		"before; heat until at most %.2f s after (%s)", n, s.files, s.torn, s.taken, s.goOns, s.soaks,
		s.heats, s.missed, s.behind, s.after.Seconds(), strings.Join(parts, ", "))
	assert.Positive(t, s.heat, "there was heat to take away")
	if n >= 100 { // two thirds are meant; of fewer kills chance may make less
		assert.Greater(t, 3*s.heats, n, "many of them met the output on")
	}
}

// once starts a keeper, brings it to a moment, kills it and looks at what is left.
func (l *lane) once() {
	l.t.Helper()
	m := l.draws()
	l.wakes(l.out != "" && l.dice.IntN(2) == 0)
	if m.act == nil {
		if l.out == "" {
			ctx, cancel := context.WithCancel(l.t.Context())
			defer cancel()
			l.begins(ctx)
		}
		pause(upTo(l.dice, m.within))
	} else if !l.there() || !m.act(l) {
		m.name = "moment not reached"
	} else if l.fresh && slices.Contains([]string{"tripped", "half asked", "asked"}, m.name) {
		m.name = "just begun"
	}
	on := l.kiln.board.Truth().Output
	last, at, killed := l.dies()
	if !killed {
		m.name = "nobody to kill"
		l.toll.left.Add(1)
	}
	l.toll.mu.Lock()
	l.toll.kills[m.name]++
	if on {
		l.toll.heats++
	}
	l.toll.mu.Unlock()
	if l.dice.IntN(4) == 0 { // the next keeper comes only when the dead man has acted
		l.kiln.passes(board.DeadManAfter + 2*sim.Step + upTo(l.dice, time.Second))
		assert.False(l.t, l.kiln.board.Truth().Output, "the board's dead man")
	} else {
		pause(upTo(l.dice, 500*time.Millisecond))
	}
	l.look(last, at)
}

// there has a run on the lane's screen, begun anew where none was taken up.
func (l *lane) there() bool {
	l.t.Helper()
	must := l.known
	if l.out != "" && l.looks() {
		require.True(l.t, l.view.shown(patience, tripped), "a run that is taken up is tripped")
		l.fresh = false
		return true
	}
	require.False(l.t, must, "the run in %s is not taken up", l.out)
	ctx, cancel := context.WithTimeout(l.t.Context(), patience)
	defer cancel()
	require.NoError(l.t, <-l.begins(ctx))
	l.known, l.fresh = true, true
	return l.looks()
}

// look reads what a killed keeper left.
func (l *lane) look(last control.Snapshot, at time.Time) {
	l.t.Helper()
	now, err := os.ReadFile(l.out)
	if l.out == "" || errors.Is(err, fs.ErrNotExist) || err == nil && !bytes.Contains(now, []byte("\n")) {
		require.False(l.t, l.known, "a run that has begun has a file, and its first line")
		l.out = ""
		return
	}
	require.NoError(l.t, err)
	require.True(l.t, bytes.HasPrefix(now, l.had), "what stood in the file still stands there")
	l.had = now[:bytes.LastIndexByte(now, '\n')+1]
	f := readTape(l.t, l.out)
	theirs, err := runlog.Open(l.out)
	require.NoError(l.t, err)
	require.NoError(l.t, theirs.Close())
	require.Len(l.t, f.recs, theirs.Len())
	c := f.cuts()
	l.toll.add(f, c)
	over := len(f.events("end")) > 0
	l.known = len(f.events("start")) > 0 && !over
	if l.known {
		require.True(l.t, l.kept(), "an unfinished run is on the list")
		f.agrees(last)
		l.toll.lost(l.t, f, theirs.Info.Start, last, at)
	}
	if !l.known { // nothing to go on with
		l.out = ""
	}
}

// add counts what a file shows.
func (s *toll) add(f *tape, c cut) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.files++
	s.taken += c.taken
	s.goOns += c.goOns
	s.soaks += c.soaks
	if f.torn > 0 {
		s.torn++
	}
}

// lost compares what a screen was shown and when the keeper died with the file's last record.
func (s *toll) lost(t *testing.T, f *tape, start time.Time, last control.Snapshot, at time.Time) {
	t.Helper()
	missed := last.T.Seconds() - f.end()
	require.LessOrEqual(t, missed, 1.0, "what was shown is in the file but for the last second")
	s.mu.Lock()
	defer s.mu.Unlock()
	s.missed = max(s.missed, missed)
	if last.Info != nil { // it was running
		s.behind = max(s.behind, at.Sub(start).Seconds()-f.end())
	}
}

// TestTheKilnSeesHeat: what the other tests rely on can fail.
func TestTheKilnSeesHeat(t *testing.T) {
	t.Parallel()
	l := heatingLane(t, 4)
	l.kiln.alone() // as if nobody had said so
	seen := func() bool {
		l.kiln.mu.Lock()
		defer l.kiln.mu.Unlock()
		return l.kiln.wrong != ""
	}
	require.Eventually(t, seen, patience, 50*time.Millisecond)
	l.kiln.said()
	l.dies()
	l.kiln.passes(board.DeadManAfter + 2*sim.Step)
	l.kiln.mu.Lock()
	defer l.kiln.mu.Unlock()
	l.kiln.wrong = ""
}
