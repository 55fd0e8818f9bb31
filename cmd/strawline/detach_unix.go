//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package main

import "syscall"

// canDetach says that a keeper can be started that outlives its terminal.
const canDetach = true

// detached makes a child the leader of a session of its own, without a terminal.
func detached() *syscall.SysProcAttr { return &syscall.SysProcAttr{Setsid: true} }
