//go:build linux || darwin

package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/probe/sim"
)

// deaths are the ways in which a screen goes.
var deaths = [...]struct {
	name string
	end  func(*blank, *rand.Rand)
}{
	{"killed", func(b *blank, _ *rand.Rand) { b.signal(syscall.SIGKILL) }},
	{"hung up on", func(b *blank, _ *rand.Rand) { b.signal(syscall.SIGHUP) }},
	{"its terminal closed", func(b *blank, _ *rand.Rand) { _ = b.master.Close() }},
	{"stopped, then killed", func(b *blank, dice *rand.Rand) {
		b.signal(syscall.SIGSTOP)
		pause(upTo(dice, 300*time.Millisecond))
		b.signal(syscall.SIGKILL)
	}},
	{"drowned, then killed", func(b *blank, dice *rand.Rand) { // nobody has read its terminal
		pause(upTo(dice, 300*time.Millisecond))
		b.signal(syscall.SIGKILL)
	}},
	{"drowned, then its terminal closed", func(b *blank, dice *rand.Rand) {
		pause(upTo(dice, 300*time.Millisecond))
		_ = b.master.Close()
	}},
}

// drowns says that nobody reads the terminal of a screen that goes in the way of this number.
func drowns(way int) bool { return strings.HasPrefix(deaths[way].name, "drowned") }

// TestScreensAreKilled ends screens of one run at random moments of theirs, several at once, while
// others stand still with nobody reading what they say: the run misses no step.
func TestScreensAreKilled(t *testing.T) {
	t.Parallel()
	n := kills(t, 10, 50)
	seed := crashSeed(t)
	p := newWholePerson(t)
	p.tidy()
	k := newKiln(t, sim.Config{Seed: seed, Start: 150})
	k.said()
	out := filepath.Join(p.home, "r.jsonl")
	p.write("crash.toml", crashProfile)
	first := p.onTerminal(false, running("crash.toml", "--port", k.path, "--out", out)...)
	defer first.away()
	steady(t, p)
	var still []*blank // stopped or drowned to the end
	for i := range 4 {
		b := p.onTerminal(i%2 == 0, "watch")
		still = append(still, b)
		defer b.away()
	}
	pause(300 * time.Millisecond)
	for i, b := range still {
		if i%2 == 1 {
			b.signal(syscall.SIGSTOP)
		}
	}
	var left atomic.Int64
	left.Store(int64(n))
	var each [len(deaths)]atomic.Int64
	var wait sync.WaitGroup
	for lane := range uint64(3) {
		dice := rand.New(rand.NewPCG(seed, lane))
		wait.Go(func() {
			for left.Add(-1) >= 0 {
				i := dice.IntN(len(deaths))
				b := p.onTerminal(drowns(i), "watch")
				pause(upTo(dice, 700*time.Millisecond)) // from before it has greeted to live
				deaths[i].end(b, dice)
				select {
				case <-b.ended:
				case <-time.After(patience):
					t.Errorf("a screen stays: %s", deaths[i].name)
				}
				b.away()
				each[i].Add(1)
			}
		})
	}
	wait.Wait()
	for i, b := range still {
		if i%2 == 1 {
			b.signal(syscall.SIGCONT)
		}
	}
	told := p.pipes("stop")
	require.Equal(t, exitOK, told.code, told.bad)
	f := endedKept(t, out, "stopped by a person")
	f.steps()
	text := ""
	for i := range deaths {
		text += fmt.Sprintf(", %s %d", deaths[i].name, each[i].Load())
	}
	most, steps := f.widest()
	t.Logf("screens ended: %d%s; the run's %d steps at most %.2f s apart", n, text, steps, most)
}

// steady waits until the only run of a person's keeper steps.
func steady(t *testing.T, p *person) {
	t.Helper()
	l := lane{person: p}
	l.sit(t)
	require.Eventually(t, func() bool {
		w, err := l.door.Watch(t.Context(), "")
		if err != nil {
			return false
		}
		defer w.Close()
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
		defer cancel()
		s, err := w.Next(ctx)
		return err == nil && s.Phase == control.PhaseRunning && s.Duty > 0
	}, patience, 50*time.Millisecond)
}

// widest gives the longest time between two steps of the run, and how many there are.
func (f *tape) widest() (most float64, steps int) {
	before := -1.0
	for _, r := range f.samples(0, f.end()) {
		if before >= 0 {
			most = max(most, r.T-before)
		}
		before = r.T
		steps++
	}
	assert.Positive(f.t, steps)
	return most, steps
}
