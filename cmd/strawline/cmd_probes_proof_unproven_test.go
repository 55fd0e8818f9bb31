package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control/shop"
	"strawline/probe/sim"
)

// firstPass is the day of an earlier proof in the found file, long before the simulated day.
var firstPass = shop.Date{Year: 2025, Month: 12, Day: 1}

// provedBefore puts an earlier pass of every part into the found file.
func (w *proofWalk) provedBefore(t *testing.T) {
	t.Helper()
	require.NoError(t, w.c.store.Update(func(f *shop.Found) error {
		for _, p := range shop.Parts() {
			list := f.Proofs(p)
			*list = shop.PutProof(*list, shop.Entry[shop.Proof]{Of: "simulated-board", Date: firstPass,
				Value: shop.Proof{Result: shop.Passed, Seen: "of then", Board: "straw-one", Limit: 200}})
		}
		return nil
	}))
}

// dated asserts that every part has the day that goes with its result: that of the walk where it
// passed, none where it failed, and the earlier one, with the board and limit of then, where the
// walk showed nothing of it.
func (w *proofWalk) dated(t *testing.T) {
	t.Helper()
	for _, p := range shop.Parts() {
		switch f := w.found(t, p); {
		case f.Result == shop.Passed && f.Seen != "of then":
			assert.Equal(t, shop.DateOf(w.c.clock.Wall()), f.Last, p)
			assert.Equal(t, "straw-sim", f.LastBoard, p)
		case f.Result == shop.Failed:
			assert.True(t, f.Last.IsZero(), p)
		default:
			assert.Equal(t, firstPass, f.Last, "%s: %s", p, f.Seen)
			assert.Equal(t, "straw-one", f.LastBoard, p)
			assert.InDelta(t, 200, float64(f.LastLimit), 0.01, p)
		}
	}
}

// once has f done at the first look at which is says so.
func (w *proofWalk) once(is func() bool, f func()) {
	was, done := w.c.sim.paced, false
	w.c.sim.paced = func(asking bool) {
		was(asking)
		if !done && is() {
			done = true
			f()
		}
	}
}

// befall has a fault come so long from now.
func (w *proofWalk) befall(k sim.Kind, in time.Duration) {
	w.board.Befall(sim.Fault{Kind: k, At: w.board.Truth().Now + in, For: sim.Step})
}

// at has something done where a text of the walk stands.
func (w *proofWalk) at(when string, do func()) {
	w.person.rules = append([]rule{{when: when, say: "-", do: do}}, w.person.rules...)
}

// says has the person give another answer.
func (w *proofWalk) says(when, say string) {
	w.person.rules = instead(w.person.rules, rule{when: when, say: say})
}

// types has the person type where a question stands that is not answered at once.
func (w *proofWalk) types(when, say string, is func() bool) {
	w.person.rules = instead(w.person.rules, rule{when: when, say: "-", do: func() {
		w.once(is, func() { w.person.typed <- say })
	}})
}

// passes says that so much simulated time has gone by from its first call on.
func (w *proofWalk) passes(span time.Duration) func() bool {
	var from time.Duration
	return func() bool {
		if from == 0 {
			from = w.c.sim.now
		}
		return w.c.sim.now-from >= span
	}
}

// walkDated walks with earlier passes in the found file and asserts what must hold after any end:
// the days, no heat, and the board's own limit.
func (w *proofWalk) walkDated(t *testing.T, limit float64) {
	t.Helper()
	w.provedBefore(t)
	w.person.rules = append(w.person.rules, rule{when: askReset, say: "yes"},
		rule{when: askReset, say: "yes"})
	w.walk()
	w.dated(t)
	assert.Zero(t, w.c.duty)
	assert.False(t, w.lowered(t))
	w.board.Pull(false)
	assert.InDelta(t, limit, float64(w.stored(t)), 0.13)
}

// TestProofThatShowsNothing: whatever keeps a part from being proved is said in its own words, and
// the day of its last pass stays.
func TestProofThatShowsNothing(t *testing.T) {
	const again, silent = "broken off: the board started again",
		"broken off: the link to the board is silent" // while it boots
	const open = "the guard channel's probe is open"
	for _, c := range []struct {
		name  string
		board func(*sim.Config)
		walk  func(*proofWalk)
		part  shop.Part
		words string
		code  int // 0: the walk goes on
	}{
		{"too cold and not heated", func(s *sim.Config) { s.Start = 0 }, func(w *proofWalk) {
			w.person.rules = append(w.person.rules, rule{when: "Heat it?", say: "no"})
		}, shop.PartLimit, "left out", 0},
		{"a latch that is left", func(s *sim.Config) {
			s.Faults = []sim.Fault{{Kind: sim.Open, At: 3 * time.Second, For: 2 * time.Second}}
		}, func(w *proofWalk) { w.says(askReset, "no") }, shop.PartLimit,
			"a latch of the board stands: open", 0},
		{"a latch whose cause stands", func(s *sim.Config) { s.Limit = 110 }, nil, shop.PartLimit,
			"a latch of the board stands: high limit", 0},
		{"hotter than its limit", func(s *sim.Config) { s.Limit, s.Broken.Limit = 110, true }, nil,
			shop.PartLimit, "is under the temperature already", 0},
		{"a start while it is asked", nil, func(w *proofWalk) {
			w.types(askLower, "yes", w.passes(5*time.Second))
			w.at("It is at", func() { w.befall(sim.Restart, time.Second) })
		}, shop.PartLimit, again, exitUnavailable},
		{"cooler than the lowered limit", nil, func(w *proofWalk) {
			w.at("It is at", func() { w.board.Door(true) })
			w.types(askLower, "yes", func() bool { return w.board.Truth().Probe < 113 })
		}, shop.PartLimit, "it cooled too near to the lowered limit to tell", 0},
		{"no reading with the limit lowered", func(s *sim.Config) { s.Broken.Limit = true },
			func(w *proofWalk) {
				w.at("The board reads back: high limit 11", func() { w.befall(sim.Open, 0) })
			}, shop.PartLimit, open, 0},
		{"a start with the limit lowered", func(s *sim.Config) { s.Broken.Limit = true },
			func(w *proofWalk) {
				w.at("The board reads back: high limit 11", func() { w.befall(sim.Restart, 0) })
			}, shop.PartLimit, silent, exitUnavailable},
		{"no reading while heat is refused", nil, func(w *proofWalk) {
			w.at("The board says: high limit.", func() { w.befall(sim.Open, 5*time.Second) })
		}, shop.PartLimit, "the heat was taken away: " + open, 0},
		{"the cable out while heat is refused", nil, func(w *proofWalk) {
			w.at("Is the cable in?", func() { w.board.Pull(false) })
			w.at("The board says: high limit.", func() {
				w.once(w.passes(5*time.Second), func() { w.board.Pull(true) })
			})
		}, shop.PartLimit, "broken off: the link to the board is gone", exitUnavailable},

		{"silence left out", nil, func(w *proofWalk) { w.says(askSilent, "no") }, shop.PartDeadMan,
			"left out", 0},
		{"too near to the limit", func(s *sim.Config) { s.Limit = 135 },
			func(w *proofWalk) { w.says(askLower, "no") }, shop.PartDeadMan,
			"too near to the board's limit", 0},
		{"a start before the silence", nil, func(w *proofWalk) {
			w.at("The board's dead man, with", func() { w.befall(sim.Restart, 4*time.Second) })
		}, shop.PartDeadMan, silent, exitUnavailable},
		{"no reading before the silence", nil, func(w *proofWalk) {
			w.at("The board's dead man, with", func() { w.befall(sim.Open, 4*time.Second) })
		}, shop.PartDeadMan, "the heat was taken away: " + open, 0},
		{"a start in the silence", nil, func(w *proofWalk) {
			w.at("The program is silent now.", func() { w.befall(sim.Restart, time.Second) })
		}, shop.PartDeadMan, again, exitUnavailable},

		{"cable left out", nil, func(w *proofWalk) { w.says(askCable, "no") }, shop.PartCable,
			"left out", 0},
		{"the pull left out", nil, func(w *proofWalk) { w.says(saidPull, leaveOut) }, shop.PartCable,
			"left out", 0},
		{"pulled too late", nil, func(w *proofWalk) { w.says(saidPull, "-") }, shop.PartCable,
			"the heat was taken away before the cable was pulled: its time was over", 0},
		{"no reading before the pull", nil, func(w *proofWalk) {
			w.says(saidPull, "-")
			w.at("Pull the cable out now", func() { w.befall(sim.Open, 4*time.Second) })
		}, shop.PartCable, "before the cable was pulled: " + open, 0},
		{"a start before the pull", nil, func(w *proofWalk) {
			w.says(saidPull, "-")
			w.at("Pull the cable out now", func() { w.befall(sim.Restart, 4*time.Second) })
		}, shop.PartCable, "the board fell silent and started again (watchdog), and its port was never " +
			"gone", 0},
		{"the plug left out", nil, func(w *proofWalk) { w.says(saidPlug, leaveOut) }, shop.PartCable,
			"it did not come back on the simulated board", exitUnavailable},
		{"back too soon", func(s *sim.Config) { s.Apart = true }, func(w *proofWalk) {
			w.says(saidPull, "-")
			w.at("Pull the cable out now", func() {
				w.once(w.passes(3*time.Second), func() { w.board.Pull(true) })
				w.once(w.passes(4*time.Second), func() { w.board.Pull(false) })
			})
		}, shop.PartCable, "before the dead man's time", 0},
		{"started again and not seen", nil, func(w *proofWalk) { w.says(askLamp3, sawNot) },
			shop.PartCable, "you could not see the relay; back, the board had started again", 0},

		{"cut-out not tried", nil, func(w *proofWalk) { w.says(askCut, cutNot) }, shop.PartCutOut,
			"you said: not tried", 0},
		{"no cut-out", nil, func(w *proofWalk) { w.says(askCut, cutNone) }, shop.PartCutOut,
			"you said: there is none", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			cfg := warmBoard
			if c.board != nil {
				c.board(&cfg)
			}
			w := newProofWalk(t, t.TempDir(), cfg)
			if c.walk != nil {
				c.walk(w)
			}
			limit := 260.0
			if cfg.Limit != 0 {
				limit = float64(cfg.Limit)
			}
			w.walkDated(t, limit)
			p := w.found(t, c.part)
			assert.Equal(t, shop.NotDone, p.Result, "%s\n%s", p.Seen, w.person.String())
			assert.Contains(t, p.Seen, c.words)
			assert.NotContains(t, w.person.String(), "Pull the oven's plug and do not use this")
			if c.code == 0 {
				require.NoError(t, w.err, w.person.String())
				return
			}
			require.Error(t, w.err, w.person.String())
			assert.Equal(t, c.code, asFault(w.err).code, w.err)
			later := false
			for _, p := range shop.Parts() {
				if later {
					assert.Equal(t, "not reached", w.found(t, p).Seen, p)
				}
				later = later || p == c.part
			}
		})
	}
}

// TestProofThatIsLeftOutWhole is no try: nothing of it is written.
func TestProofThatIsLeftOutWhole(t *testing.T) {
	w := newProofWalk(t, t.TempDir(), warmBoard)
	for _, when := range []string{askLower, askSilent, askCable, askCut} {
		w.says(when, "no")
	}
	w.walkDated(t, 260)
	require.NoError(t, w.err, w.person.String())
	assert.Empty(t, w.answer(t).File)
	for _, p := range shop.Parts() {
		assert.Equal(t, "not done", w.answer(t).result(p).Result)
		assert.Equal(t, "of then", w.found(t, p).Seen, p)
	}
	assert.Zero(t, w.board.Truth().On)
}
