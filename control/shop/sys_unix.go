//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package shop

import (
	"errors"
	"os"
	"syscall"
)

// takeLock waits for the lock on the file at path, which it makes if it is not there, and gives
// what lets go of it. The file stays: removing it would let two writers hold two locks.
func takeLock(path string) (unlock func() error, err error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	for {
		err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX)
		if !errors.Is(err, syscall.EINTR) {
			break
		}
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f.Close, nil
}

// syncFolder makes the new name survive a power cut.
func syncFolder(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
