package tui

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"strawline/control"
	"strawline/probe/temp"
)

// Options say how a screen behaves. The zero value is a live screen on the standard terminal.
type Options struct {
	LeaveStops bool      // leaving ends the run: the screen asks first, and then asks to stop
	Unit       temp.Unit // what the person reads
	Replay     Controls  // nil on a live run
	Lease      Lease     // nil where no other screen can watch
	// Tuned gives what a tuning test came to, once it is done; nil if the screen cannot know.
	Tuned     func() (Tuned, error)
	Call      Call      // how it calls a person who does not look at it
	First     string    // what the screen says first; "" for nothing
	Transport string    // how the board is reached, said on the screen; "" for nothing
	In        io.Reader // nil: standard input
	Out       io.Writer // nil: standard output
	NoInput   bool      // take no keys at all
	Now       func() time.Time
}

// ErrGone says that the terminal went away under the screen. Whoever ran it decides what that
// means for the run.
var ErrGone = errors.New("the terminal is gone")

// ErrStuck says that the terminal took nothing more, so that the screen could not be closed.
var ErrStuck = errors.New("the terminal is stuck")

const (
	newsEvery = 250 * time.Millisecond // no more than four messages a second
	closeIn   = 2 * time.Second        // time to restore a terminal that still listens
	frames    = 10                     // a second
)

// Run shows src until the person leaves (nil), ctx ends (its error), the terminal is gone
// (ErrGone) or the screen fails. It returns within about two seconds of any of these, even
// when the terminal takes nothing more. It takes no signals: they are the caller's, who ends
// ctx. Only its own goroutine sends messages to the screen, so a stalled terminal stops
// nothing but the picture.
func Run(ctx context.Context, src Source, o Options) error {
	if o.Now == nil {
		o.Now = time.Now
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	t := newTerminal(o)
	if !t.tty {
		o.Call = Call{}
	}
	m := newModel(o, NewInk(t.profile), src.Ask, t.later)
	opts := []tea.ProgramOption{tea.WithAltScreen(), tea.WithoutSignalHandler(),
		tea.WithFPS(frames), tea.WithOutput(t.out)}
	if o.NoInput {
		opts = append(opts, tea.WithInput(nil))
	} else {
		opts = append(opts, tea.WithInput(t.in))
	}
	p := tea.NewProgram(m, opts...)

	var wait sync.WaitGroup
	failed := make(chan error, 2)
	wait.Add(1)
	go guarded(&wait, failed, func() { feed(ctx, src, p.Send) })
	ended := make(chan error, 1)
	go func() {
		t.open(m.call.how.Title)
		_, err := p.Run()
		t.close(m.call.how.Title)
		ended <- err
	}()
	err := watchOver(ctx, p, t, failed, ended)
	cancel()
	if !errors.Is(err, ErrStuck) {
		wait.Wait() // the program is over: nothing can block Send now
	}
	return err
}

// watchOver waits for whatever ends the screen first, and closes it.
func watchOver(ctx context.Context, p *tea.Program, t *terminal, failed, ended chan error) error {
	var why error
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
		why = context.Cause(ctx)
		go p.Quit() // Send may block on a stalled terminal
	case <-t.gone:
		why = ErrGone
		p.Kill()
	case why = <-failed:
		go p.Quit() // after Kill the reader of keys may stay behind
	}
	limit := time.NewTimer(closeIn)
	defer limit.Stop()
	select {
	case <-ended:
		return why
	case <-t.gone:
		p.Kill()
		why = errors.Join(why, ErrGone)
	case <-limit.C: // what is left behind quits by itself if the terminal ever listens again
		t.restore()
		return errors.Join(why, ErrStuck)
	}
	select {
	case <-ended:
		return why
	case <-limit.C:
		t.restore()
		return errors.Join(why, ErrStuck)
	}
}

// guarded runs f and turns a panic of it into an error.
func guarded(wait *sync.WaitGroup, failed chan<- error, f func()) {
	defer wait.Done()
	defer func() {
		if r := recover(); r != nil {
			failed <- fmt.Errorf("the screen's feed failed: %v", r)
		}
	}()
	f()
}

// feed waits for Snapshots and sends them on, at most four a second. What came in between is
// gone: the source gives the newest. The past is looked at again when one of its ten-second
// spans is over, so that the line loses nothing of what the digits skip.
func feed(ctx context.Context, src Source, send func(tea.Msg)) {
	pause := time.NewTimer(0)
	defer pause.Stop()
	last := time.Duration(-1)
	for {
		s, err := src.Next(ctx)
		if err != nil {
			if ctx.Err() == nil {
				send(overMsg{err})
			}
			return
		}
		msg := newsMsg{s: s}
		if at := s.T.Truncate(control.PastSpan); at != last {
			last = at
			if msg.past = src.Past(); msg.past == nil {
				msg.past = []control.Past{}
			}
		}
		send(msg)
		pause.Reset(newsEvery)
		select {
		case <-ctx.Done():
			return
		case <-pause.C:
		}
	}
}
