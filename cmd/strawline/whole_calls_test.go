//go:build linux || darwin

package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/sim"
)

// heard counts what a terminal got besides pictures: bells outside of any sequence, titles and
// notifications. It reads the bytes as ECMA-48 has them and shares no code with the program.
func (d *desk) heard() (bells int, titles, notes []string) {
	d.mu.Lock()
	rest := d.all.String()
	d.mu.Unlock()
	for rest != "" {
		i := strings.IndexAny(rest, "\a\x1b")
		if i < 0 || i+1 == len(rest) {
			break
		}
		if rest = rest[i:]; rest[0] == '\a' {
			bells, rest = bells+1, rest[1:]
			continue
		}
		if rest[1] != ']' { // CSI: to its final byte
			n := strings.IndexFunc(rest[2:], func(r rune) bool { return r >= '@' && r <= '~' })
			rest = rest[2+max(0, n):]
			continue
		}
		osc, after, whole := strings.Cut(rest[2:], "\x1b\\")
		if !whole {
			break
		}
		rest = after
		assert.NotContains(d.t, osc, "\a")
		assert.NotContains(d.t, osc, "\x1b")
		if t, is := strings.CutPrefix(osc, "2;"); is {
			titles = append(titles, t)
		} else if t, is := strings.CutPrefix(osc, "9;"); is {
			notes = append(notes, t)
		}
	}
	return bells, titles, notes
}

// TestScreensCall: two screens of one kept run ring, title and notify by the shop file of its
// keeper, and give the title back. One that was begun before the file said so does none of it, nor
// do lines of text.
func TestScreensCall(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	p.tidy()
	out := filepath.Join(p.home, "r.jsonl")
	path := boardOnPty(t, sim.Config{Start: 38, Blade: true})
	quiet := p.sitDown(running("--at", "40C", "--for", "1h", "--band", "3C", "--port", path,
		"--out", out)...)
	quiet.waits("YOUR TURN", "link up")

	folder := filepath.Join(p.home, "config", "strawline")
	require.NoError(t, os.MkdirAll(folder, 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "shop.toml"),
		[]byte("bell = true\ntitle = true\nnotify = true\n"), 0o600))
	loud := []*desk{p.sitDown("watch"), p.sitDown("watch")}
	for _, d := range loud {
		d.waits("YOUR TURN", "link up")
	}
	loud[0].keys("h")
	for _, d := range append(loud, quiet) {
		d.waits("TRIPPED", "g go on")
	}
	loud[1].keys("s")
	loud[1].waits("silenced")
	lines := p.pipes("stop")
	require.Equal(t, exitOK, lines.code, lines.bad)
	for _, d := range append(loud, quiet) {
		d.waits("closed: stopped by a person")
	}
	for _, d := range append(loud, quiet) {
		d.keys("q")
		d.code()
		d.restored()
	}
	for _, d := range loud {
		bells, titles, notes := d.heard()
		assert.Len(t, notes, bells, "each rings")
		notes = slices.DeleteFunc(notes, func(n string) bool { // where this machine stood still
			return strings.Contains(n, "no news from the run")
		})
		require.Len(t, notes, 3, "the wait, the trip, the end")
		assert.Contains(t, notes[0], "Strawline, temper: YOUR TURN, blade in")
		assert.Contains(t, notes[1], "TRIPPED, the heat was taken away for good")
		assert.Contains(t, notes[2], "the run has ended, heat off commanded: stopped by a person")
		require.NotEmpty(t, titles)
		assert.Contains(t, titles[0], "YOUR TURN")
		all := d.all.String()
		assert.Equal(t, 1, strings.Count(all, "\x1b[22;0t"))
		assert.Greater(t, strings.Index(all, "\x1b[23;0t"), strings.LastIndex(all, "\x1b]2;"))
	}
	bells, titles, notes := quiet.heard()
	assert.Zero(t, bells)
	assert.Empty(t, append(titles, notes...))
	assert.NotContains(t, quiet.all.String(), "0t")
	assert.NotContains(t, lines.out+lines.bad, "\a")
	assert.NotContains(t, lines.out+lines.bad, "\x1b")
}

// TestAFaultyShopFileCostsTheBellOnly: the screen comes up, and says what it does not do.
func TestAFaultyShopFileCostsTheBellOnly(t *testing.T) {
	t.Parallel()
	p := newPerson(t)
	var said strings.Builder
	h := &host{env: p.command().Env, err: &said}
	assert.Zero(t, h.calls(filepath.Join(p.home, "none.toml")))
	assert.Empty(t, said.String(), "no shop file is no fault")
	assert.Zero(t, h.calls(p.write("bad.toml", "bell = 1\n")))
	assert.Contains(t, said.String(), "no bell, title or notification: shop file")
	assert.Contains(t, said.String(), "line 1, column 1: bell")
	assert.Equal(t, 1, strings.Count(said.String(), "\n"))
	assert.True(t, h.calls(p.write("good.toml", "bell = true\n")).Bell)
}

// TestALoadLeftBehindIsSaid: of a run that is stopped with its blade in, by whoever stops it, by a
// screen, by the shop file's own command and in lines of text.
func TestALoadLeftBehindIsSaid(t *testing.T) {
	t.Parallel()
	const in = "the blade is still in the oven, as far as is known"
	p := newWholePerson(t)
	p.tidy()
	folder := filepath.Join(p.home, "config", "strawline")
	require.NoError(t, os.MkdirAll(folder, 0o700))
	rung := filepath.Join(p.home, "rung")
	ring := p.write("ring", "#!/bin/sh\ncat >>"+rung+"\n")
	require.NoError(t, os.Chmod(ring, 0o700))
	path := boardOnPty(t, sim.Config{Start: 70, Blade: true})
	require.NoError(t, os.WriteFile(filepath.Join(folder, "shop.toml"), []byte(`on_done = ["`+ring+
		"\"]\n"+kilnShop(path)), 0o600))
	d := p.sitDown(running("--at", "72C", "--for", "1h", "--band", "3C",
		"--out", filepath.Join(p.home, "r.jsonl"))...)
	d.waits("YOUR TURN", "link up")
	d.keys("c")
	d.waits("done? blade in")
	d.keys("y")
	d.waits("step 3 of 4")
	stopped := p.pipes("stop")
	require.Equal(t, exitOK, stopped.code, stopped.bad)
	assert.Contains(t, stopped.out, "heat off commanded; "+in+"; the oven still reads 7")
	d.waits("take the blade out, in as far as is known", "the oven still reads 7")
	d.keys("q")
	d.code()
	d.said("heat off commanded; " + in)
	var text []byte
	require.Eventually(t, func() bool {
		var err error
		text, err = os.ReadFile(rung)
		return err == nil && strings.HasSuffix(string(text), "\n")
	}, patience, 5e6)
	assert.Contains(t, string(text), `"blade_in":true`)
	assert.Contains(t, string(text), "stopped by a person; heat off commanded; "+in)

	lines := p.pipes("replay", "--plain", filepath.Join(p.home, "r.jsonl"))
	assert.Contains(t, lines.out, "end: stopped, heat off commanded; stopped by a person; "+in+"; the oven")
}
