//go:build linux || darwin

package main

import (
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"strawline/probe/board"
	"strawline/probe/sim"
)

// The tests in the files crash_*_test.go end the built program in every way that it cannot see
// coming. The long ones are parts of .ci/long crash.

// kills is how many kills a test makes: some seconds' worth by itself, more in .ci/run, and what
// STRAWLINE_KILLS says.
func kills(t *testing.T, few, more int) int {
	t.Helper()
	if n, err := strconv.Atoi(os.Getenv("STRAWLINE_KILLS")); err == nil {
		return n
	}
	if long() {
		return more
	}
	return few
}

// crashSeed is 1000 and the part's number in .ci/long, else a new one each time.
func crashSeed(t *testing.T) uint64 {
	t.Helper()
	seed := rand.Uint64()
	if n, err := strconv.ParseUint(os.Getenv("STRAWLINE_PART"), 10, 64); err == nil {
		seed = 1000 + n
	}
	t.Logf("seed %d", seed)
	return seed
}

// pause waits.
func pause(d time.Duration) { <-time.After(d) }

// upTo is a random span below d.
func upTo(dice *rand.Rand, d time.Duration) time.Duration {
	return time.Duration(dice.Int64N(int64(d)))
}

// kiln is a simulated board on a pseudo-terminal that keeps the wall's time, and looks after every
// step of its own whether a person is behind the heat.
type kiln struct {
	t     *testing.T
	board *sim.Board
	path  string
	host  *os.File // the terminal that a program opens

	mu    sync.Mutex
	may   bool          // a person has said that there may be heat
	since time.Duration // on the board's clock: when nobody was there to command it any more
	was   sim.Truth
	wrong string        // heat that nobody is behind
	after time.Duration // the longest that heat went on after a kill
}

func newKiln(t *testing.T, cfg sim.Config) *kiln {
	t.Helper()
	k := &kiln{t: t, board: sim.New(cfg)}
	dir, err := os.MkdirTemp("", "strawline-kiln-") // a stranger may come here
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, os.RemoveAll(dir)) })
	require.NoError(t, os.Chmod(dir, 0o755))
	k.path, err = k.board.Pty(dir)
	require.NoError(t, err)
	require.NoError(t, os.Chmod(k.path, 0o666)) // of the terminal behind the link
	k.host, err = os.OpenFile(k.path, os.O_RDWR|syscall.O_NOCTTY, 0)
	require.NoError(t, err)
	t.Cleanup(func() {
		_ = k.host.Close()
		k.good()
	})
	onTheWallsTime(t, k.board, k.look)
	return k
}

// look judges the step that was just made.
func (k *kiln) look() {
	k.mu.Lock()
	defer k.mu.Unlock()
	truth := k.board.Truth()
	if truth.On > k.was.On && !k.may {
		// What was written before the kill counts as come at the step's beginning.
		k.after = max(k.after, truth.Now-k.since)
		if truth.Now > k.since+board.DeadManAfter+sim.Step {
			k.wrong = fmt.Sprintf("heat at %v of the board, and nobody said so since %v", truth.Now,
				k.since)
		}
	}
	k.was = truth
}

// said marks that a person lets there be heat.
func (k *kiln) said() {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.may = true
}

// alone marks that from now on nobody may have it heat.
func (k *kiln) alone() {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.may, k.since = false, k.board.Truth().Now
	// A driver forgets that a killed process had its port alone at the last close; a
	// pseudo-terminal does not while its other end is open. Root need not care.
	_ = unix.IoctlSetInt(int(k.host.Fd()), unix.TIOCNXCL, 0)
}

// passes waits until that much time has gone by for the board, which on a busy machine is behind
// the wall's.
func (k *kiln) passes(d time.Duration) {
	k.t.Helper()
	until := k.board.Truth().Now + d
	require.Eventually(k.t, func() bool { return k.board.Truth().Now >= until }, patience, sim.Step/4)
}

// longest is how long heat went on after a kill at most.
func (k *kiln) longest() time.Duration {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.after
}

// good says that there was no heat without a person.
func (k *kiln) good() {
	k.t.Helper()
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.wrong != "" {
		k.t.Error(k.wrong)
	}
}

// openTerminal opens a pseudo-terminal whose master goes away when it is closed, and not only when
// a read of it that waits comes back: that keeps the file of a blocking one open.
func openTerminal(t *testing.T, rows, cols uint16) (master, slave *os.File) {
	t.Helper()
	master, slave, err := pty.Open()
	require.NoError(t, err)
	require.NoError(t, pty.Setsize(master, &pty.Winsize{Rows: rows, Cols: cols}))
	require.NoError(t, unix.SetNonblock(int(master.Fd()), true)) // what came before made it block
	return master, slave
}

// blank is a terminal whose output is thrown away, or never read where it is deaf.
type blank struct {
	cmd    *exec.Cmd
	master *os.File
	ended  chan struct{}
}

// onTerminal starts the program as the leader of a session on a terminal of its own.
func (p *person) onTerminal(deaf bool, args ...string) *blank {
	p.t.Helper()
	master, slave := openTerminal(p.t, 24, 80)
	b := &blank{cmd: p.whole(args...), master: master, ended: make(chan struct{})}
	b.cmd.Stdin, b.cmd.Stdout, b.cmd.Stderr = slave, slave, slave
	b.cmd.SysProcAttr.Setsid, b.cmd.SysProcAttr.Setctty = true, true
	require.NoError(p.t, b.cmd.Start())
	require.NoError(p.t, slave.Close())
	if !deaf {
		go func() { _, _ = io.Copy(io.Discard, master) }() // ends with the terminal
	}
	go func() {
		_ = b.cmd.Wait() // how it ends is not what is looked at
		close(b.ended)
	}()
	return b
}

// signal sends one, to a process that may have ended.
func (b *blank) signal(s os.Signal) { _ = b.cmd.Process.Signal(s) }

// away kills it, if nothing else has ended it, and takes the terminal away.
func (b *blank) away() {
	b.signal(syscall.SIGKILL)
	_ = b.master.Close()
	<-b.ended
}
