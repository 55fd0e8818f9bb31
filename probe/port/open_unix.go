//go:build linux || darwin

package port

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/user"
	"strconv"
	"syscall"

	"golang.org/x/sys/unix"
)

var errNoDevice = errors.New("not a character device")

// takeGuard opens the node without waiting for a carrier, locks it for this process alone,
// and clears the flag that drops DTR at the last close (most boards would reset by it).
func takeGuard(path string) (*os.File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, openError("opening", path, err)
	}
	if info.Mode()&fs.ModeCharDevice == 0 {
		return nil, openError("opening", path, errNoDevice)
	}
	fd, err := unix.Open(path, unix.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	if err != nil {
		return nil, openError("opening", path, err)
	}
	guard := os.NewFile(uintptr(fd), path)
	if err := unix.Flock(fd, unix.LOCK_EX|unix.LOCK_NB); err != nil {
		guard.Close()
		return nil, openError("locking", path, err)
	}
	t, err := unix.IoctlGetTermios(fd, getTermios)
	if err != nil {
		guard.Close()
		return nil, openError("setting up", path, err)
	}
	t.Cflag &^= unix.HUPCL
	// A driver that refuses this resets the board once more, which is treated as normal.
	_ = unix.IoctlSetTermios(fd, setTermios, t)
	return guard, nil
}

// deniedHelp says whose right is missing.
func deniedHelp(path string) string {
	const none = "you have no right to open it"
	info, err := os.Stat(path)
	if err != nil {
		return none
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return none
	}
	gid := strconv.FormatUint(uint64(st.Gid), 10)
	group := "number " + gid
	if g, err := user.LookupGroupId(gid); err == nil {
		group = g.Name
	}
	const readWrite = 0o060
	if info.Mode().Perm()&readWrite != readWrite {
		return fmt.Sprintf("%s, nor has its group %s: have its owner change its mode", none, group)
	}
	return fmt.Sprintf("%s: join the group %s: sudo usermod -aG %s $USER, and log in again",
		none, group, group)
}
