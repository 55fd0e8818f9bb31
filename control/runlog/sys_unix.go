//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package runlog

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
)

// lock takes the file's advisory lock for this process, or says that another one has it.
func lock(f *os.File) error {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return ErrBusy
	}
	return err
}

// syncFolder makes the name of a new file in path's folder survive a power cut.
func syncFolder(path string) error {
	d, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
