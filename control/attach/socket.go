package attach

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// LookEvery is how often a socket looks whether its file still stands: well within the 5 s in
// which it is made again.
const LookEvery = 2 * time.Second

// Socket is a listening unix socket in a folder of its owner's alone. While it is open, a lock
// file beside it says so, and its own file is made again when it is gone.
type Socket struct {
	path string

	mu       sync.Mutex
	lock     *os.File
	listener *net.UnixListener
	made     os.FileInfo // of the socket's file
	closed   bool
}

// Listen makes the socket at path, and its folder (0700) where there is none. It takes the lock
// first and only then takes away what a keeper that was killed left there. Its errors are one
// line: ErrLong, ErrFolder, ErrTaken, ErrInTheWay, or the system's.
func Listen(path string) (*Socket, error) {
	if err := checkPath(path); err != nil {
		return nil, err
	}
	if err := folder(filepath.Dir(path)); err != nil {
		return nil, err
	}
	s := &Socket{path: path}
	var err error
	if s.lock, err = takeLock(path + ".lock"); err != nil {
		return nil, err
	}
	if err := s.bind(); err != nil {
		s.lock.Close()
		return nil, err
	}
	return s, nil
}

// folder makes the folder and says whether it is the user's alone.
func folder(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("make the folder %s: %w", dir, cause(err))
	}
	info, err := os.Stat(dir)
	switch {
	case err != nil:
		return fmt.Errorf("look at %s: %w", dir, cause(err))
	case !info.IsDir():
		return fmt.Errorf("look at %s: it is no folder", dir)
	case !owned(info):
		return fmt.Errorf("%w: %s belongs to another user", ErrFolder, dir)
	case info.Mode().Perm()&0o077 != 0:
		if err := os.Chmod(dir, 0o700); err != nil {
			return fmt.Errorf("%w: %s is open to others: %w", ErrFolder, dir, cause(err))
		}
	}
	return nil
}

// Stands says whether a socket stands at path, answered or not. What else stands there is
// ErrInTheWay, in one line; other errors are the system's.
func Stands(path string) (bool, error) {
	switch info, err := os.Lstat(path); {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case err != nil:
		return false, fmt.Errorf("look at %s: %w", path, cause(err))
	case info.Mode()&fs.ModeSocket == 0:
		return false, fmt.Errorf("%w: %s; take it away", ErrInTheWay, path)
	}
	return true, nil
}

// bind listens anew; the lock is held.
func (s *Socket) bind() error {
	stands, err := Stands(s.path)
	if err != nil {
		return err
	}
	if stands { // of a keeper that is gone: its lock is ours
		if err := os.Remove(s.path); err != nil {
			return fmt.Errorf("take away the old socket %s: %w", s.path, cause(err))
		}
	}
	l, err := net.ListenUnix("unix", &net.UnixAddr{Name: s.path, Net: "unix"})
	if err != nil {
		return fmt.Errorf("listen at %s: %w", s.path, err)
	}
	l.SetUnlinkOnClose(false) // by then the name may be another's
	err = os.Chmod(s.path, 0o600)
	info, statErr := os.Lstat(s.path)
	if err = errors.Join(err, statErr); err != nil {
		l.Close()
		return fmt.Errorf("listen at %s: %w", s.path, cause(err))
	}
	s.listener, s.made = l, info
	return nil
}

// accept waits for the next connection; a socket that was made again goes on by itself.
func (s *Socket) accept() (net.Conn, error) {
	for {
		s.mu.Lock()
		l, closed := s.listener, s.closed
		s.mu.Unlock()
		if closed {
			return nil, net.ErrClosed
		}
		c, err := l.AcceptUnix()
		if err == nil {
			return c, nil
		}
		s.mu.Lock()
		again := !s.closed && l != s.listener
		s.mu.Unlock()
		if !again {
			return nil, err
		}
	}
}

// mend makes the socket, its folder and its lock again where they are gone.
func (s *Socket) mend() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil
	}
	if err := folder(filepath.Dir(s.path)); err != nil {
		return err
	}
	lock := s.path + ".lock"
	held, err := s.lock.Stat()
	if err != nil {
		return fmt.Errorf("look at %s: %w", lock, cause(err))
	}
	if now, err := os.Stat(lock); err != nil || !os.SameFile(held, now) {
		f, err := takeLock(lock)
		if err != nil {
			return err
		}
		s.lock.Close()
		s.lock = f
	}
	if now, err := os.Lstat(s.path); err == nil && os.SameFile(s.made, now) {
		return nil
	}
	old := s.listener
	if err := s.bind(); err != nil {
		return err
	}
	old.Close() // those who are connected stay
	return nil
}

// watch mends the socket until ctx ends; complain is told what cannot be mended, once each.
func (s *Socket) watch(ctx context.Context, complain func(error)) {
	tick := time.NewTicker(LookEvery)
	defer tick.Stop()
	told := ""
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		err := s.mend()
		switch {
		case err == nil:
			told = ""
		case err.Error() != told:
			told = err.Error()
			complain(err)
		}
	}
}

// Close ends the listening and takes the socket's file away.
func (s *Socket) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil
	}
	s.closed = true
	err := s.listener.Close()
	if now, e := os.Lstat(s.path); e == nil && os.SameFile(s.made, now) {
		err = errors.Join(err, os.Remove(s.path))
	}
	return errors.Join(err, s.lock.Close()) // the lock's file stays: taking it away would race
}

// cause leaves away the operation and path that os puts before an error.
func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}
