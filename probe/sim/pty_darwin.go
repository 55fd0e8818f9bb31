package sim

import "golang.org/x/sys/unix"

const (
	getTermios = unix.TIOCGETA
	setTermios = unix.TIOCSETA
)

// flushTerminal forgets what is under way in both directions; FREAD and FWRITE are 1 and 2.
func flushTerminal(fd int) error { return unix.IoctlSetPointerInt(fd, unix.TIOCFLUSH, 1|2) }
