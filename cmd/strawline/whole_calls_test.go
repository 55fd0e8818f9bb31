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
