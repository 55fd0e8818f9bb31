//go:build linux || darwin

package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/attach"
	"strawline/control/keeper"
	"strawline/probe/sim"
	"strawline/probe/temp"
)

// lane is one person whose keeper is killed again and again.
type lane struct {
	*person
	dice    *rand.Rand
	toll    *toll
	kiln    *kiln
	seat    seat
	door    attach.Door
	pid     int // of the keeper that is there
	view    *view
	screens []*blank // on terminals, and watch without one
	out     string   // run file of the run that goes on; "" if none does
	runs    int
	had     []byte // what the run file had at the last kill
	known   bool   // the run has begun: it must be found again
	fresh   bool   // no cut yet
}

// crashProfile soaks for longer than any test; from cold it heats to that soak first.
const crashProfile = `name = "crash"
limit = "230C"
[[step]]
soak = "10h"
at = "150C"
band = "30C"
`

// newLane makes a person with an oven. One that starts hot soaks from the first reading on, and
// some of these are so far below the setpoint that they heat hard meanwhile.
func newLane(t *testing.T, s *toll, seed, number uint64) *lane {
	t.Helper()
	p := newWholePerson(t)
	cfg := sim.Config{Seed: seed + number, Start: 38}
	if number%2 == 0 {
		cfg.Start = temp.C(130 + number%3*10)
	}
	l := &lane{person: p, dice: rand.New(rand.NewPCG(seed, number)), toll: s, kiln: newKiln(t, cfg)}
	l.write("crash.toml", crashProfile)
	l.sit(t)
	t.Cleanup(func() { // what the last kill has not met
		l.leave()
		for _, b := range l.screens {
			b.away()
		}
		for _, log := range []string{filepath.Join(l.home, "keep.log"), l.seat.log} {
			if text, err := os.ReadFile(log); err == nil && t.Failed() {
				t.Logf("%s: %s", log, text[max(0, len(text)-2000):])
			}
		}
		if pid := l.keeperPid(); pid != 0 {
			_ = syscall.Kill(pid, syscall.SIGKILL)
		}
	})
	return l
}

// sit finds where the person's keeper answers.
func (l *lane) sit(t *testing.T) {
	t.Helper()
	h := &host{env: l.command().Env}
	var err error
	l.seat, err = h.seat("")
	require.NoError(t, err)
	l.door = attach.Door{Path: l.seat.socket, Now: time.Now, Me: attach.Hello{Name: "test"}}
}

// keeperPid finds the keeper of this person's shop file; 0 if there is none.
func (l *lane) keeperPid() int {
	out, err := exec.Command("pgrep", "-f", "until-idle --shop "+l.seat.shop).Output()
	if err != nil {
		return 0
	}
	pid, _ := strconv.Atoi(strings.Fields(string(out))[0])
	return pid
}

// wakes starts the next keeper: by watch, as a person does, which starts one only where a run is
// unfinished, or by hand. It comes back at once.
func (l *lane) wakes(byWatch bool) {
	l.t.Helper()
	if byWatch {
		b := l.onTerminal(false, "watch", "--plain")
		l.screens = append(l.screens, b)
		waitFor(patience, func() bool {
			select {
			case <-b.ended:
				l.pid = l.keeperPid()
				return true
			default:
				l.pid = l.keeperPid()
				return l.pid != 0
			}
		})
		if l.pid != 0 { // a run that was cut off before its first step is none
			return
		}
	}
	args := []string{"keep", "--until-idle", "--shop", l.seat.shop}
	if os.Geteuid() == 0 {
		args = append(args, "--as-root")
	}
	cmd := l.whole(args...)
	log, err := os.OpenFile(filepath.Join(l.home, "keep.log"),
		os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	require.NoError(l.t, err)
	defer log.Close()
	cmd.Stdout, cmd.Stderr = log, log
	require.NoError(l.t, cmd.Start())
	go func() { _ = cmd.Wait() }() // it is killed
	l.pid = cmd.Process.Pid
}

// job is a new run, of the next run file.
func (l *lane) job() attach.Job {
	l.runs++
	l.out = filepath.Join(l.home, fmt.Sprintf("run-%d.jsonl", l.runs))
	l.had, l.known = nil, false
	job := attach.Job{Folder: l.home, Env: l.command().Env,
		Args: running("crash.toml", "--port", l.kiln.path, "--out", l.out)[1:]}
	return job
}

// begins asks the keeper for a new run, and gives what tells that it has begun.
func (l *lane) begins(ctx context.Context) <-chan error {
	job := l.job()
	l.kiln.said()
	done := make(chan error, 1)
	go func() {
		var err error
		for ctx.Err() == nil {
			var no *attach.Refusal
			_, err = l.door.Start(ctx, job)
			// A run that was cut off before its first step has the port until that is seen.
			if !errors.Is(err, attach.ErrNobody) && !(errors.As(err, &no) && no.Code == exitTemporary) {
				break
			}
			pause(10 * time.Millisecond)
		}
		done <- err
	}()
	return done
}

// view is a screen of the lane's that keeps the newest that it was shown.
type view struct {
	w     *attach.Watcher
	leave context.CancelFunc
	done  chan struct{}
	mu    sync.Mutex
	last  control.Snapshot
	many  int
}

// looks attaches a screen; false if the keeper lists no run, or does not answer in time.
func (l *lane) looks() bool {
	l.t.Helper()
	ctx, cancel := context.WithCancel(l.t.Context())
	v := &view{leave: cancel, done: make(chan struct{})}
	waitFor(patience, func() bool {
		hello, err := l.door.Look(ctx)
		if err != nil {
			return false
		}
		if len(hello.Runs) == 0 {
			return true
		}
		v.w, err = l.door.Watch(ctx, "")
		return err == nil
	})
	if v.w == nil {
		cancel()
		return false
	}
	go func() {
		defer close(v.done)
		for {
			s, err := v.w.Next(ctx)
			if err != nil {
				return
			}
			v.mu.Lock()
			v.last = s
			v.many++
			v.mu.Unlock()
		}
	}()
	l.view = v
	return true
}

// leave takes the lane's screen away.
func (l *lane) leave() {
	if l.view != nil {
		l.view.leave()
		l.view.w.Close()
		<-l.view.done
		l.view = nil
	}
}

// shown waits until the screen shows something, at most so long.
func (v *view) shown(limit time.Duration, ok func(control.Snapshot) bool) bool {
	is := func() bool {
		v.mu.Lock()
		defer v.mu.Unlock()
		return v.many > 0 && ok(v.last)
	}
	waitFor(limit, is)
	return is()
}

// asks sends what a person asks.
func (v *view) asks(kinds ...control.AskKind) {
	for _, k := range kinds {
		v.w.Ask(control.Ask{Kind: k})
	}
}

// goesOn acknowledges, resets and goes on until the run does, as a person who was refused asks
// again.
func (l *lane) goesOn() bool {
	l.kiln.said()
	runs := func(s control.Snapshot) bool { return s.Phase == control.PhaseRunning }
	for range 20 {
		l.view.asks(control.AskAcknowledge, control.AskReset, control.AskGoOn)
		if l.view.shown(600*time.Millisecond, runs) {
			return true
		}
	}
	return false
}

// dies kills the keeper and waits until nothing of it is left, and gives what the screen had last
// been shown. Nobody is killed where a keeper that had nothing to keep has ended.
func (l *lane) dies() (last control.Snapshot, at time.Time, killed bool) {
	l.t.Helper()
	err := syscall.Kill(l.pid, syscall.SIGKILL)
	at = time.Now()
	l.kiln.alone()
	if err != nil {
		require.ErrorIs(l.t, err, syscall.ESRCH)
	}
	if v := l.view; v != nil {
		waitFor(time.Second, func() bool { // what was on its way
			_, err := l.door.Look(l.t.Context())
			return err != nil
		})
		v.mu.Lock()
		last = v.last
		v.mu.Unlock()
	}
	l.leave()
	for _, b := range l.screens {
		b.away()
	}
	l.screens = nil
	for calm := 0; calm < 2; { // a screen that was just attaching may have started another keeper
		if pid := l.keeperPid(); pid != 0 {
			_ = syscall.Kill(pid, syscall.SIGKILL)
			calm = -1
		}
		calm++
	}
	return last, at, err == nil
}

// kept says whether the list of unfinished runs is whole, and has the lane's.
func (l *lane) kept() bool {
	l.t.Helper()
	list, err := keeper.ReadKept(l.seat.kept)
	require.NoError(l.t, err)
	for _, u := range list {
		if u.Out == l.out {
			return true
		}
	}
	return false
}

// heatingLane is a lane of its own whose run has begun, is looked at and heats.
func heatingLane(t *testing.T, seed uint64) *lane {
	t.Helper()
	l := newLane(t, &toll{}, seed, 1)
	l.wakes(false)
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	require.NoError(t, <-l.begins(ctx))
	require.True(t, l.looks())
	require.True(t, l.view.shown(patience, lotHeats))
	return l
}
