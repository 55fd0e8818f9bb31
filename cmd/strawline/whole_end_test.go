//go:build linux || darwin

package main

import (
	"bufio"
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// heats waits until a run file has a sample that commands heat.
func heats(t *testing.T, path string) {
	t.Helper()
	require.Eventually(t, func() bool {
		data, err := os.ReadFile(path)
		return err == nil && bytes.Contains(data, []byte(`"duty_pm":700`)) // the first start, of which nothing is known
	}, patience, 5*time.Millisecond, "no heat in %s", path)
}

// endedEarly says that a run which was told to end is complete: stopped, heat off to the last
// record, closed.
func endedEarly(t *testing.T, path, why string) {
	t.Helper()
	f := readWhole(t, path)
	end := f.one("end")
	assert.Equal(t, "stopped", end.Word)
	assert.Contains(t, end.Text, why)
	f.heated(0, end.T)
	f.noHeat(end.T, f.end())
	f.one("closed")
	assert.Less(t, f.end()-end.T, 2.0)
}

// gone says that nothing is left of a session.
func gone(t *testing.T, leader int) {
	t.Helper()
	assert.ErrorIs(t, syscall.Kill(-leader, 0), syscall.ESRCH, "a process is left")
}

var ends = []syscall.Signal{syscall.SIGTERM, syscall.SIGINT, syscall.SIGHUP}

// TestSignalsInLines: the run ends with heat off, the file is complete, and the exit code is 128
// and the signal's number.
func TestSignalsInLines(t *testing.T) {
	t.Parallel()
	for _, sig := range ends {
		p := newWholePerson(t)
		path := filepath.Join(p.home, "run.jsonl")
		cmd := p.whole("demo", "--plain", "--pace", "100", "--out", path)
		cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true}
		var bad bytes.Buffer
		cmd.Stderr = &bad
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		heats(t, path)
		require.NoError(t, cmd.Process.Signal(sig))
		timer := time.AfterFunc(patience, func() { _ = cmd.Process.Kill() })
		var last string
		for lines := bufio.NewScanner(out); lines.Scan(); {
			last = lines.Text()
		}
		_ = cmd.Wait() // its code is looked at
		timer.Stop()
		assert.Equal(t, exitSignal+int(sig), cmd.ProcessState.ExitCode(), "%v: %s", sig, bad.String())
		assert.Regexp(t, `^strawline: demo: [^\n]*heat off commanded[^\n]*\n$`, bad.String())
		assert.Contains(t, last, "closed")
		endedEarly(t, path, sig.String())
		gone(t, cmd.Process.Pid)
		left, err := os.ReadDir(filepath.Join(p.home, "tmp"))
		require.NoError(t, err)
		assert.Empty(t, left)
	}
}

// TestSignalsOnATerminal: the same with a screen, which gives the terminal back.
func TestSignalsOnATerminal(t *testing.T) {
	t.Parallel()
	for _, sig := range ends {
		p := newWholePerson(t)
		path := filepath.Join(p.home, "run.jsonl")
		d := p.sitDown("demo", "--pace", "100", "--out", path)
		d.waits(dashboard...)
		heats(t, path)
		require.NoError(t, d.cmd.Process.Signal(sig))
		assert.Equal(t, exitSignal+int(sig), d.code(), "%v: %s", sig, d.err.String())
		d.restored()
		assert.Equal(t, 1, strings.Count(d.err.String(), "\n"), d.err.String())
		endedEarly(t, path, sig.String())
		gone(t, d.cmd.Process.Pid)
	}
}

// TestTerminalCloses: without its terminal the run ends with heat off. The kernel hangs up on
// the program, so that it ends as by that signal.
func TestTerminalCloses(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	path := filepath.Join(p.home, "run.jsonl")
	d := p.sitDown("demo", "--pace", "100", "--out", path)
	d.waits(dashboard...)
	heats(t, path)
	require.NoError(t, d.slave.Close())
	require.NoError(t, d.master.Close())
	assert.Equal(t, exitSignal+int(syscall.SIGHUP), d.code(), d.err.String())
	endedEarly(t, path, "")
	gone(t, d.cmd.Process.Pid)
}

// TestLeaving: leaving the screen asks first and then ends the run; no is no.
func TestLeaving(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	path := filepath.Join(p.home, "run.jsonl")
	d := p.sitDown("demo", "--pace", "10", "--out", path)
	d.waits(dashboard...)
	heats(t, path)
	d.keys("q")
	d.waits("leaving ends the run", "y/n")
	d.keys("n")
	d.waits("nothing was asked")
	d.keys("q")
	d.waits("leaving ends the run", "y/n")
	d.keys("y")
	assert.Equal(t, exitOK, d.code(), d.err.String())
	d.restored()
	endedEarly(t, path, "")
	gone(t, d.cmd.Process.Pid)
}
