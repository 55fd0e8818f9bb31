package main

import (
	"errors"
	"fmt"
	"strings"
)

// Exit codes, after sysexits(3) of the BSDs.
const (
	exitOK          = 0
	exitUsage       = 64
	exitData        = 65
	exitNoInput     = 66
	exitUnavailable = 69
	exitBug         = 70
	exitCannotMake  = 73
	exitIO          = 74
	exitTemporary   = 75
	exitNoRight     = 77
	exitConfig      = 78
	exitSignal      = 128
)

// exits says what each exit code means; `strawline help exits` prints it.
var exits = []struct {
	code int
	when string
}{
	{exitOK, "done"},
	{exitUsage, "the command line was wrong"},
	{exitData, "a file or a value is not what it should be"},
	{exitNoInput, "what was to be read is not there"},
	{exitUnavailable, "a port or a board is not there or does not answer"},
	{exitBug, "a mistake of the program"},
	{exitCannotMake, "an output file exists or cannot be made"},
	{exitIO, "reading or writing failed"},
	{exitTemporary, "busy, or a run that a trip ended: look, then try again"},
	{exitNoRight, "no right to open, or root where root is refused"},
	{exitConfig, "the profile, limits and board do not fit together"},
	{exitSignal, "and the signal's number: a signal ended it"},
}

// fault is the one kind of error that a command ends with.
type fault struct {
	code  int    // the exit code
	did   string // what was being done: "read"
	to    string // to what: a path, a name, an option
	wrong error  // what is wrong with it
	help  string // what to do; may be empty
}

// Error gives one line: "read a.toml: no such file; name another".
func (f *fault) Error() string {
	var parts []string
	if what := strings.TrimSpace(f.did + " " + f.to); what != "" {
		parts = append(parts, what)
	}
	if f.wrong != nil {
		parts = append(parts, oneLine(f.wrong.Error()))
	}
	line := strings.Join(parts, ": ")
	if f.help != "" {
		line += "; " + f.help
	}
	return oneLine(line)
}

// Unwrap gives what is wrong.
func (f *fault) Unwrap() error { return f.wrong }

// usage makes the fault of a wrong command line.
func usage(format string, args ...any) *fault {
	return &fault{code: exitUsage, wrong: fmt.Errorf(format, args...)}
}

// asFault finds the fault in err; an error that is none is a mistake of ours.
func asFault(err error) *fault {
	var f *fault
	if errors.As(err, &f) {
		return f
	}
	return &fault{code: exitBug, wrong: err}
}

// oneLine joins the lines of a text, so that a message stays one line.
func oneLine(s string) string {
	var kept []string
	for line := range strings.Lines(s) {
		if line = strings.TrimSpace(line); line != "" {
			kept = append(kept, line)
		}
	}
	return strings.Join(kept, "; ")
}
