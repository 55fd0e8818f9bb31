package main

import (
	"time"

	"github.com/spf13/pflag"
)

// What a board of our protocol can be set to.
const (
	leastGuard  = 1
	mostGuard   = 8
	leastWindow = 2 * time.Second
	mostWindow  = 60 * time.Second
)

// boardFlags are the options of `probes board`.
type boardFlags struct {
	port   string
	limit  tempValue
	guard  int // 0 if not given
	mains  mainsValue
	window spanValue
	json   bool
}

// register adds the options to a command's.
func (f *boardFlags) register(fs *pflag.FlagSet) {
	fs.StringVar(&f.port, "port", "", "the board's serial port, such as /dev/ttyUSB0")
	fs.Var(&f.limit, "limit", "set the stored high limit: 260C")
	fs.IntVar(&f.guard, "guard", 0, "set the heater's guard channel, 1 to 8")
	fs.Var(&f.mains, "mains", "set the mains frequency, 50Hz or 60Hz")
	fs.Var(&f.window, "window", "set the duty window, 2s to 60s")
	fs.BoolVar(&f.json, "json", false, "answer with one JSON object")
}

// sets tells whether anything is to be set; else the board is only shown.
func (f *boardFlags) sets() bool {
	return f.limit.given || f.guard != 0 || f.mains.hz != 0 || f.window.given
}

// check says what is out of range or missing; fs are the flags as they were parsed.
func (f *boardFlags) check(fs *pflag.FlagSet) error {
	switch {
	case f.port == "":
		return usage("say which port: --port PATH")
	case fs.Changed("guard") && (f.guard < leastGuard || f.guard > mostGuard):
		return usage("--guard %d is not from %d to %d", f.guard, leastGuard, mostGuard)
	case f.window.given && (f.window.d < leastWindow || f.window.d > mostWindow):
		return usage("--window %v is not from %v to %v", f.window.d, leastWindow, mostWindow)
	}
	return nil
}
