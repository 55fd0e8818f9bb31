package runlog

import (
	"errors"
	"fmt"
)

// What can be wrong with a run file; test with errors.Is. A file that exists, is missing or
// forbidden gives the errors of io/fs.
var (
	ErrNoRun   = errors.New("no run file")           // no whole head
	ErrVersion = errors.New("another schema")        // written by another version
	ErrBroken  = errors.New("broken")                // a line that does not follow from the last
	ErrBusy    = errors.New("in use")                // another process writes it
	ErrStopped = errors.New("log writer stopped")    // the Logger panicked or was closed
	ErrRefused = errors.New("record refused")        // a record that has no JSON form
	ErrFailing = errors.New("run file not writable") // records wait in memory
)

// Error says in one line what was being done, to which file, what is wrong and what to do.
type Error struct {
	Op    string // "create", "read", "recover", "write", "close"
	Path  string
	Line  int // counted from 1; 0 if it is about the whole file
	Wrong string
	Do    string // what a person can do; "" if nothing
	Err   error  // one of the errors above or the system's
}

// Error gives the line.
func (e *Error) Error() string {
	s := e.Op + " run file " + e.Path
	if e.Line > 0 {
		s += fmt.Sprintf(", line %d", e.Line)
	}
	s += ": " + e.Wrong
	if e.Do != "" {
		s += "; " + e.Do
	}
	return s
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// IsFile reports whether err comes from a run file: its one line then says all there is.
func IsFile(err error) bool {
	var e *Error
	return errors.As(err, &e)
}
