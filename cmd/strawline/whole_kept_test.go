//go:build linux || darwin

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/sim"
)

// keptRun is the command line of a run that outlives its screen, on a board that keeps the wall's
// time.
func keptRun(t *testing.T, out string) []string {
	t.Helper()
	return keptRunOn(boardOnPty(t, sim.Config{Start: 38, Blade: true}), out)
}

func keptRunOn(path, out string) []string {
	return running("--at", "150C", "--for", "1h", "--band", "5C", "--port", path, "--out", out)
}

// tidy ends what keeper a person's runs have left.
func (p *person) tidy() {
	p.t.Cleanup(func() {
		stop := p.command("stop")
		end := exec.Command(stop.Path, stop.Args[1:]...) // the test's own context is over by now
		end.Env, end.SysProcAttr = stop.Env, stop.SysProcAttr
		_ = end.Run() // none is left where all went well
		var out []byte
		gone := func() bool {
			var err error
			out, err = exec.Command("pgrep", "-f", p.home).Output()
			return err != nil || len(out) == 0
		}
		if assert.Eventually(p.t, gone, patience, 50e6, "a keeper is left") {
			return
		}
		for _, id := range strings.Fields(string(out)) { // it would disturb the next test's board
			if pid, err := strconv.Atoi(id); err == nil {
				_ = syscall.Kill(pid, syscall.SIGKILL)
			}
		}
	})
}

// TestARunOutlivesItsScreen: leaving it, hanging up on it and killing it stop nothing; a second
// screen sees the past; stop ends the run, with its heater off and its file whole.
func TestARunOutlivesItsScreen(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	p.tidy()
	out := filepath.Join(p.home, "r.jsonl")
	d := p.sitDown(keptRun(t, out)...)
	d.waits("step 1 of", "link up")
	heats(t, out)
	d.keys("q")
	assert.Equal(t, exitOK, d.code(), d.err.String())
	d.restored()
	d.said("goes on; strawline watch")

	d = p.sitDown("watch")
	d.waits("step 1 of", "link up")
	require.NoError(t, d.slave.Close())
	require.NoError(t, d.master.Close())
	assert.Equal(t, exitSignal+int(syscall.SIGHUP), d.code(), d.err.String())

	d = p.sitDown("watch")
	d.waits("step 1 of", "link up")
	require.NoError(t, d.cmd.Process.Signal(syscall.SIGKILL))
	<-d.ended

	other := p.sitDown("watch")
	other.waits("step 1 of", "link up")
	told := p.pipes("stop")
	assert.Equal(t, exitOK, told.code, told.bad)
	assert.Contains(t, told.out, "stopped by a person; heat off commanded; run file "+out)
	other.waits("ENDED", "closed: stopped by a person")
	other.keys("q")
	assert.Equal(t, exitOK, other.code(), other.err.String())
	f := endedKept(t, out, "stopped by a person")
	f.steps()
}

// said waits until the program, which has ended, has said so on its terminal.
func (d *desk) said(words string) {
	d.t.Helper()
	assert.Eventually(d.t, func() bool {
		d.mu.Lock()
		defer d.mu.Unlock()
		return strings.Contains(d.all.String(), words)
	}, patience, 10e6, words)
}

// endedKept says that a kept run which was told to end is complete: stopped, heat off to the last
// record, closed.
func endedKept(t *testing.T, path, why string) *tape {
	t.Helper()
	f := readTape(t, path)
	require.Zero(t, f.torn)
	end := f.one("end")
	assert.Equal(t, "stopped", end.Word)
	assert.Contains(t, end.Text, why)
	f.heated(0, end.T)
	f.noHeat(end.T, f.end())
	f.one("closed")
	return f
}

// steps says that the loop of a run that was not disturbed missed none of its steps: a board says
// four readings a second, and no two are further apart than two of them, unless the machine stood
// still meanwhile.
func (f *tape) steps() {
	f.t.Helper()
	before, stood := 0.0, machine.longest(f.head.Start).Seconds()
	for _, r := range f.samples(0, f.end()) {
		assert.Less(f.t, r.T-before, 0.75+stood, "a hole at %v s", r.T)
		before = r.T
	}
	if stood < 0.5 { // a doubt needs 1.5 s without a reading
		assert.Empty(f.t, f.events("doubt"))
	}
}

// TestKeeperIsTold: SIGTERM to the keeper ends its runs with the heater off, and the screens hear
// how.
func TestKeeperIsTold(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	k := p.whole("keep", "--as-root")
	log, err := os.Create(filepath.Join(p.home, "keep.log"))
	require.NoError(t, err)
	k.Stderr = log
	require.NoError(t, k.Start())
	require.Eventually(t, func() bool {
		text, err := os.ReadFile(log.Name())
		return err == nil && strings.Contains(string(text), "is there")
	}, patience, 10e6)
	p.pipes("watch").refused(t, exitNoInput, "no run goes on")
	p.pipes("stop").refused(t, exitNoInput, "none goes on")
	p.pipes("keep", "--as-root").refused(t, exitTemporary, "another keeper")

	out := filepath.Join(p.home, "r.jsonl")
	args := keptRun(t, out)
	d := p.sitDown(args...)
	d.waits("step 1 of", "link up")
	heats(t, out)
	again := p.sitDown(args...)
	assert.Equal(t, exitCannotMake, again.code(), "its file exists")
	args[len(args)-1] = filepath.Join(p.home, "r2.jsonl")
	again = p.sitDown(args...)
	assert.Equal(t, exitTemporary, again.code())
	assert.Contains(t, again.err.String(), "watch it, or stop it first")

	require.NoError(t, k.Process.Signal(syscall.SIGTERM))
	require.NoError(t, k.Wait())
	d.waits("the program was told to end")
	d.keys("q")
	assert.Equal(t, exitOK, d.code(), d.err.String())
	d.said("heat off commanded; run file")
	endedKept(t, out, "terminated")
	p.pipes("watch").refused(t, exitUnavailable, "no keeper answers")
	left, err := filepath.Glob(filepath.Join(p.home, "state", "strawline", "*"))
	require.NoError(t, err)
	require.Len(t, left, 1, "the lock's file and nothing else: %v", left)
}

// TestAKilledKeeperIsRecoveredFrom: after kill -9 of the keeper, watch starts another, which takes
// the run up in the same file; there is no heat until a person acknowledges, resets and goes on.
func TestAKilledKeeperIsRecoveredFrom(t *testing.T) {
	t.Parallel()
	p := newWholePerson(t)
	p.tidy()
	out := filepath.Join(p.home, "r.jsonl")
	k := newKiln(t, sim.Config{Start: 38, Blade: true})
	k.said()
	d := p.sitDown(keptRunOn(k.path, out)...)
	d.waits("step 1 of", "link up")
	heats(t, out)
	p.killKeeper()
	k.alone()
	d.keys("q")
	require.Equal(t, exitOK, d.code(), d.err.String())
	before := readTape(t, out).end()

	d = p.sitDown("watch")
	d.waits("TRIPPED", "the keeper ended")
	k.said()
	// A question is withdrawn when the run moves on meanwhile, and a reset is refused before three
	// good readings: then a person asks again.
	for _, step := range [][2]string{{"a", `"ask":"acknowledge"`}, {"r", `"event":"reset"`},
		{"g", `"event":"go on"`}} {
		done := func() bool {
			text, err := os.ReadFile(out)
			return err == nil && strings.Contains(string(text), step[1])
		}
		for range 10 {
			if done() {
				break
			}
			d.keys(step[0])
			waitFor(patience, func() bool { return strings.Contains(d.shown(), "y/n") })
			d.keys("y")
			waitFor(4*time.Second, done)
		}
		require.True(t, done(), step[1])
	}
	require.Eventually(t, func() bool {
		f := readTape(t, out)
		goOn := f.events("go on")
		if len(goOn) != 1 {
			return false
		}
		for _, r := range f.samples(goOn[0].T, f.end()) {
			if *r.Duty > 0 {
				return true
			}
		}
		return false
	}, patience, 50e6, "heat comes back when a person says so")
	told := p.pipes("stop")
	assert.Equal(t, exitOK, told.code, told.bad)
	f := readTape(t, out)
	// The step that takes the person's word may heat already.
	f.noHeat(before+0.001, f.one("go on").T-0.001)
	assert.Len(t, f.events("lost"), 1)
	assert.Len(t, f.events("gap"), 1)
	f.one("closed")
}

// killKeeper kills the keeper of this person's shop file, and nothing else, with SIGKILL.
func (p *person) killKeeper() {
	p.t.Helper()
	logs, err := filepath.Glob(filepath.Join(p.home, "state", "strawline", "keeper-*.log"))
	require.NoError(p.t, err)
	require.Len(p.t, logs, 1)
	text, err := os.ReadFile(logs[0])
	require.NoError(p.t, err)
	found := regexp.MustCompile(`process (\d+)`).FindAllStringSubmatch(string(text), -1)
	require.NotEmpty(p.t, found)
	pid, err := strconv.Atoi(found[len(found)-1][1])
	require.NoError(p.t, err)
	require.NoError(p.t, syscall.Kill(pid, syscall.SIGKILL))
}
