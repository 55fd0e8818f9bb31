//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package attach

import (
	"errors"
	"fmt"
	"os"
	"syscall"
)

// owned says whether a file is this user's.
func owned(info os.FileInfo) bool {
	st, ok := info.Sys().(*syscall.Stat_t)
	return ok && int(st.Uid) == os.Geteuid()
}

// takeLock takes the lock file for this process, or says that another one has it.
func takeLock(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|syscall.O_NOFOLLOW, 0o600)
	if err != nil {
		return nil, fmt.Errorf("open the lock %s: %w", path, cause(err))
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		f.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, ErrTaken
		}
		return nil, fmt.Errorf("lock %s: %w", path, err)
	}
	return f, nil
}

// broken says that the other end of a connection is gone.
func broken(err error) bool {
	return errors.Is(err, syscall.EPIPE) || errors.Is(err, syscall.ECONNRESET)
}
