//go:build linux || darwin

package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestKilled kills the program with SIGKILL at random moments of a paced demo. What it had
// done by then is known from its standard output, which a profile makes it say something on
// about every second: whatever was said with more than a second of run time behind it must be in
// the file. The pace is 400 simulated seconds a second, so that a second of the run is 2.5 ms.
func TestKilled(t *testing.T) {
	t.Parallel()
	times := 20
	if long() {
		times = 200
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	dice := rand.New(rand.NewPCG(seed, 0))
	p := newWholePerson(t)
	hit, tore, unmade := 0, 0, 0
	worst := 0.0
	for i := range times {
		path := filepath.Join(p.home, fmt.Sprintf("run-%d.jsonl", i))
		// The run is 250 s long, which takes 0.6 s. Every fourth is killed while it starts or later,
		// the others once they have said something, however long that takes.
		after := upTo(dice, 500*time.Millisecond)
		lines, killed := p.killedAfter(after, i%4 != 0, path)
		if killed {
			hit++
		}
		data, err := os.ReadFile(path)
		if !bytes.Contains(data, []byte("\n")) { // none, or one that was killed in its first line
			require.Empty(t, lines, "nothing was said before there is a file")
			if !errors.Is(err, fs.ErrNotExist) {
				p.pipes("replay", path, "--plain").refused(t, exitData, path)
			}
			unmade++
			continue
		}
		require.NoError(t, err)
		f, lost := p.survives(path, lines)
		if f.torn > 0 {
			tore++
		}
		worst = max(worst, lost)
		require.NoError(t, os.Remove(path))
	}
	t.Logf("%d kills: %d hit a running program, %d of them before it had made its file; %d torn "+
		"tails; the most that was said and not in the file: %.2f s", times, hit, unmade, tore, worst)
	assert.Greater(t, hit-unmade, times/3, "the kills must hit runs")
}

// killedAfter starts a demo, kills it a time after its start, or after its first line, and gives the
// lines it had said. killed is false if it had ended before.
func (p *person) killedAfter(after time.Duration, spoken bool, path string) (lines []string,
	killed bool) {
	p.t.Helper()
	cmd := p.whole("demo", "--plain", "--pace", "400", "--seed", "7", "--out", path,
		"--profile", wholeData(p.t, "whole/many-events.toml"))
	out, err := cmd.StdoutPipe()
	require.NoError(p.t, err)
	require.NoError(p.t, cmd.Start())
	kill := func() { _ = cmd.Process.Kill() } // it may have ended
	all := bufio.NewReader(out)
	if spoken {
		_, _ = all.Peek(1)
	}
	timer := time.AfterFunc(after, kill)
	defer timer.Stop()
	for {
		line, err := all.ReadString('\n')
		if err != nil {
			break // a line that was cut is none
		}
		lines = append(lines, strings.TrimSuffix(line, "\n"))
	}
	_ = cmd.Wait() // the kill is its error
	return lines, !cmd.ProcessState.Exited()
}

// survives says that a killed run's file opens, in the replay too, that it says what it lost,
// and that it holds all that was said but for the last second. lost is how far, in seconds of
// the run, what was said and is not in the file lies beyond the file's last record.
func (p *person) survives(path string, lines []string) (f *tape, lost float64) {
	p.t.Helper()
	f = readTape(p.t, path)
	g := p.pipes("replay", path, "--plain", "--pace", "max")
	require.Equal(p.t, exitOK, g.code, g.bad)
	if f.torn > 0 {
		require.Contains(p.t, g.out+g.bad, "lost: ")
		require.Contains(p.t, g.out+g.bad, fmt.Sprintf("the last %d bytes", f.torn))
	} else {
		require.NotContains(p.t, g.out+g.bad, "lost: ")
	}
	there := strings.Split(strings.TrimSuffix(g.out, "\n"), "\n")
	last := 0.0
	if len(f.recs) > 0 {
		last = f.end()
	}
	for i, line := range lines {
		if i < len(there) && there[i] == line {
			continue
		}
		lost = max(lost, spokenTime(p.t, line)-last)
	}
	// A line's time is rounded to the second.
	require.LessOrEqual(p.t, lost, 1+0.5, "%s\n%s", lines[max(0, len(lines)-5):], g.out)
	return f, lost
}

// spokenTime reads the time at the start of an event's line, in seconds.
func spokenTime(t *testing.T, line string) float64 {
	t.Helper()
	var h, m, s int
	_, err := fmt.Sscanf(strings.TrimPrefix(line, "SIMULATED "), "%d:%d:%d ", &h, &m, &s)
	require.NoError(t, err, line)
	return float64(h*3600 + m*60 + s)
}
