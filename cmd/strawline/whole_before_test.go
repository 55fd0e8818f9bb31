//go:build linux || darwin

package main

import (
	"bufio"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control/shop"
	"strawline/probe/sim"
)

// TestAnOddRunAsksFirst: on a terminal, with a screen and in lines; anything but a yes heats
// nothing, and a yes goes on, here to a port that is not there.
func TestAnOddRunAsksFirst(t *testing.T) {
	t.Parallel()
	for _, plain := range []bool{false, true} {
		for answer, code := range map[string]int{"n\n": exitTemporary, "\n": exitTemporary,
			"go\n": exitTemporary, "y\n": exitUnavailable, "Y\n": exitUnavailable} {
			p := newWholePerson(t)
			p.tidy()
			args := running("--at", "400C", "--for", "1h", "--limit", "450C", "--steel", "1084",
				"--port", filepath.Join(p.home, "none"))
			if plain {
				args = append(args, "--plain")
			}
			d := p.sitDown(args...)
			d.keys(answer) // it is read when it is asked for
			assert.Equal(t, code, d.code(), "%q: %s", answer, d.err.String())
			for _, w := range []string{"peak 400 °C (752 °F)", "1084", "\n  look twice: ",
				"400 °F (204 °C) would be an ordinary temper", "\nHeat all the same? y/n: "} {
				assert.Contains(t, d.err.String(), w)
			}
			assert.Equal(t, 1, strings.Count(d.err.String(), "Heat all the same?"))
			if code == exitTemporary {
				assert.Contains(t, d.err.String(), "not confirmed; nothing was heated\n")
			}
		}
	}
}

// TestAnOddRunWithNobodyThere is refused in one line that names the option; with it the run goes
// on, here to a port that is not there. An ordinary run is never asked about.
func TestAnOddRunWithNobodyThere(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	odd := running("--at", "400C", "--for", "1h", "--limit", "450C",
		"--port", filepath.Join(p.home, "none"))
	p.pipes(odd...).refused(t, exitNoInput, "nobody is there to be asked", "400 °F (204 °C)",
		"nothing was heated; --yes answers beforehand")
	g := p.pipes(append(odd, "--yes")...)
	assert.Equal(t, exitUnavailable, g.code, g.bad)
	// 222 °C makes a limit of 247 °C, 3 °C below the oven's: asked about only where the person gave
	// a limit.
	near := running("--at", "222C", "--for", "1h", "--port", filepath.Join(p.home, "none"))
	p.pipes(append(near, "--limit", "250C")...).refused(t, exitNoInput,
		"the profile's limit, 247 °C (477 °F), is within 5 °C of the oven's, 250 °C (482 °F)")
	for _, args := range [][]string{{"small-knife"}, {"--at", "400F", "--for", "1h"},
		{"--at", "222C", "--for", "1h"},
		{"--at", "400C", "--for", "1h", "--limit", "450C", "--no-heater"}} {
		g := p.pipes(running(append(args, "--port", filepath.Join(p.home, "none"))...)...)
		assert.Equal(t, exitUnavailable, g.code, g.bad)
	}
}

// TestARunOnABoardThatFailedItsProof is one that a person is asked about.
func TestARunOnABoardThatFailedItsProof(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	port := filepath.Join(p.home, "none")
	path := shop.FoundPath((&host{env: p.command().Env}).shopPath(""))
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
	require.NoError(t, shop.NewStore(path).Update(func(f *shop.Found) error {
		f.ProofDeadMen = shop.PutProof(nil, shop.Entry[shop.Proof]{Of: "straw-uno",
			Date: shop.Date{Year: 2026, Month: 11, Day: 20}, Value: shop.Proof{Result: shop.Failed,
				Board: "straw-uno", Port: port}})
		return nil
	}))
	args := running("small-knife", "--port", port)
	p.pipes(args...).refused(t, exitNoInput, "the board's dead man FAILED its last proof",
		"nothing was heated")
	assert.Equal(t, exitUnavailable, p.pipes(append(args, "--yes")...).code)
	assert.Equal(t, exitUnavailable, p.pipes(running("small-knife", "--port", port+"-2")...).code)
}

// TestWhatARunIsGoingToDo stands on the screen when it comes up and in lines of text; what was odd
// stands in the run file.
func TestWhatARunIsGoingToDo(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	p.tidy()
	path := boardOnPty(t, sim.Config{Start: 38})
	out := filepath.Join(p.home, "r.jsonl")
	d := p.sitDown(running("--at", "204F", "--for", "1h", "--port", path, "--out", out)...)
	d.keys("y\n")
	d.waits("temper: peak 204 °F (96 °C), about 1h", "the oven's limit 482 °F (250 °C)", "link up")
	told := p.pipes("stop")
	assert.Equal(t, exitOK, told.code, told.bad)
	f := readTape(t, out)
	assert.Contains(t, f.one("note").Text, "begun all the same: the peak, 204 °F (96 °C), is below any")

	path = boardOnPty(t, sim.Config{Start: 38})
	out = filepath.Join(p.home, "s.jsonl")
	cmd := p.whole(running("--at", "400F", "--for", "1h", "--port", path, "--out", out, "--plain")...)
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	lines, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	read := bufio.NewScanner(lines)
	require.True(t, read.Scan())
	assert.Contains(t, read.Text(), "temper: peak 400 °F (204 °C), about")
	_, err = in.Write([]byte("stop\n"))
	require.NoError(t, err)
	for read.Scan() {
		assert.NotContains(t, read.Text(), "peak")
	}
	require.NoError(t, cmd.Wait())
	assert.Empty(t, readTape(t, out).events("note"))
}
