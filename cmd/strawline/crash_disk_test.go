//go:build linux || darwin

package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/sim"
)

// readOnly makes a folder of the person's that nothing can be made in.
func (p *person) readOnly(name string) {
	p.t.Helper()
	path := filepath.Join(p.home, filepath.FromSlash(name))
	require.NoError(p.t, os.MkdirAll(path, 0o755))
	p.theirs()
	require.NoError(p.t, os.Chmod(path, 0o500))
	p.t.Cleanup(func() { _ = os.Chmod(path, 0o700) }) // so that it can be taken away
}

// TestReadOnlyFolders: where the program's folders cannot be written, it says so in one line with
// a code of its own, and nothing is heated.
func TestReadOnlyFolders(t *testing.T) {
	t.Parallel()
	k := newKiln(t, sim.Config{Start: 150}) // it says when it heats, since nobody may
	run := []string{"run", "crash.toml", "--port", k.path}
	plain := append(run, "--plain")
	for _, c := range []struct {
		name, folder string
		plain        bool
		words        []string
	}{
		{"state", "state", false, []string{"permission denied", "XDG_STATE_HOME"}},
		{"state2", "state/strawline", false, []string{"start the keeper", "permission denied"}},
		{"data", "data", false, []string{"permission denied", "--out"}},
		{"data2", "data/strawline/runs", false, []string{"no right to"}},
		{"data3", "data", true, []string{"permission denied", "--out"}},
		{"data4", "data/strawline/runs", true, []string{"no right to"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := bound(t)
			p.tidy()
			p.readOnly(c.folder)
			if c.plain {
				p.pipes(plain...).refused(t, exitCannotMake, c.words...)
				return
			}
			p.refusedOnATerminal(exitCannotMake, run, c.words...)
		})
	}
}

// TestFoundInAReadOnlyFolder: what a run or a tuning test found and cannot keep is told, and the
// run itself is whole.
func TestFoundInAReadOnlyFolder(t *testing.T) {
	t.Parallel()
	k := newKiln(t, sim.Config{Start: 150})
	k.said()
	p := bound(t)
	p.tidy()
	p.write("config/strawline/shop.toml", kilnShop(k.path))
	p.readOnly("config/strawline")
	out := filepath.Join(p.home, "r.jsonl")
	d := p.sitDown("run", "crash.toml", "--out", out)
	d.waits("step 1 of", "link up")
	require.Eventually(t, func() bool {
		text, err := os.ReadFile(out)
		return err == nil && bytes.Count(text, []byte(`"duty_pm":`)) > 8
	}, patience, 50*time.Millisecond)
	told := p.pipes("stop")
	require.Equal(t, exitOK, told.code, told.bad)
	require.Contains(t, told.bad, "strawline: run: locking found file: ")
	require.Contains(t, told.bad, "permission denied")
	require.Equal(t, 1, strings.Count(told.bad, "\n"), told.bad)
	d.keys("q")
	require.Equal(t, exitOK, d.code())
	require.Contains(t, d.err.String(), "permission denied", "whoever watched hears of it too")
	endedKept(t, out, "stopped by a person").steps()
}

// TestGainsInAReadOnlyFolder: gains that were asked to be kept and cannot be are one line and a code.
func TestGainsInAReadOnlyFolder(t *testing.T) {
	t.Parallel()
	p := bound(t)
	p.readOnly("found")
	told := p.pipes("tune", "--simulated", "--found", filepath.Join(p.home, "found", "found.toml"))
	require.Equal(t, exitIO, told.code)
	require.Contains(t, told.bad, "strawline: tune: keep the model in ")
	require.Contains(t, told.bad, "permission denied")
	require.Equal(t, 1, strings.Count(told.bad, "\n"), told.bad)
}
