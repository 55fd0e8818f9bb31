package tui

import (
	"errors"
	"io"
	"os"
	"strings"
	"sync"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/lipgloss"
	"github.com/charmbracelet/x/term"
	"github.com/muesli/termenv"
)

// terminal is where the screen is shown. It notices when it has gone, which bubbletea does not.
type terminal struct {
	in      io.Reader
	out     io.Writer // watched
	to      io.Writer // the same, bare
	profile termenv.Profile
	gone    chan struct{}
	once    sync.Once
	tty     bool // out is a terminal
	restore func()

	mu    sync.Mutex // one write at a time: a frame is one, and so is what is said beside it
	left  bool       // the screen was left: nothing more is said
	queue sync.Mutex
	said  []string // waits to be written, in order
}

func (t *terminal) lost() { t.once.Do(func() { close(t.gone) }) }

// later gives the command that writes escape sequences, between two frames and in the order in
// which they were given. Giving them waits for nothing.
func (t *terminal) later(sequences string) tea.Cmd {
	t.queue.Lock()
	defer t.queue.Unlock()
	t.said = append(t.said, sequences)
	return func() tea.Msg {
		t.mu.Lock()
		defer t.mu.Unlock()
		t.queue.Lock()
		text := strings.Join(t.said, "")
		t.said = nil
		t.queue.Unlock()
		if text != "" && !t.left {
			t.raw(text)
		}
		return nil
	}
}

// open keeps the window's title, and close puts it back; nothing is said after it.
func (t *terminal) open(title bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if title {
		t.raw(titlesKept)
	}
}

func (t *terminal) close(title bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.left = true
	if title {
		t.raw(titlesBack)
	}
}

// raw writes while the lock is held; a terminal that cannot be written to is gone.
func (t *terminal) raw(text string) {
	if _, err := io.WriteString(t.to, text); err != nil {
		t.lost()
	}
}

func newTerminal(o Options) *terminal {
	t := &terminal{gone: make(chan struct{}), restore: func() {}}
	in, out := o.In, o.Out
	if in == nil {
		in = os.Stdin
	}
	if out == nil {
		out = os.Stdout
	}
	t.profile = lipgloss.NewRenderer(out).ColorProfile()
	t.to, t.in, t.out = out, &watchedReader{in, t}, &watchedWriter{out, t}
	if f, ok := in.(*os.File); ok {
		t.in = &watchedIn{f, t}
		t.restore = restorer(f)
	}
	if f, ok := out.(*os.File); ok {
		t.out, t.tty = &watchedOut{f, t}, term.IsTerminal(f.Fd())
	}
	return t
}

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
	w.t.mu.Lock()
	defer w.t.mu.Unlock()
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
	w.t.mu.Lock()
	defer w.t.mu.Unlock()
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
