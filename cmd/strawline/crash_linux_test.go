package main

import (
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"strawline/control"
	"strawline/control/alarm"
	"strawline/probe/sim"
)

// TestTheDiskFillsUnderAKeptRun: the built keeper may make its run file no longer, which it meets
// as it meets a full disk. That is an alarm; the run steps and heats on, and what waited in memory
// is written when there is room.
func TestTheDiskFillsUnderAKeptRun(t *testing.T) {
	t.Parallel()
	l := heatingLane(t, 2)
	st, err := os.Stat(l.out)
	require.NoError(t, err)
	var was unix.Rlimit
	require.NoError(t, unix.Prlimit(l.pid, unix.RLIMIT_FSIZE, nil, &was))
	little := was
	little.Cur = uint64(st.Size()) + 100
	require.NoError(t, unix.Prlimit(l.pid, unix.RLIMIT_FSIZE, &little, nil))
	full := func(s control.Snapshot) bool {
		for _, a := range s.Alarms {
			if a.Code == alarm.LogFull && a.Word == "NOT WRITTEN" {
				return true
			}
		}
		return false
	}
	require.True(t, l.view.shown(patience, full), "told at once")
	heat := l.kiln.board.Truth().On
	from := l.view.newest().T
	later := from + 4*time.Second
	require.True(t, l.view.shown(patience, func(s control.Snapshot) bool { return s.T > later }))
	require.Greater(t, l.kiln.board.Truth().On, heat, "it goes on heating")
	st, err = os.Stat(l.out)
	require.NoError(t, err)
	require.LessOrEqual(t, uint64(st.Size()), little.Cur)
	require.NoError(t, unix.Prlimit(l.pid, unix.RLIMIT_FSIZE, &was, nil))
	require.Eventually(t, func() bool { // tried again every 10 s
		now, err := os.Stat(l.out)
		return err == nil && now.Size() > st.Size()+1000
	}, patience, 100*time.Millisecond)
	require.Equal(t, exitOK, l.pipes("stop").code)
	f := endedKept(t, l.out, "stopped by a person")
	f.steps()
	require.Empty(t, f.events("lost"))
	require.NotEmpty(t, f.samples(from.Seconds()+1, later.Seconds()))
}

// newest gives what the screen was last shown.
func (v *view) newest() control.Snapshot {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.last
}

// TestAnothersSocketInTheWay: a socket that another user's program answers at is not believed.
// Only root can make one; anyone else is refused the folder of another.
func TestAnothersSocketInTheWay(t *testing.T) {
	t.Parallel()
	l := &lane{person: newWholePerson(t)}
	l.sit(t)
	k := newKiln(t, sim.Config{Start: 150}) // it says when it heats, since nobody may
	l.write("crash.toml", crashProfile)
	require.NoError(t, os.MkdirAll(filepath.Dir(l.seat.socket), 0o700))
	word := "another user's program answers"
	if os.Geteuid() == 0 {
		fd, err := unix.Socket(unix.AF_UNIX, unix.SOCK_STREAM|unix.SOCK_CLOEXEC, 0)
		require.NoError(t, err)
		defer unix.Close(fd)
		require.NoError(t, unix.Bind(fd, &unix.SockaddrUnix{Name: l.seat.socket}))
		require.NoError(t, listenAs(fd, nobody))
	} else {
		home := filepath.Dir(filepath.Dir(l.seat.socket))
		require.NoError(t, os.RemoveAll(home))
		require.NoError(t, os.Symlink("/usr", home)) // root's
		word = "permission denied"
	}
	l.refusedOnATerminal(exitCannotMake, running("crash.toml", "--port", k.path), word)
}

// listenAs has a socket listen as if another user had made it do so: the system keeps for each
// listener whose it was. Only this thread is that user, and only meanwhile.
func listenAs(fd, user int) error {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	const same = ^uintptr(0)
	if _, _, e := syscall.RawSyscall(syscall.SYS_SETRESUID, same, uintptr(user), same); e != 0 {
		return e
	}
	err := unix.Listen(fd, 4)
	if _, _, e := syscall.RawSyscall(syscall.SYS_SETRESUID, same, 0, same); e != 0 {
		return e
	}
	return err
}
