package main

import (
	"io"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control/shop"
	"strawline/probe/sim"
)

// A 0 that the walk itself sends is a command: a dead man that it keeps from latching is sound, and
// is not said to have failed.
func TestProofOfASilenceThatWasBroken(t *testing.T) {
	w := newProofWalk(t, t.TempDir(), warmBoard)
	w.person.rules = append([]rule{{when: "The program is silent now.", say: "-", do: func() {
		w.board.Befall(sim.Fault{Kind: sim.Open, At: w.c.sim.now + time.Second, For: sim.Step})
	}}}, w.person.rules...)
	w.walk()
	require.NoError(t, w.err, w.person.String())
	p := w.found(t, shop.PartDeadMan)
	assert.Equal(t, shop.NotDone, p.Result, p.Seen)
	assert.Equal(t, "the silence was broken, the heat taken away: the guard channel's probe is open",
		p.Seen)
	assert.NotContains(t, w.person.String(), "Pull the oven's plug")
}

// No heat is given for a proof that the oven's own limit would end.
func TestProofDoesNotHeatToTheLimit(t *testing.T) {
	for at, most := range map[string]string{"220.1C": "220 °C", "600C": "220 °C", "429F": "428 °F",
		"1e9C": "220 °C"} {
		var err, out strings.Builder
		code := run(t.Context(), []string{"probes", "proof", "--simulated", "--pace", "max",
			"--at", at}, strings.NewReader("yes\n"), &out, &err, []string{"XDG_DATA_HOME=" + t.TempDir()})
		assert.Equal(t, exitUsage, code, err.String())
		assert.Contains(t, err.String(), most+" is the most with the oven's limit of ")
		assert.Equal(t, 1, strings.Count(err.String(), "\n"), "before anything is asked")
	}
	w := newProofWalk(t, t.TempDir(), warmBoard)
	require.NoError(t, w.c.f.at.Set("220C"))
	require.NoError(t, w.c.hotAsked(), "30 °C below the demo's 250 °C")
}

// What ended a part is said as it was: a person who left it out, an answer that did not come, or a
// run that tripped, which no person stopped.
func TestProofSaysWhatEndedAPart(t *testing.T) {
	w := newProofWalk(t, t.TempDir(), warmBoard)
	w.person.rules = instead(instead(willing(), rule{when: askLower, say: "no"}),
		rule{when: askSilent, say: "-", do: w.person.end})
	w.walk()
	require.Error(t, w.err)
	assert.Equal(t, "left out", w.found(t, shop.PartLimit).Seen)
	assert.Equal(t, "broken off: the input ended before the question was answered",
		w.found(t, shop.PartDeadMan).Seen)

	w = newProofWalk(t, t.TempDir(), sim.Config{Seed: 1, Faults: []sim.Fault{
		{Kind: sim.Open, At: 30 * time.Second}}})
	w.person.rules = append(w.person.rules, rule{when: "Heat it?", say: "yes"})
	w.walk()
	require.ErrorContains(t, w.err, "the run ended tripped: ")
	assert.NotContains(t, w.err.Error()+w.person.String(), "by a person")
	assert.Contains(t, w.found(t, shop.PartLimit).Seen, "broken off: the run ended tripped: ")

	cold := sim.Config{Seed: 1}
	w = newProofWalk(t, t.TempDir(), cold)
	w.c.heater = nil
	w.walk()
	require.NoError(t, w.err, w.person.String())
	assert.Contains(t, w.found(t, shop.PartLimit).Seen, "it was only at 2")

	w = newProofWalk(t, t.TempDir(), warmBoard)
	w.person.rules = instead(willing(), rule{when: askReset, say: "no"})
	w.walk()
	require.NoError(t, w.err, w.person.String())
	assert.Equal(t, "a latch of the board stands: high limit", w.found(t, shop.PartDeadMan).Seen)
}

// A lock that stands on capitals changes no answer.
func TestProofTakesAnswersInCapitals(t *testing.T) {
	w := newProofWalk(t, t.TempDir(), warmBoard)
	for i := range w.person.rules {
		w.person.rules[i].say = strings.ToUpper(w.person.rules[i].say)
	}
	w.walk()
	require.NoError(t, w.err, w.person.String())
	for _, p := range shop.Parts() {
		assert.Equal(t, shop.Passed, w.found(t, p).Result, p)
	}
}

// narrow is a terminal of 80 columns.
type narrow struct {
	t    *testing.T
	then io.Writer
}

func (n *narrow) Write(p []byte) (int, error) {
	for line := range strings.Lines(strings.TrimPrefix(string(p), "\r\x1b[K")) {
		assert.LessOrEqual(n.t, len([]rune(strings.TrimSuffix(line, "\n"))), 80, line)
	}
	return n.then.Write(p)
}

// On a terminal of 80 columns no word of the walk is cut in two, and none is lost.
func TestProofFitsATerminal(t *testing.T) {
	said := map[bool]string{}
	for _, over := range []bool{false, true} {
		w := newProofWalk(t, t.TempDir(), sim.Config{Seed: 1})
		if w.c.over = over; over {
			w.c.h.err = &narrow{t, w.person}
		}
		w.person.rules = append(w.person.rules, rule{when: "Heat it?", say: "yes"})
		w.walk()
		require.NoError(t, w.err, w.person.String())
		text, _, _ := strings.Cut(w.person.String(), "Heat it?") // behind it figures of progress come
		said[over] = strings.Join(strings.Fields(text), " ")
	}
	assert.Equal(t, said[false], said[true])
	k := &talk{over: true}
	for text, want := range map[string]string{
		"":                                  "",
		strings.Repeat("x", 79) + " y":      strings.Repeat("x", 79) + "\ny",
		strings.Repeat("x", 78) + " yz":     strings.Repeat("x", 78) + "\nyz",
		strings.Repeat("°", 200) + " y":     strings.Repeat("°", 200) + " y",
		"\n1. a " + strings.Repeat("b", 79): "\n1. a\n" + strings.Repeat("b", 79),
	} {
		require.Equal(t, want, k.fits(text))
	}
}
