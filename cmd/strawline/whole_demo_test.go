//go:build linux || darwin

package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// mostDemo is the longest that a two-cycle temper may work at the highest pace.
const mostDemo = 5 * time.Second

// fastPty is a pace that no machine reaches: the pseudo-terminal without any delay.
const fastPty = "10000000"

// TestDemoInLines runs every built-in profile on both reference ovens, twice, and some also
// over the pseudo-terminal: the same seed gives the same run file and the same lines.
func TestDemoInLines(t *testing.T) {
	b := wholeData(t, "plant/oven-b.toml")
	for _, c := range []struct {
		profile, oven string
		pty           bool
	}{
		{"small-knife", "", false}, // on a terminal elsewhere
		{"large-knife", "", false},
		{"kitchen", "", false},
		{"small-knife", b, false},
		{"large-knife", b, false},
		{"kitchen", b, true},
	} {
		name := c.profile + " on A"
		args := []string{"demo", "--plain", "--seed", "7", "--profile", c.profile}
		if c.oven != "" {
			name = c.profile + " on B"
			args = append(args, "--oven", c.oven)
		}
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := newWholePerson(t)
			once := p.demoTo("once.jsonl", append(args, "--pace", "max")...)
			assert.Less(t, once.worked, mostDemo)
			t.Logf("%s at the highest pace: %v, %v of them worked", name,
				once.took.Round(10*time.Millisecond), once.worked.Round(10*time.Millisecond))
			f := readWhole(t, filepath.Join(p.home, "once.jsonl"))
			require.NotNil(t, f.head.Seed)
			assert.EqualValues(t, 7, *f.head.Seed)
			f.done()
			f.soaks()
			f.creditKept()
			assert.Empty(t, f.events("trip"))
			f.answered(4)
			f.insideBand(c.profile)

			again := p.demoTo("again.jsonl", append(args, "--pace", "max")...)
			p.same("once.jsonl", "again.jsonl")
			assert.Equal(t, once.out, again.out)
			if c.pty || long() {
				again = p.demoTo("pty.jsonl", append(args, "--pace", fastPty)...)
				t.Logf("%s over the pseudo-terminal: %v", name, again.took.Round(10*time.Millisecond))
				p.same("once.jsonl", "pty.jsonl")
				assert.Equal(t, once.out, again.out)
			}
			p.replays("once.jsonl", once.out)
			left, err := os.ReadDir(filepath.Join(p.home, "tmp"))
			require.NoError(t, err)
			assert.Empty(t, left, "the demo takes its folder away")
		})
	}
}

// demoTo runs a demo that must go well and writes its run file into the person's home.
func (p *person) demoTo(name string, args ...string) told {
	p.t.Helper()
	g := p.pipes(append(args, "--out", filepath.Join(p.home, name))...)
	require.Equal(p.t, exitOK, g.code, "%s%s", g.out, g.bad)
	assert.Empty(p.t, g.bad)
	assert.True(p.t, strings.HasPrefix(g.out, "SIMULATED "), g.out)
	assert.NotContains(p.t, g.out, "\x1b", "lines of text have no escape codes")
	return g
}

// same says that two files of the person's hold the same bytes.
func (p *person) same(one, other string) {
	p.t.Helper()
	a, err := os.ReadFile(filepath.Join(p.home, one))
	require.NoError(p.t, err)
	b, err := os.ReadFile(filepath.Join(p.home, other))
	require.NoError(p.t, err)
	if !bytes.Equal(a, b) {
		at := 0
		for at < min(len(a), len(b)) && a[at] == b[at] {
			at++
		}
		line := 1 + bytes.Count(a[:at], []byte("\n"))
		require.Fail(p.t, "run files differ", "%s and %s, first in line %d", one, other, line)
	}
}

// replays says that the replay of a run file prints exactly the lines of the live run, and
// leaves the file as it was.
func (p *person) replays(name, lines string) {
	p.t.Helper()
	path := filepath.Join(p.home, name)
	before, err := os.ReadFile(path)
	require.NoError(p.t, err)
	g := p.pipes("replay", path, "--plain", "--pace", "max")
	assert.Equal(p.t, exitOK, g.code)
	assert.Empty(p.t, g.bad)
	assert.Equal(p.t, lines, g.out)
	after, err := os.ReadFile(path)
	require.NoError(p.t, err)
	assert.True(p.t, bytes.Equal(before, after), "a replay changes nothing")
}

// answered says that so many waits came and that the simulated person answered each of them,
// and the end.
func (f *tape) answered(waits int) {
	f.t.Helper()
	assert.Len(f.t, f.events("wait"), waits)
	confirmed, told := 0, 0
	for _, a := range f.events("ask") {
		require.NotNil(f.t, a.Asked)
		assert.Equal(f.t, "simulated person", a.Asked.By)
		assert.Equal(f.t, "done", a.Word)
		switch a.Asked.Ask {
		case "confirm":
			confirmed++
		case "answer":
			told++
		}
	}
	assert.Equal(f.t, waits, confirmed)
	assert.Equal(f.t, 1, told)
}

// insideBand looks at the believed temperature while a soak's clock counts. The clock follows
// the modelled blade, which lags behind the air, so the air is given twice the band of 10 °F;
// that the credit is right is another test's business, this one says that the oven was at the
// profile's temperature at all: 400, 425 and 385 °F by common practice.
func (f *tape) insideBand(profile string) {
	f.t.Helper()
	at := map[string]float64{"small-knife": 400, "large-knife": 425, "kitchen": 385}[profile]
	want := (at - 32) / 1.8
	last, n := -1.0, 0
	for _, r := range f.recs {
		if r.Soak == nil {
			continue
		}
		if *r.Soak > last && last > 0 && r.T1 != nil {
			require.InDelta(f.t, want, *r.T1, 20/1.8, "%.2f s", r.T)
			n++
		}
		last = *r.Soak
	}
	// Two hours twice, four readings a second.
	assert.InDelta(f.t, 2*7200*4, n, 100)
}
