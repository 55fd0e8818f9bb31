//go:build linux || darwin

package sim

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
)

// takeLimit is the wall-clock time that the bytes of a Grant may take to come through.
const takeLimit = time.Minute

// terminal is a link over a pseudo-terminal. Its own end is read and written without
// waiting. It keeps the host's end open too, so that what is written before and between
// openings neither fails nor echoes.
type terminal struct {
	path  string // the symbolic link
	after func(time.Duration) <-chan time.Time
	ours  int // file number, -1 while unplugged
	host  *os.File
}

// Pty attaches a pseudo-terminal in raw mode and gives the path under which a host opens it:
// a symbolic link named "board" in dir, which goes when the cable is out and comes back with
// a new terminal. Give each process a folder of its own: a link that a killed one left behind may
// point to a stranger's terminal by now. The error wraps ErrNoPty if the system gives no
// pseudo-terminal, and fs.ErrExist if dir holds a "board".
func (b *Board) Pty(dir string) (path string, err error) {
	t := &terminal{path: filepath.Join(dir, "board"), after: b.cfg.After, ours: -1}
	if err := t.plug(); err != nil {
		return "", err
	}
	if err := b.attach(t); err != nil {
		return "", errors.Join(err, t.close())
	}
	return t.path, nil
}

func (t *terminal) plug() error {
	ours, host, err := pty.Open()
	if err != nil {
		return fmt.Errorf("%w: %w", ErrNoPty, err)
	}
	t.host = host
	t.ours, err = unix.FcntlInt(ours.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		t.ours = -1
	}
	err = errors.Join(err, ours.Close())
	if err == nil {
		err = errors.Join(unix.SetNonblock(t.ours, true), raw(int(host.Fd())))
	}
	if err == nil {
		err = os.Symlink(host.Name(), t.path)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("making a pseudo-terminal: %w", err), t.release())
	}
	return nil
}

// raw passes every byte as it is.
func raw(fd int) error {
	s, err := unix.IoctlGetTermios(fd, getTermios)
	if err != nil {
		return err
	}
	s.Iflag &^= unix.IGNBRK | unix.BRKINT | unix.PARMRK | unix.ISTRIP | unix.INLCR | unix.IGNCR |
		unix.ICRNL | unix.IXON | unix.IXOFF
	s.Oflag &^= unix.OPOST
	s.Lflag &^= unix.ECHO | unix.ECHONL | unix.ICANON | unix.ISIG | unix.IEXTEN
	s.Cflag = s.Cflag&^(unix.CSIZE|unix.PARENB) | unix.CS8
	s.Cc[unix.VMIN], s.Cc[unix.VTIME] = 1, 0
	return unix.IoctlSetTermios(fd, setTermios, s)
}

func (t *terminal) take(dst []byte) error {
	want := len(dst)
	var late <-chan time.Time
	for len(dst) > 0 {
		n, err := unix.Read(t.ours, dst)
		switch {
		case err == nil && n > 0:
			dst = dst[n:]
			continue
		case err == unix.EINTR:
			continue
		case err != unix.EAGAIN:
			return fmt.Errorf("reading the host's bytes: %w", err)
		}
		if late == nil {
			late = t.after(takeLimit)
		}
		select {
		case <-late:
			return fmt.Errorf("%d host bytes were granted and %d came within %v", want,
				want-len(dst), takeLimit)
		default:
		}
		const ms = 20 // so that late is looked at
		fds := []unix.PollFd{{Fd: int32(t.ours), Events: unix.POLLIN}}
		if _, err := unix.Poll(fds, ms); err != nil && err != unix.EINTR {
			return fmt.Errorf("waiting for the host's bytes: %w", err)
		}
	}
	return nil
}

func (t *terminal) here(dst []byte) int {
	for {
		n, err := unix.Read(t.ours, dst)
		if err != unix.EINTR {
			return max(0, n)
		}
	}
}

// give never waits: where the host does not read, the rest is lost.
func (t *terminal) give(p []byte) int {
	done := 0
	for done < len(p) {
		n, err := unix.Write(t.ours, p[done:])
		if err == unix.EINTR {
			continue
		}
		if err != nil || n <= 0 {
			break
		}
		done += n
	}
	return done
}

func (t *terminal) flush() {
	// Either may fail only on a terminal that is gone, which the next take tells.
	_ = flushTerminal(int(t.host.Fd()))
	var junk [512]byte
	for {
		n, err := unix.Read(t.ours, junk[:])
		if err != unix.EINTR && (err != nil || n <= 0) {
			return
		}
	}
}

func (t *terminal) unplug() error { return t.close() }

func (t *terminal) close() error {
	if t.ours < 0 {
		return nil
	}
	return errors.Join(os.Remove(t.path), t.release())
}

func (t *terminal) release() error {
	var err error
	if t.ours >= 0 {
		err = unix.Close(t.ours)
		t.ours = -1
	}
	return errors.Join(err, t.host.Close())
}
