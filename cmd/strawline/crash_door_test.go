//go:build linux || darwin

package main

import (
	"errors"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/sim"
)

// refusedOnATerminal runs the program on a terminal and says that it ends with one line and a code.
func (p *person) refusedOnATerminal(code int, args []string, words ...string) {
	p.t.Helper()
	d := p.sitDown(args...)
	got := d.code()
	told{bad: d.err.String(), code: got}.refused(p.t, code, words...)
}

// TestWhatIsInTheSocketsWay: each thing that can stand where the keeper's socket goes is named in
// one line, left alone, and nothing is heated; what a killed keeper left is no hindrance.
func TestWhatIsInTheSocketsWay(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		put  func(path string) error
		word string
	}{
		{"file", func(p string) error {
			return os.WriteFile(p, []byte("mine"), 0o600)
		}, "stands in its way"},
		{"folder", func(p string) error { return os.Mkdir(p, 0o700) }, "stands in its way"},
		{"link", func(p string) error {
			return os.Symlink(filepath.Join(filepath.Dir(p), "else"), p)
		}, "stands in its way"},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := &lane{person: newWholePerson(t)}
			l.sit(t)
			require.NoError(t, os.MkdirAll(filepath.Dir(l.seat.socket), 0o700))
			require.NoError(t, os.WriteFile(filepath.Join(filepath.Dir(l.seat.socket), "else"),
				[]byte("mine"), 0o600))
			require.NoError(t, c.put(l.seat.socket))
			k := newKiln(t, sim.Config{Start: 150}) // it says when it heats, since nobody may
			l.write("crash.toml", crashProfile)
			run := running("crash.toml", "--port", k.path)
			l.refusedOnATerminal(exitCannotMake, run, c.word, l.seat.socket)
			keep := []string{"keep", "--until-idle"}
			if os.Geteuid() == 0 {
				keep = append(keep, "--as-root")
			}
			l.pipes(keep...).refused(t, exitCannotMake, c.word, l.seat.socket)
			info, err := os.Lstat(l.seat.socket)
			require.NoError(t, err)
			require.Zero(t, info.Mode()&os.ModeSocket, "it still stands there")
			text, err := os.ReadFile(filepath.Join(filepath.Dir(l.seat.socket), "else"))
			require.NoError(t, err)
			require.Equal(t, "mine", string(text))
		})
	}
	t.Run("long", func(t *testing.T) {
		p := newWholePerson(t)
		p.home = filepath.Join(p.home, strings.Repeat("x", 100))
		require.NoError(t, os.MkdirAll(filepath.Join(p.home, "tmp"), 0o700))
		k := newKiln(t, sim.Config{Start: 150})
		p.write("crash.toml", crashProfile)
		p.refusedOnATerminal(exitCannotMake, running("crash.toml", "--port", k.path), "too long")
	})
	t.Run("stale", func(t *testing.T) {
		l := newLane(t, &toll{}, 1, 0)
		l.tidy()
		require.NoError(t, os.MkdirAll(filepath.Dir(l.seat.socket), 0o700))
		stale, err := net.ListenUnix("unix", &net.UnixAddr{Name: l.seat.socket, Net: "unix"})
		require.NoError(t, err)
		stale.SetUnlinkOnClose(false)
		require.NoError(t, stale.Close())
		l.kiln.said()
		out := filepath.Join(l.home, "r.jsonl")
		b := l.onTerminal(false, running("crash.toml", "--port", l.kiln.path, "--out", out)...)
		defer b.away()
		steady(t, l.person)
		require.NoError(t, os.Remove(l.seat.socket))
		gone := time.Now()
		require.Eventually(t, func() bool {
			_, err := l.door.Look(t.Context())
			return err == nil
		}, patience, 20*time.Millisecond)
		require.Less(t, time.Since(gone), 5*time.Second+machine.longest(gone))
		require.Equal(t, exitOK, l.pipes("stop").code)
		endedKept(t, out, "stopped by a person").steps()
	})
}

// TestTwoKeepersForOnePort: the second keeper is refused under every name of the device, root too,
// and the first one's run misses no step.
func TestTwoKeepersForOnePort(t *testing.T) {
	t.Parallel()
	first := newLane(t, &toll{}, 1, 0)
	first.tidy()
	first.kiln.said()
	out := filepath.Join(first.home, "r.jsonl")
	b := first.onTerminal(false, running("crash.toml", "--port", first.kiln.path, "--out", out)...)
	defer b.away()
	steady(t, first.person)
	device, err := filepath.EvalSymlinks(first.kiln.path)
	require.NoError(t, err)
	link := filepath.Join(t.TempDir(), "usb-board-if00")
	require.NoError(t, os.Symlink(device, link))
	other := newWholePerson(t)
	other.tidy()
	other.write("crash.toml", crashProfile)
	for _, path := range []string{first.kiln.path, device, link} {
		again := running("crash.toml", "--port", path)
		other.refusedOnATerminal(exitTemporary, again, "another program has it")
		other.pipes(append(again, "--plain")...).refused(t, exitTemporary, "another program has it")
		other.pipes("probes", "board", "--port", path).refused(t, exitTemporary,
			"another program has it")
		first.refusedOnATerminal(exitTemporary, again, "watch it, or stop it first")
	}
	if os.Geteuid() == 0 {
		s := newStranger(t) // the device is theirs to open, were it not for the lock
		s.pipes("run", "crash.toml", "--port", device).refused(t, exitTemporary,
			"another program has it")
	}
	require.Equal(t, exitOK, first.pipes("stop").code)
	endedKept(t, out, "stopped by a person").steps()
}

// nobody is the number of a user and a group without rights, by common practice.
const nobody = 65534

// newStranger is a person with another user's rights; only root can make one.
func newStranger(t *testing.T) *person {
	t.Helper()
	home, err := os.MkdirTemp("", "strawline-stranger-")
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, os.RemoveAll(home)) })
	p := &person{t: t, home: home}
	p.who.Credential = &syscall.Credential{Uid: nobody, Gid: nobody}
	require.NoError(t, os.Mkdir(filepath.Join(home, "tmp"), 0o700))
	p.write("crash.toml", crashProfile)
	p.theirs()
	require.NoError(t, os.Chmod(filepath.Dir(built), 0o711))
	return p
}

// theirs gives all that is in a stranger's home to them; nothing where it is the test's own.
func (p *person) theirs() {
	p.t.Helper()
	if p.who.Credential == nil {
		return
	}
	require.NoError(p.t, filepath.WalkDir(p.home, func(path string, _ fs.DirEntry, err error) error {
		return errors.Join(err, os.Lchown(path, nobody, nobody))
	}))
}

// bound is a person whom a folder's rights bind, as they do not bind root.
func bound(t *testing.T) *person {
	t.Helper()
	if os.Geteuid() == 0 {
		return newStranger(t)
	}
	p := newWholePerson(t)
	p.write("crash.toml", crashProfile)
	return p
}
