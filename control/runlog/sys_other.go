//go:build !(linux || darwin || freebsd || netbsd || openbsd || dragonfly)

package runlog

import "os"

// lock does nothing here: only O_EXCL on creation guards the file.
func lock(*os.File) error { return nil }

// syncFolder does nothing here: such a system cannot sync a folder.
func syncFolder(string) error { return nil }
