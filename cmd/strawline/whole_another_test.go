//go:build linux || darwin

package main

import (
	"bufio"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/sim"
)

// TestAnotherBoardTakesThePort: the run's board is pulled out while it heats, and a second one,
// which runs on and does not start at an opening, gets its name. The run trips, says in one line
// what it found, and never heats through it, whatever is typed.
func TestAnotherBoardTakesThePort(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	dir, out := t.TempDir(), filepath.Join(p.home, "r.jsonl")
	first, path := boardIn(t, dir, sim.Config{Start: 38})
	cmd := p.whole(running("--at", "200C", "--for", "1h", "--port", path, "--out", out, "--plain")...)
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	stdout, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	require.Eventually(t, func() bool { return first.Truth().Output }, patience, 50e6, "no heat")
	require.NoError(t, first.Close())
	second, again := boardIn(t, dir, sim.Config{Start: 38, Name: "straw-two"})
	require.Equal(t, path, again)

	var said []string
	answers := []struct{ to, typed string }{{"trip, ", "acknowledge\nreset\n"},
		{"asked: reset", "go on\n"}, {"asked: go on", "stop\n"}}
	for lines := bufio.NewScanner(stdout); lines.Scan(); {
		said = append(said, lines.Text())
		if len(answers) > 0 && strings.Contains(lines.Text(), answers[0].to) {
			_, err := io.WriteString(in, answers[0].typed)
			require.NoError(t, err)
			answers = answers[1:]
		}
	}
	all := strings.Join(said, "\n")
	require.Error(t, cmd.Wait(), all)
	assert.Equal(t, exitTemporary, cmd.ProcessState.ExitCode(), all)
	const found = "found straw-two (MAX31855K, channels 1, ceiling 320 °C, start 1) in the place of " +
		"straw-sim (MAX31855K, channels 1, ceiling 320 °C, start 1)"
	assert.Contains(t, all, "link another board; "+found)
	assert.Contains(t, all, "trip, off wanted, the board is not reached: another board is on the "+
		"port: "+found)
	assert.Contains(t, all, "asked: reset; by typed; refused no good reading")
	assert.Contains(t, all, "asked: go on; by typed; refused reset first")
	assert.Empty(t, answers, all)
	assert.Zero(t, second.Truth().On)
	assert.Empty(t, readTape(t, out).events("go on"))
}

// TestProofOnALivePort: a board that a run heats by is not proved: the port is refused in one line,
// nothing is written, and the run heats on as if nobody had asked.
func TestProofOnALivePort(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	out := filepath.Join(p.home, "r.jsonl")
	board, path := boardIn(t, t.TempDir(), sim.Config{Start: 38})
	cmd := p.whole(running("--at", "200C", "--for", "1h", "--port", path, "--out", out, "--plain")...)
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	heats := func() bool { return board.Truth().Output }
	require.Eventually(t, heats, patience, 50e6, "no heat")
	found := filepath.Join(p.home, "proof.toml")
	p.pipes("probes", "proof", "--as-root", "--port", path, "--found", found).refused(t,
		exitTemporary, path+": another program has it")
	assert.NoFileExists(t, found)
	on := board.Truth().On
	require.Eventually(t, func() bool { return board.Truth().On > on+time.Second/2 }, patience, 50e6,
		"the run heats no more")
	_, err = io.WriteString(in, "stop\n")
	require.NoError(t, err)
	require.NoError(t, cmd.Wait())
	tape := readTape(t, out)
	assert.Len(t, tape.events("link"), 1)
	assert.Empty(t, tape.events("doubt"))
	assert.Empty(t, tape.events("board"))
}
