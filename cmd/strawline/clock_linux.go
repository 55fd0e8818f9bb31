package main

import (
	"time"

	"golang.org/x/sys/unix"
)

// sinceBoot is a clock that goes on while the computer sleeps, unlike Go's monotonic one.
func sinceBoot() (time.Duration, bool) {
	var ts unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &ts); err != nil {
		return 0, false
	}
	return time.Duration(ts.Nano()), true
}
