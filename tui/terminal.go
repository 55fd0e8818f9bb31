package tui

import (
	"errors"
	"io"
	"os"

	"github.com/charmbracelet/x/term"
)

// watchedIn is a terminal's input that says so when it ends: bubbletea keeps the end to itself
// and would go on for ever.
type watchedIn struct {
	*os.File
	t *terminal
}

// Read reads, and notices the end.
func (w *watchedIn) Read(p []byte) (int, error) {
	n, err := w.File.Read(p)
	if err != nil && !errors.Is(err, os.ErrDeadlineExceeded) {
		w.t.lost()
	}
	return n, err
}

// watchedOut is a terminal's output that says so when it can no longer be written to. It
// remains a file, so that bubbletea still asks it for its size.
type watchedOut struct {
	*os.File
	t *terminal
}

// Write writes, and notices the end.
func (w *watchedOut) Write(p []byte) (int, error) {
	n, err := w.File.Write(p)
	if err != nil {
		w.t.lost()
	}
	return n, err
}

// WriteString is Write: the file's own would go past it.
func (w *watchedOut) WriteString(s string) (int, error) { return w.Write([]byte(s)) }

// watchedWriter is the same for what is no file.
type watchedWriter struct {
	io.Writer
	t *terminal
}

// Write writes, and notices the end.
func (w *watchedWriter) Write(p []byte) (int, error) {
	n, err := w.Writer.Write(p)
	if err != nil {
		w.t.lost()
	}
	return n, err
}

// watchedReader is an input that is no file.
type watchedReader struct {
	io.Reader
	t *terminal
}

// Read reads, and notices the end.
func (w *watchedReader) Read(p []byte) (int, error) {
	n, err := w.Reader.Read(p)
	if err != nil {
		w.t.lost()
	}
	return n, err
}

// restorer remembers a terminal's modes and gives what sets them again without waiting for
// output that nobody takes.
func restorer(f *os.File) func() {
	state, err := term.GetState(f.Fd())
	if err != nil {
		return func() {}
	}
	return func() { term.SetState(f.Fd(), state) }
}
