package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/port"
	"strawline/probe/sim"
	"strawline/probe/temp"
)

// apart is a warm board that runs on while its cable is out.
func apart() sim.Config {
	cfg := warmBoard
	cfg.Apart = true
	return cfg
}

// TestProofReadsTheLatchBackBehindTheCable: a board that ran on says host silent once the cable is
// back, which proves its dead man too where that was left out, and counts whatever the person saw.
func TestProofReadsTheLatchBackBehindTheCable(t *testing.T) {
	for _, saw := range []string{sawOff, sawNot} {
		for _, silence := range []string{"yes", "no"} {
			w := newProofWalk(t, t.TempDir(), apart())
			w.says(askSilent, silence)
			w.says(askLamp3, "-")
			w.types(askLamp3, saw, w.passes(4*time.Second)) // the dead man takes its time
			w.walkDated(t, 260)
			require.NoError(t, w.err, w.person.String())
			cable, dead := w.found(t, shop.PartCable), w.found(t, shop.PartDeadMan)
			assert.Equal(t, shop.Passed, cable.Result, cable.Seen)
			assert.Equal(t, "cable pulled with 10 % commanded; "+lampWords(saw)+
				"; back, the board said host silent", cable.Seen)
			assert.Contains(t, w.person.String(), "The board kept on and says: host silent.")
			assert.Equal(t, shop.Passed, dead.Result, dead.Seen)
			if silence == "no" {
				assert.Equal(t, cable.Seen, dead.Seen)
			} else {
				assert.Contains(t, dead.Seen, "commanded, then nothing")
			}
			assert.Equal(t, []string{"host silent"}, w.answer(t).Latches)
			assert.Equal(t, uint16(1), w.c.board.Boot)
		}
	}
}

// TestProofFailsLater: what a board or a relay that is broken shows only in the end.
func TestProofFailsLater(t *testing.T) {
	for _, c := range []struct {
		name  string
		board func(*sim.Config)
		walk  func(*proofWalk)
		part  shop.Part
		words string
	}{
		{"runs on without its cable and without a dead man", func(s *sim.Config) {
			s.Apart, s.Broken.DeadMan = true, true
		}, func(w *proofWalk) {
			w.says(askSilent, "no")
			w.types(askLamp3, sawNot, w.passes(8*time.Second))
		}, shop.PartCable, "the board ran on and says no host silent"},
		{"heat that stays on, just enough to keep the oven warm", func(s *sim.Config) {
			s.Broken.Latched = true
		}, func(w *proofWalk) { w.board.Mains(0.68) }, shop.PartLimit,
			"and it did not fall by 2 °C and go on falling in 10m0s"},
		{"a latch that goes by itself", func(s *sim.Config) { s.Broken.LetsGo = true }, nil,
			shop.PartLimit, "then it let its latch go by itself while heat was commanded"},
	} {
		t.Run(c.name, func(t *testing.T) {
			cfg := warmBoard
			c.board(&cfg)
			w := newProofWalk(t, t.TempDir(), cfg)
			if c.walk != nil {
				c.walk(w)
			}
			w.walkDated(t, 260)
			require.Error(t, w.err, w.person.String())
			assert.Equal(t, exitData, asFault(w.err).code, w.err)
			p := w.found(t, c.part)
			assert.Equal(t, shop.Failed, p.Result, "%s\n%s", p.Seen, w.person.String())
			assert.Contains(t, p.Seen, c.words)
			assert.Contains(t, w.person.String(), "Pull the oven's plug")
		})
	}
}

// TestProofWithoutALookAtTheRelay: what the board says is enough for its limit and its dead man,
// and the record says that nobody saw the relay.
func TestProofWithoutALookAtTheRelay(t *testing.T) {
	w := newProofWalk(t, t.TempDir(), warmBoard)
	for _, lamp := range []string{askLamp1, askLamp2} {
		w.says(lamp, sawNot)
	}
	w.walkDated(t, 260)
	require.NoError(t, w.err)
	for _, p := range []shop.Part{shop.PartLimit, shop.PartDeadMan} {
		assert.Equal(t, shop.Passed, w.found(t, p).Result)
		assert.Contains(t, w.found(t, p).Seen, "; you could not see the relay")
	}
}

// TestProofNeedsItsFile: what cannot be noted is not lowered; a file that fails in the middle takes
// no limit back; and what could not be written is said.
func TestProofNeedsItsFile(t *testing.T) {
	spoil := func(w *proofWalk) func() { // root may write anywhere, so that its folder goes
		return func() {
			dir := filepath.Dir(w.file)
			assert.NoError(t, os.Rename(dir, dir+".away"))
			assert.NoError(t, os.WriteFile(dir, nil, 0o600))
		}
	}
	mend := func(w *proofWalk) {
		dir := filepath.Dir(w.file)
		require.NoError(t, os.Remove(dir))
		require.NoError(t, os.Rename(dir+".away", dir))
	}
	for when, lowered := range map[string]bool{askLower: false, askLamp1: true, askCut: false} {
		dir := filepath.Join(t.TempDir(), "shop")
		require.NoError(t, os.Mkdir(dir, 0o700))
		w := newProofWalk(t, dir, warmBoard)
		w.provedBefore(t)
		for i, r := range w.person.rules {
			if r.when == when {
				w.person.rules[i].do = spoil(w)
			}
		}
		w.walk()
		require.Error(t, w.err, when)
		assert.Equal(t, exitIO, asFault(w.err).code, "%s: %v", when, w.err)
		assert.Contains(t, w.err.Error(), "keep the proof in "+w.file, when)
		assert.Equal(t, when != askLower, strings.Contains(w.person.String(), "The board reads back"),
			"what cannot be noted is not lowered")
		assert.Empty(t, w.out.String(), "%s: nothing is said to be written", when)
		w.board.Pull(false)
		assert.InDelta(t, 260, float64(w.stored(t)), 0.13, when)
		mend(w)
		assert.Equal(t, lowered, w.lowered(t), when)
		for _, p := range shop.Parts() {
			assert.Equal(t, "of then", w.found(t, p).Seen, when)
			assert.Equal(t, firstPass, w.found(t, p).Last, when)
		}
	}
}

// TestProofNeedsABoardThatReads: a board whose settings are lost, or whose guard channel never
// reads, is refused before anything is asked.
func TestProofNeedsABoardThatReads(t *testing.T) {
	for words, c := range map[string]struct {
		spoil func(*sim.Config)
		code  int
	}{
		"it cannot read its stored settings": {func(s *sim.Config) { s.BadCRC = true }, exitConfig},
		"its guard channel 1 gave no good reading: open": {func(s *sim.Config) {
			s.Faults = []sim.Fault{{Kind: sim.Open, For: time.Hour}}
		}, exitUnavailable},
	} {
		cfg := warmBoard
		c.spoil(&cfg)
		w := newProofWalk(t, t.TempDir(), cfg)
		w.provedBefore(t)
		w.walk()
		require.ErrorContains(t, w.err, words)
		assert.Equal(t, c.code, asFault(w.err).code)
		assert.Empty(t, w.person.String(), "nothing is asked")
		for _, p := range shop.Parts() {
			assert.Equal(t, "of then", w.found(t, p).Seen, "nothing is written")
		}
		assert.Zero(t, w.board.Truth().On)
	}
}

// swapped is a name that leads to one board, and to the other once they were swapped.
type swapped struct {
	is, other *sim.Board
	mem       map[*sim.Board]*sim.Memory
}

func (p *swapped) Grant(sent uint64) (uint64, error) { return p.is.Grant(sent) }

func (p *swapped) swap() { p.is, p.other = p.other, p.is }

func (p *swapped) open() (port.Stream, error) {
	s, err := p.mem[p.is].Open()
	if err != nil {
		return nil, err
	}
	p.is.Opened()
	return s, nil
}

// newPairWalk is a walk on a name that can be swapped to another board.
func newPairWalk(t *testing.T, cfg sim.Config) (*proofWalk, *swapped) {
	w := newProofWalk(t, t.TempDir(), cfg)
	second := warmBoard
	second.Name, second.Apart = "straw-two", true
	p := &swapped{is: sim.New(cfg), other: sim.New(second), mem: map[*sim.Board]*sim.Memory{}}
	for _, b := range []*sim.Board{p.is, p.other} {
		m, err := b.Memory()
		require.NoError(t, err)
		t.Cleanup(func() { b.Close() })
		p.mem[b] = m
	}
	w.board, w.c.sim.board, w.c.sim.grants = p.is, p.is, p
	w.c.open = func() (port.Opener, port.Config) {
		return p.open, port.Config{Name: w.c.path, WriteLimit: time.Minute, CloseLimit: time.Minute}
	}
	w.c.heater.cfg.Open, w.c.heater.cfg.Sim.Board, w.c.heater.cfg.Sim.Grants = p.open, nil, p
	return w, p
}

// TestProofOfAnotherBoard: one that comes back in the place of the board that is proved gets no
// heat and proves nothing; a lowered limit is not put back on it, and how to do it is said.
func TestProofOfAnotherBoard(t *testing.T) {
	const two = "found straw-two (MAX31855K, channels 1, ceiling 320 °C, start 1) in the place of straw-sim"
	w, p := newPairWalk(t, warmBoard)
	second := p.other
	w.provedBefore(t)
	w.says(saidPlug, "-")
	w.at(saidPlug, p.swap)
	w.walk()
	require.NoError(t, w.err, w.person.String())
	w.dated(t)
	assert.Equal(t, shop.NotDone, w.found(t, shop.PartCable).Result)
	assert.Contains(t, w.found(t, shop.PartCable).Seen, "another board came back: "+two)
	assert.Zero(t, second.Truth().On)

	w, p = newPairWalk(t, warmBoard)
	second = p.other
	w.provedBefore(t)
	w.at("The board says: high limit.", func() {
		w.once(w.passes(5*time.Second), func() { p.is.Pull(true) })
		w.once(w.passes(6*time.Second), p.swap)
	})
	w.walk()
	require.ErrorContains(t, w.err, "it may still be 114.00 °C")
	assert.ErrorContains(t, w.err, "strawline probes board --port the simulated board --limit 260.11C")
	assert.Contains(t, w.person.String(), two)
	w.dated(t)
	assert.True(t, w.lowered(t), "the note stays")
	assert.Zero(t, second.Truth().On)
	w.c.board, w.c.sim.board = probe.Board{}, second // as the program's next start finds it
	require.NoError(t, w.c.reach())
	assert.Equal(t, "straw-two", w.c.board.Name)
	assert.InDelta(t, 260, float64(w.c.board.Settings.Limit), 0.13, "it keeps its own")
	w.c.close()
	next := w.again(t)
	next.person.rules = nil
	next.walk()
	require.ErrorContains(t, next.err,
		"this board calls itself straw-two; the one that was lowered is straw-sim")
	assert.Equal(t, exitConfig, asFault(next.err).code)
	assert.True(t, w.lowered(t))
	next.dated(t)

	cold := warmBoard
	cold.Start = 0
	w, p = newPairWalk(t, cold)
	w.provedBefore(t)
	w.person.rules = append(w.person.rules, rule{when: "Heat it?", say: "yes"})
	w.at("closed", func() { p.is.Pull(true); p.swap() })
	w.walk()
	require.ErrorContains(t, w.err,
		"another board answers: it calls itself straw-two, and the walk began with straw-sim")
	assert.Equal(t, exitUnavailable, asFault(w.err).code)
	w.dated(t)
}

// TestProofLeavesALoweredLimitToThePerson who does not want it put back now: nothing is proved.
func TestProofLeavesALoweredLimitToThePerson(t *testing.T) {
	w := newProofWalk(t, t.TempDir(), warmBoard)
	w.provedBefore(t)
	before := probe.Settings{Guard: 1, Limit: 250, Window: 2 * time.Second, MainsHz: 50}
	require.NoError(t, w.c.store.Update(func(f *shop.Found) error {
		f.Lowered = shop.Put(f.Lowered, shop.Entry[shop.Lowered]{Of: "simulated-board", Date: firstPass,
			Value: shop.Lowered{Board: "straw-sim", To: 114, Before: before}})
		return nil
	}))
	w.person.rules = []rule{{when: "Put 250.00 °C", say: "no"}}
	w.walk()
	require.ErrorContains(t, w.err, "its limit is still the one of an earlier proof")
	assert.ErrorContains(t, w.err, "--limit 250.00C --guard 1 --window 2s --mains 50Hz")
	assert.Equal(t, exitConfig, asFault(w.err).code)
	assert.True(t, w.lowered(t))
	w.dated(t)
	assert.NotContains(t, w.person.String(), askLower)
	assert.InDelta(t, 260, float64(w.stored(t)), 0.13)
}

// TestProofCommandsMoreThanHolds: a quarter of the heat up to 125 °C, above it in proportion to
// what an oven loses to a room of 20 °C, and never more than there is.
func TestProofCommandsMoreThanHolds(t *testing.T) {
	w := newProofWalk(t, t.TempDir(), warmBoard)
	for at, pm := range map[temp.C]int{60: 250, 100: 250, 125: 250, 146: 300, 230: 500, 440: 1000,
		1200: 1000} {
		assert.Equal(t, pm, w.c.refused(at), "%v", at)
	}
	w.c.partial = false
	assert.Equal(t, 1000, w.c.refused(100), "a contactor")
}
