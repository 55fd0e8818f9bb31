//go:build !(linux || darwin || freebsd || netbsd || openbsd || dragonfly)

package main

import (
	"os"
	"syscall"
)

// canDetach says that a keeper can be started that outlives its terminal: not tried here, so
// that a run stays in its own program.
const canDetach = false

func detached() *syscall.SysProcAttr { return nil }

// ownFile cannot tell here: hooks are not run.
func ownFile(os.FileInfo) bool { return false }
