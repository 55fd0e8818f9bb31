package sim

import "errors"

// ErrNoPty is what Pty gives where the system has no pseudo-terminal: use Memory there.
var ErrNoPty = errors.New("no pseudo-terminal on this system")
