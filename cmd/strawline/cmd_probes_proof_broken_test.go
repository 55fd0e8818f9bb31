package main

import (
	"context"
	"fmt"
	"os"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/control/shop"
	"strawline/probe/sim"
)

// breaks are the ways in which a walk is broken off.
var breaks = map[string]struct {
	do    func(*proofWalk)
	code  int
	comes bool // the board is there afterwards
}{
	"input ends": {func(w *proofWalk) { w.person.end() }, exitNoInput, true},
	"signal": {func(w *proofWalk) { w.stop(caught{syscall.SIGTERM}) },
		exitSignal + int(syscall.SIGTERM), true},
	"cable out and in": {func(w *proofWalk) {
		w.board.Pull(true)
		w.person.rules = append([]rule{{when: "Is the cable in?", say: "-",
			do: func() { w.board.Pull(false) }}}, w.person.rules...)
	}, exitUnavailable, true},
	"cable out": {func(w *proofWalk) { w.board.Pull(true) }, exitUnavailable, false},
}

// passed gives the parts that the found file has as passed.
func (w *proofWalk) passed(t require.TestingT) (out []shop.Part) {
	f, err := shop.NewStore(w.file).Load()
	require.NoError(t, err)
	for _, p := range shop.Parts() {
		if e := shop.Get(*f.Proofs(p), "simulated-board"); e != nil && e.Value.Result == shop.Passed {
			out = append(out, p)
		}
	}
	return out
}

// settled asserts what must hold after any end of a walk: the heat is off, and the limit is as it
// was, or it is said that it may not be and how a person puts it back.
func (w *proofWalk) settled(t require.TestingT, comes bool) {
	for range 20 { // 5 s: longer than the dead man
		w.board.Closed()
		_, err := w.board.Grant(0)
		require.NoError(t, err)
	}
	assert.False(t, w.board.Truth().Output)
	if w.lowered(t) {
		assert.False(t, comes, "the note goes once the board has read back: %v\n%s", w.err,
			w.person.String())
		require.Error(t, w.err)
		assert.Contains(t, w.err.Error(), "strawline probes board --port the simulated board "+
			"--limit 260.11C --guard 1 --window 2s --mains 50Hz")
		assert.Contains(t, w.err.Error(), "it may still be ")
		w.board.Pull(false)
		next := w.again(t)
		next.person.rules = []rule{{when: "Put 260.11 °C", say: "yes"}, {when: askLower, say: "no"},
			{when: askSilent, say: "no"}, {when: askCable, say: "no"}, {when: askCut, say: "no"}}
		next.walk()
		require.NoError(t, next.err)
		assert.Contains(t, next.person.String(), "has not seen it put back")
		assert.Contains(t, next.person.String(), "as before")
		assert.False(t, next.lowered(t))
	}
	w.board.Pull(false)
	assert.InDelta(t, 260, float64(w.stored(t)), 0.13)
}

// again is a walk that another start of the program makes on the same board and files.
func (w *proofWalk) again(t require.TestingT) *proofWalk {
	next := *w
	next.person = &answers{typed: make(chan string, 4)}
	c := *w.c
	old := *w.c.talk
	old.h = &host{out: &next.out, err: next.person, env: w.c.h.env}
	old.typed = next.person.typed
	old.ctx = context.Background()
	c.talk, c.lowered, c.tried = &old, nil, nil
	next.c = &c
	next.out.Reset()
	return &next
}

// TestProofBrokenOff breaks a walk off in each of its steps, in each way.
func TestProofBrokenOff(t *testing.T) {
	for _, step := range willing() {
		for name, b := range breaks {
			if (step.when == saidPull || step.when == askLamp3 || step.when == saidPlug) &&
				b.code == exitUnavailable {
				continue // there the cable is meant to be out
			}
			t.Run(fmt.Sprintf("%s at %s", name, step.when), func(t *testing.T) {
				w := newProofWalk(t, t.TempDir(), warmBoard)
				step := step
				step.do = func() { b.do(w) }
				if name == "input ends" {
					step.say = "-"
				}
				w.person.rules = instead(w.person.rules, step)
				w.walk()
				// A cable that is out only while a question stands takes nothing from what was seen.
				if w.err == nil {
					assert.Equal(t, exitUnavailable, b.code)
					assert.NotEqual(t, askLower, step.when)
				} else {
					assert.Equal(t, b.code, asFault(w.err).code, w.err.Error())
					if step.when == askLower || step.when == askLamp1 {
						assert.Empty(t, w.passed(t))
					}
				}
				w.settled(t, b.comes)
			})
		}
	}
}

// TestProofBrokenOffAnywhere: the same at any look at the board, at any seed.
func TestProofBrokenOffAnywhere(t *testing.T) {
	dir := t.TempDir()
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		here := fmt.Sprintf("%s/%d", dir, n)
		require.NoError(t, os.Mkdir(here, 0o700))
		cfg := warmBoard
		cfg.Seed = rapid.Uint64Range(0, 1000).Draw(t, "seed")
		cfg.Broken = sim.Broken{Limit: rapid.IntRange(0, 9).Draw(t, "limit") == 0,
			DeadMan: rapid.IntRange(0, 9).Draw(t, "dead man") == 0}
		w := newProofWalk(t, here, cfg)
		names := []string{"input ends", "signal", "cable out and in", "cable out"}
		b := breaks[rapid.SampledFrom(names).Draw(t, "break")]
		at, looks, was := rapid.IntRange(25, 700).Draw(t, "look"), 0, w.c.sim.paced
		w.c.sim.paced = func(asking bool) {
			if looks++; looks == at {
				b.do(w)
			}
			was(asking)
		}
		w.walk()
		w.c.sim.paced = was
		for _, p := range w.passed(t) {
			assert.False(t, cfg.Broken.Limit && p == shop.PartLimit)
			assert.False(t, cfg.Broken.DeadMan && p == shop.PartDeadMan)
			assert.NotEmpty(t, w.c.tried[p].seen, p)
		}
		w.settled(t, b.comes)
	})
}
