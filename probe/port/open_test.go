//go:build linux || darwin

package port

import (
	"errors"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.bug.st/serial"
	"golang.org/x/sys/unix"

	"strawline/probe"
	"strawline/probe/board"
)

// plug makes a pseudo-terminal and lets the path point to it; what is returned is the
// board's side.
func plug(t *testing.T, path string) *os.File {
	t.Helper()
	host, tty, err := pty.Open()
	require.NoError(t, err)
	name := tty.Name()
	require.NoError(t, tty.Close())
	_ = os.Remove(path) // it is not there the first time
	require.NoError(t, os.Symlink(name, path))
	return host
}

// wait polls, 50 ms of data a Poll, until the link is in a state.
func wait(t *testing.T, p *Port, now *time.Duration, want probe.LinkState) probe.Batch {
	t.Helper()
	var all probe.Batch
	for range 400 {
		*now += 50 * time.Millisecond
		b := p.Poll(*now)
		all.Readings = append(all.Readings, b.Readings...)
		all.Boots = append(all.Boots, b.Boots...)
		if all.Link = b.Link; b.Link.State == want {
			return all
		}
	}
	require.Equal(t, want, all.Link.State)
	return all
}

func TestOnAPseudoTerminal(t *testing.T) {
	path := filepath.Join(t.TempDir(), "board")
	host := plug(t, path)
	p := New(Config{Name: path}, OpenSerial(path, 38400))
	var now time.Duration
	wait(t, p, &now, probe.LinkWaiting)

	_, err := OpenSerial(path, 38400)()
	var oe *OpenError
	require.ErrorAs(t, err, &oe)
	assert.Equal(t, probe.LinkBusy, oe.State, "root is refused as well, by our lock: %v", err)

	b := newFake()
	say := func(f ...board.Frame) {
		for _, fr := range f {
			_, err := host.Write(board.Append(nil, fr))
			require.NoError(t, err)
		}
	}
	say(board.Boot{About: b.about}, b.reading(0, word200))
	got := wait(t, p, &now, probe.LinkUp)
	for range 100 {
		if len(got.Readings) > 0 {
			break
		}
		now += 50 * time.Millisecond
		got.Readings = append(got.Readings, p.Poll(now).Readings...)
	}
	require.Len(t, got.Boots, 1)
	require.Len(t, got.Readings, 1)
	assert.InDelta(t, 200.06, float64(got.Readings[0].Hot), 0.01)

	buf := make([]byte, 64)
	n, err := host.Read(buf) // the empty line and the query
	require.NoError(t, err)
	assert.Contains(t, string(buf[:n]), "\r\n")
	assert.Equal(t, uint64(2+len(board.Append(nil, board.Query{Seq: 1}))), p.Sent())

	// The name goes first, as udev's does: the number behind it may be another test's at once.
	require.NoError(t, os.Remove(path))
	require.NoError(t, host.Close())
	wait(t, p, &now, probe.LinkGone)
	assert.ErrorContains(t, p.Err(), "unplugged")
	wait(t, p, &now, probe.LinkMissing)
	host = plug(t, path)
	wait(t, p, &now, probe.LinkWaiting)
	say(board.Boot{About: b.about})
	wait(t, p, &now, probe.LinkUp)

	require.NoError(t, p.Close(now))
	again, err := OpenSerial(path, 38400)() // the lock is given back
	require.NoError(t, err)
	require.NoError(t, again.Close())
	require.NoError(t, host.Close())
}

// The lock goes as soon as a Read shows that the device is gone, not with a Close that may hang.
func TestTheGuardGoesWithTheDevice(t *testing.T) {
	guard, err := os.Open(t.TempDir())
	require.NoError(t, err)
	d := &device{Port: brokenPort{}, guard: guard}
	_, err = d.Read(nil)
	require.ErrorIs(t, err, errVanished)
	assert.ErrorIs(t, guard.Close(), os.ErrClosed)
}

type brokenPort struct{ serial.Port }

func (brokenPort) Read([]byte) (int, error) { return 0, errVanished }

func TestTheGuardClearsHangUpOnClose(t *testing.T) {
	path := filepath.Join(t.TempDir(), "board")
	host := plug(t, path)
	defer host.Close()
	tty, err := os.OpenFile(path, os.O_RDWR|syscall.O_NOCTTY, 0)
	require.NoError(t, err)
	defer tty.Close()
	set, err := unix.IoctlGetTermios(int(tty.Fd()), getTermios)
	require.NoError(t, err)
	set.Cflag |= unix.HUPCL
	require.NoError(t, unix.IoctlSetTermios(int(tty.Fd()), setTermios, set))
	s, err := OpenSerial(path, 38400)()
	require.NoError(t, err)
	defer s.Close()
	got, err := unix.IoctlGetTermios(int(tty.Fd()), getTermios)
	require.NoError(t, err)
	assert.Zero(t, got.Cflag&unix.HUPCL)
}

// What waited in the input before the opening is thrown away.
func TestStaleInputIsThrownAway(t *testing.T) {
	path := filepath.Join(t.TempDir(), "board")
	host := plug(t, path)
	defer host.Close()
	_, err := host.WriteString("old\r\n")
	require.NoError(t, err)
	s, err := OpenSerial(path, 38400)()
	require.NoError(t, err)
	defer s.Close()
	require.NoError(t, s.SetReadTimeout(50*time.Millisecond))
	n, err := s.Read(make([]byte, 64))
	require.NoError(t, err)
	assert.Zero(t, n)
}

func TestWhatIsNoPort(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	require.NoError(t, os.WriteFile(file, []byte("kept"), 0o600))
	pipe := filepath.Join(dir, "pipe")
	require.NoError(t, unix.Mkfifo(pipe, 0o600))
	for path, want := range map[string]probe.LinkState{
		filepath.Join(dir, "none"):      probe.LinkMissing,
		filepath.Join(file, "under"):    probe.LinkNotPort,
		file:                            probe.LinkNotPort,
		dir:                             probe.LinkNotPort,
		pipe:                            probe.LinkNotPort,
		os.DevNull:                      probe.LinkNotPort,
		filepath.Join(dir, "no\x00pe"):  probe.LinkNotPort,
		filepath.Join(dir, "nor", "it"): probe.LinkMissing,
	} {
		_, err := OpenSerial(path, 38400)()
		var oe *OpenError
		require.ErrorAs(t, err, &oe, path)
		assert.Equal(t, want, oe.State, "%v", err)
		assert.Equal(t, path, oe.Path)
		assert.NotContains(t, err.Error(), "\n")
	}
	kept, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, "kept", string(kept))
}

func TestErrnosAsStates(t *testing.T) {
	for err, want := range map[error]probe.LinkState{
		syscall.ENOENT: probe.LinkMissing, syscall.ENXIO: probe.LinkMissing,
		syscall.ENODEV: probe.LinkMissing, syscall.EIO: probe.LinkMissing,
		syscall.EBUSY: probe.LinkBusy, syscall.EWOULDBLOCK: probe.LinkBusy,
		syscall.EACCES: probe.LinkDenied, syscall.EPERM: probe.LinkDenied,
		syscall.ENOTTY: probe.LinkNotPort, errors.New("else"): probe.LinkNotPort,
	} {
		e := openError("opening", "/dev/none", err)
		assert.Equal(t, want, e.State, "%v", err)
		assert.ErrorIs(t, e, err)
		assert.Contains(t, e.Error(), "opening /dev/none: ")
	}
}

func TestForbiddenNamesTheGroup(t *testing.T) {
	path := filepath.Join(t.TempDir(), "node")
	require.NoError(t, os.WriteFile(path, nil, 0o600))
	info, err := os.Stat(path)
	require.NoError(t, err)
	gid := strconv.Itoa(int(info.Sys().(*syscall.Stat_t).Gid))
	name := "number " + gid
	if g, err := user.LookupGroupId(gid); err == nil {
		name = g.Name
	}
	assert.Contains(t, openError("opening", path, syscall.EACCES).Error(),
		"nor has its group "+name)
	require.NoError(t, os.Chmod(path, 0o660))
	assert.Contains(t, openError("opening", path, syscall.EACCES).Error(),
		"join the group "+name+": sudo usermod -aG "+name+" $USER")
}
