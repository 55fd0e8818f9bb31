// Package early keeps the program from asking the terminal its colours while it starts. The
// screen library does that from an init function, and a terminal that does not answer costs
// every command five seconds, its help too. The library does not ask when CI is set, so this
// package sets it before that init runs, and Restore puts things back.
//
// Go initialises, of the packages whose imports are ready, the first by import path. This
// one imports only os, so it is ready before package unicode, which the screen library
// needs, and comes before it in the order. A test on the built program asserts that.
package early

import "os"

const key = "CI"

var was, had = os.LookupEnv(key)

func init() { _ = os.Setenv(key, "1") }

// Restore gives the environment back as it was. Call it before anything else in main, so
// that neither the program nor what it starts sees the difference.
func Restore() {
	if had {
		_ = os.Setenv(key, was)
		return
	}
	_ = os.Unsetenv(key)
}
