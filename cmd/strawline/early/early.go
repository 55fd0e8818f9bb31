// Package early keeps the program from asking the terminal its colours before main begins. The
// screen library does that in an init function of its own, and a terminal that does not answer
// costs every command five seconds, --help and a screen reader's pipe among them.
//
// The library asks nothing when the variable CI is set, so this package's init sets it, if it
// is not set anyway, and Restore, which main calls first, takes it away again before anything
// else of the program or a child of it sees it.
//
// This holds because of the order of initialisation: a package is initialised as soon as all
// that it imports is, and of those that are ready the first by import path is next (the Go
// specification's "Program initialization", the order by path since Go 1.21). This package
// imports only os, whose own imports are all done before "strings" can be: strings needs
// "unicode", which sorts behind everything that os needs but "unicode/utf8", and that it needs
// itself. "strawline/..." sorts before "strings", and the screen library imports strings. It
// would break if this package imported anything that needs strings, or if its path began with
// something that sorts behind "strings"; the test of this package would then fail.
package early

import "os"

const (
	variable = "CI"
	mark     = "strawline-early" // so that Restore takes away only what init set
)

func init() {
	if os.Getenv(variable) == "" {
		os.Setenv(variable, mark)
	}
}

// Restore gives the environment back as the program found it. Calling it again does nothing.
func Restore() {
	if os.Getenv(variable) == mark {
		os.Unsetenv(variable)
	}
}
