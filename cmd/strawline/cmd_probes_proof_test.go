package main

import (
	"bytes"
	"context"
	"encoding/json"
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

// answers is a person who reads what the walk says and types, each rule once.
type answers struct {
	bytes.Buffer
	typed chan string
	ended bool
	rules []rule
}

// rule says what is typed where a text stands, after do; "-" types nothing.
type rule struct {
	when, say string
	do        func()
}

func (a *answers) Write(p []byte) (int, error) {
	for i, r := range a.rules {
		if !strings.Contains(strings.ReplaceAll(string(p), "\n", " "), r.when) {
			continue
		}
		a.rules = append(a.rules[:i:i], a.rules[i+1:]...)
		if r.do != nil {
			r.do()
		}
		if r.say != "-" && !a.ended {
			a.typed <- r.say
		}
		break
	}
	return a.Buffer.Write(p)
}

// end ends the input.
func (a *answers) end() {
	a.ended = true
	close(a.typed)
}

// The prompts of the walk.
const (
	askLower  = "Lower it now?"
	askLamp1  = "all the while?"
	askReset  = "Reset it, so that"
	askSilent = "oven. Heat now?"
	askLamp2  = "fell silent?"
	askCable  = "plug. Heat now?"
	saidPull  = "SIMULATED: Enter pulls"
	askLamp3  = "at the latest?"
	saidPlug  = "SIMULATED: Enter plugs"
	askCut    = "Did you try it today?"
)

// willing does all that is asked.
func willing() []rule {
	return []rule{{when: askLower, say: "yes"}, {when: askLamp1, say: "yes"},
		{when: askReset, say: "yes"}, {when: askSilent, say: "yes"}, {when: askLamp2, say: "yes"},
		{when: askReset, say: "yes"}, {when: askCable, say: "yes"}, {when: saidPull},
		{when: askLamp3, say: "yes"}, {when: saidPlug}, {when: askCut, say: "tried"}}
}

// instead gives the rules with one in the place of the first of its kind.
func instead(rules []rule, r rule) []rule {
	for i := range rules {
		if rules[i].when == r.when {
			rules[i] = r
			return rules
		}
	}
	panic("no such rule: " + r.when)
}

// proofWalk is one walk on a simulated board that tests it.
type proofWalk struct {
	c      *proving
	board  *sim.Board
	person *answers
	out    bytes.Buffer
	stop   context.CancelCauseFunc
	file   string
	before probe.Settings
	most   time.Duration // that the output was on in one stretch without a fresh command
	err    error
}

// newProofWalk makes a walk on a board behind the real port and codec.
func newProofWalk(t require.TestingT, dir string, cfg sim.Config) *proofWalk {
	w := &proofWalk{file: filepath.Join(dir, "found.toml")}
	w.board = sim.New(cfg)
	m, err := w.board.Memory()
	require.NoError(t, err)
	open := opened(w.board, func() (port.Stream, error) {
		s, err := m.Open()
		if err != nil {
			return nil, err
		}
		return s, nil
	})
	w.person = &answers{typed: make(chan string, 4), rules: willing()}
	ctx, stop := context.WithCancelCause(context.Background())
	w.stop = stop
	h := &host{out: &w.out, err: w.person, env: []string{"XDG_DATA_HOME=" + dir}}
	w.c = &proving{talk: &talk{h: h, ctx: ctx, typed: w.person.typed}, f: &proofFlags{json: true}}
	w.c.simulated(w.board, open)
	w.c.sim.board, w.c.heater.cfg.Sim.Board = w.board, w.board
	w.c.store, w.c.file = shop.NewStore(w.file), w.file
	idle := 0
	w.c.sim.paced = func(asking bool) {
		idle++
		if !asking {
			idle = 0
		}
		if idle > 5000 {
			panic("nobody answers: " + w.person.String())
		}
	}
	return w
}

func (w *proofWalk) walk() *proofWalk {
	w.err = w.c.walk()
	w.c.close()
	return w
}

func (w *proofWalk) answer(t *testing.T) (a proofAnswer) {
	t.Helper()
	require.NoError(t, json.Unmarshal(w.out.Bytes(), &a), w.person.String())
	return a
}

// found gives what stands in the found file of a part.
func (w *proofWalk) found(t *testing.T, p shop.Part) shop.Proof {
	t.Helper()
	f, err := shop.NewStore(w.file).Load()
	require.NoError(t, err)
	e := shop.Get(*f.Proofs(p), "simulated-board")
	require.NotNil(t, e, "%s: %v", p, f)
	return e.Value
}

// stored gives the limit that the board has, by asking it anew.
func (w *proofWalk) stored(t require.TestingT) temp.C {
	s := &proofWalk{c: w.c}
	s.c.ctx = context.Background()
	require.NoError(t, s.c.reach())
	s.c.close()
	return s.c.board.Settings.Limit
}

func (w *proofWalk) lowered(t require.TestingT) bool {
	f, err := shop.NewStore(w.file).Load()
	require.NoError(t, err)
	return shop.Get(f.Lowered, "simulated-board") != nil
}

var warmBoard = sim.Config{Start: 120, Seed: 3}

// result gives what the answer says of a part.
func (a proofAnswer) result(p shop.Part) proofPart {
	for _, one := range a.Parts {
		if one.Part == p.String() {
			return one
		}
	}
	return proofPart{}
}

func TestProofOfAllParts(t *testing.T) {
	w := newProofWalk(t, t.TempDir(), warmBoard).walk()
	require.NoError(t, w.err, w.person.String())
	a := w.answer(t)
	assert.True(t, a.Simulated)
	assert.Empty(t, a.Port)
	assert.Empty(t, a.Latches)
	for p, words := range map[shop.Part][]string{
		shop.PartLimit: {"limit lowered to 114 °C at 1", "the board said high limit within ",
			"25 % commanded for 120 s", "it fell ", "you saw the relay off"},
		shop.PartDeadMan: {"10 % commanded, then nothing", "host silent within ",
			"you saw the relay off"},
		shop.PartCable:  {"you saw the relay off", "started again (reset)"},
		shop.PartCutOut: {"you said: tried, it took the heat away"},
	} {
		assert.Equal(t, "passed", a.result(p).Result, p)
		f := w.found(t, p)
		assert.Equal(t, shop.Passed, f.Result, p)
		assert.Equal(t, shop.Date{Year: 2026, Month: 1, Day: 5}, f.Last, "the simulated day")
		assert.Equal(t, []string{"straw-sim", "straw-sim"}, []string{f.Board, f.LastBoard})
		assert.InDelta(t, 260, float64(f.Limit), 0.13)
		for _, word := range words {
			assert.Contains(t, f.Seen, word, p)
		}
	}
	for _, words := range []string{"SIMULATED", "CAUTION", "does not test your independent cut-out",
		"The board says: high limit", "as before", "The board says: host silent"} {
		assert.Contains(t, w.person.String(), words)
	}
	assert.InDelta(t, 260, float64(w.stored(t)), 0.13)
	assert.False(t, w.lowered(t))
}

// TestProofHeats: a cold oven is heated by a run of its own, which is in a run file like any other.
func TestProofHeats(t *testing.T) {
	dir := t.TempDir()
	w := newProofWalk(t, dir, sim.Config{Seed: 1})
	w.person.rules = append(w.person.rules, rule{when: "Heat it?", say: "yes"})
	w.walk()
	require.NoError(t, w.err, w.person.String())
	for _, p := range w.answer(t).Parts {
		assert.Equal(t, "passed", p.Result, p)
	}
	assert.Contains(t, w.person.String(), "soak done")
	files, err := filepath.Glob(filepath.Join(dir, "strawline", "runs", "*.jsonl"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	info, _, err := readRun(files[0])
	require.NoError(t, err)
	assert.True(t, info.Simulated)
	assert.Equal(t, temp.C(150), info.Profile.Limit, "a limit of its own, below the oven's")

	w = newProofWalk(t, t.TempDir(), sim.Config{Seed: 1, Faults: []sim.Fault{
		{Kind: sim.Open, At: 30 * time.Second}}})
	w.person.rules = append(w.person.rules, rule{when: "Heat it?", say: "yes"})
	w.walk()
	require.Error(t, w.err)
	assert.Contains(t, w.err.Error(), "the run ended")
	assert.NotContains(t, w.person.String(), askLower, "a run that tripped is no start for a proof")
	assert.Equal(t, shop.NotDone, w.found(t, shop.PartLimit).Result)
}

// A part that fails is said so, with what to do; nothing more is heated, and the limit is put back.
func TestProofFails(t *testing.T) {
	dead := warmBoard
	for _, c := range []struct {
		name  string
		board func(*sim.Config)
		rules func([]rule) []rule
		part  shop.Part
		words string
	}{
		{"no limit", func(s *sim.Config) { s.Broken.Limit = true }, nil, shop.PartLimit,
			"no latch within 3s with the limit at 114 °C"},
		{"heats through its latch", func(s *sim.Config) { s.Broken.Latched = true }, nil,
			shop.PartLimit, "grew hotter by"},
		{"relay shorted", func(s *sim.Config) {
			s.Faults = []sim.Fault{{Kind: sim.SSRShort, At: 9 * time.Second}}
		}, nil, shop.PartLimit, "grew hotter by"},
		{"relay seen on", func(*sim.Config) {}, func(r []rule) []rule {
			return instead(r, rule{when: askLamp1, say: "no"})
		}, shop.PartLimit, "you saw the relay on"},
		{"no dead man", func(s *sim.Config) { s.Broken.DeadMan = true }, nil, shop.PartDeadMan,
			"no latch 4.0 s after the last command"},
		{"relay seen on in silence", func(*sim.Config) {}, func(r []rule) []rule {
			return instead(r, rule{when: askLamp2, say: "no"})
		}, shop.PartDeadMan, "you saw the relay on"},
		{"relay seen on without cable", func(*sim.Config) {}, func(r []rule) []rule {
			return instead(r, rule{when: askLamp3, say: "no"})
		}, shop.PartCable, "you saw the relay on"},
		{"cut-out", func(*sim.Config) {}, func(r []rule) []rule {
			return instead(r, rule{when: askCut, say: "failed"})
		}, shop.PartCutOut, "it did not take the heat away"},
	} {
		t.Run(c.name, func(t *testing.T) {
			cfg := dead
			c.board(&cfg)
			w := newProofWalk(t, t.TempDir(), cfg)
			if c.rules != nil {
				w.person.rules = c.rules(w.person.rules)
			}
			w.walk()
			require.Error(t, w.err, w.person.String())
			assert.Equal(t, exitData, asFault(w.err).code, w.err)
			assert.Contains(t, w.err.Error(), "FAILED; pull the plug and do not use it to heat")
			assert.Contains(t, w.person.String(), "ull the oven's plug and do not use")
			p := w.found(t, c.part)
			assert.Equal(t, shop.Failed, p.Result)
			assert.Contains(t, p.Seen, c.words)
			assert.True(t, p.Last.IsZero(), "a failure leaves no earlier pass")
			for i, later := range shop.Parts() {
				if later == c.part {
					for _, p := range shop.Parts()[i+1:] {
						assert.Equal(t, shop.NotDone, w.found(t, p).Result, "nothing goes on after a failure")
					}
				}
			}
			assert.Zero(t, w.c.duty)
			assert.False(t, w.lowered(t))
			w.board.Pull(false)
			assert.InDelta(t, 260, float64(w.stored(t)), 0.13)
		})
	}
}

// A board that says it stored the settings and did not, is caught by the reading back.
func TestProofReadsBack(t *testing.T) {
	cfg := warmBoard
	cfg.Broken.Forgets = true
	w := newProofWalk(t, t.TempDir(), cfg).walk()
	require.ErrorContains(t, w.err, "the board stored")
	p := w.found(t, shop.PartLimit)
	assert.Equal(t, shop.NotDone, p.Result)
	assert.Contains(t, p.Seen, "did not take the lowered limit")
	assert.False(t, w.lowered(t))
}
