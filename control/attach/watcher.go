package attach

import (
	"context"
	"errors"
	"io"
	"slices"
	"sync"
	"time"

	"strawline/control"
)

// How a watcher comes back to a keeper that it lost. Our choices.
const (
	backEvery = 500 * time.Millisecond
	BackLimit = 30 * time.Second // then the keeper counts as gone
	mostAsks  = 64               // that wait to be sent
)

// Watcher is a screen's source in another process: a tui.Source. It comes back by itself when
// the connection is lost, and then begins anew with the past.
type Watcher struct {
	d     Door
	run   string
	leave context.CancelFunc
	done  chan struct{}

	mu       sync.Mutex
	c        *watching // nil while it is lost
	info     *control.Info
	snap     control.Snapshot
	fresh    bool
	past     []control.Past
	lease    Lease
	asks     []asked // not yet sent
	sent     []asked // not yet answered
	id       uint64
	refusals int // by the keeper and here, not by the run
	refused  string
	over     *Outcome
	err      error         // why there is no more
	bell     chan struct{} // one place: something to show
	out      chan struct{} // one place: something to send
	take     bool
}

func newWatcher(d Door, c *watching) *Watcher {
	ctx, cancel := context.WithCancel(context.Background())
	w := &Watcher{d: d, run: c.run, leave: cancel, done: make(chan struct{}),
		bell: make(chan struct{}, 1), out: make(chan struct{}, 1)}
	go w.live(ctx, c)
	return w
}

// Run gives the name of the run.
func (w *Watcher) Run() string { return w.run }

// Close leaves the keeper; the run goes on.
func (w *Watcher) Close() {
	w.leave()
	<-w.done
}

func ring(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// live keeps a connection until the run is over, the keeper gone or the watcher closed.
func (w *Watcher) live(ctx context.Context, c *watching) {
	defer close(w.done)
	for {
		err := w.attend(ctx, c)
		if ctx.Err() != nil {
			err = ctx.Err()
		} else if !w.ended() {
			c, err = w.back(ctx)
			if err == nil {
				continue
			}
		}
		w.mu.Lock()
		if w.err = err; w.over != nil {
			w.err = io.EOF
		}
		w.mu.Unlock()
		ring(w.bell)
		return
	}
}

func (w *Watcher) ended() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.over != nil
}

// back dials until the keeper answers again.
func (w *Watcher) back(ctx context.Context) (*watching, error) {
	until := w.d.Now().Add(BackLimit)
	for {
		c, err := w.d.watch(ctx, w.run)
		var no *Refusal
		switch {
		case err == nil:
			return c, nil
		case errors.As(err, &no), errors.Is(err, ErrVersion), w.d.Now().After(until):
			return nil, err
		}
		if !sleep(ctx, backEvery) {
			return nil, ctx.Err()
		}
	}
}

// attend reads one connection to its end, while another goroutine writes.
func (w *Watcher) attend(ctx context.Context, c *watching) error {
	defer c.nc.Close()
	stop := context.AfterFunc(ctx, func() { c.nc.Close() })
	defer stop()
	ended, wrote := make(chan struct{}), make(chan struct{})
	w.mu.Lock()
	w.c = c
	w.mu.Unlock()
	go func() {
		defer close(wrote)
		w.send(c, ended)
	}()
	ring(w.out)
	var err error
	for err == nil {
		var m message
		if m, err = c.in.next(); err == nil {
			w.takeIn(m)
		}
		if m.Over != nil {
			break
		}
	}
	close(ended)
	c.nc.Close()
	<-wrote
	w.mu.Lock()
	defer w.mu.Unlock()
	w.c, w.lease = nil, Lease{}
	w.drop()
	return err
}

// drop forgets what was asked on a lost connection and may raise the heat: the person asks again,
// knowing what the run does now. The rest is sent again: asked twice it does no more.
func (w *Watcher) drop() {
	n := 0
	var again []asked
	for _, a := range append(w.sent, w.asks...) {
		switch {
		case a.Ask.Kind.Raises():
			n++
		case a.Ask.Kind != control.AskNote:
			again = append(again, a)
		}
	}
	w.sent, w.asks = nil, again
	w.take = false
	if n > 0 {
		w.refuse("the keeper was out of reach: look, and ask again")
	}
}

// refuse tells the person; the lock is held.
func (w *Watcher) refuse(why string) {
	w.refusals++
	w.refused = why
	w.fresh = w.fresh || w.snap.Info != nil
	ring(w.bell)
}

func (w *Watcher) takeIn(m message) {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch {
	case m.Snap != nil:
		if m.Snap.Info != nil {
			w.info = m.Snap.Info
		}
		if m.Snap.Refusals > w.snap.Refusals {
			w.refused = m.Snap.Refused
		}
		w.snap, w.fresh = m.Snap.snapshot(w.info), true
	case m.Past != nil:
		if m.Past.From <= len(w.past) {
			w.past = append(w.past[:m.Past.From], m.Past.Spans...)
		}
	case m.Lease != nil:
		w.lease = *m.Lease
	case m.Over != nil:
		w.over = m.Over
	case m.Answer != nil:
		for i, a := range w.sent {
			if a.ID == m.Answer.ID {
				w.sent = slices.Delete(w.sent, i, i+1)
				break
			}
		}
		if m.Answer.Refusal != nil {
			w.refuse(m.Answer.Refusal.Text)
		}
	}
	ring(w.bell)
}

// send writes what is asked until the connection ends.
func (w *Watcher) send(c *watching, ended <-chan struct{}) {
	for {
		select {
		case <-ended:
			return
		case <-w.out:
		}
		for {
			m, some := w.next()
			if !some {
				break
			}
			if c.nc.SetWriteDeadline(w.d.Now().Add(WriteLimit)) != nil || c.say(m) != nil {
				c.nc.Close() // the reader notices
				return
			}
		}
	}
}

func (w *Watcher) next() (message, bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.take {
		w.take = false
		return message{Take: true}, true
	}
	if len(w.asks) == 0 {
		return message{}, false
	}
	a := w.asks[0]
	w.asks = w.asks[1:]
	w.sent = append(w.sent, a)
	return message{Ask: &a}, true
}

// Next waits for a Snapshot newer than the last and gives the newest; io.EOF when the run is over
// and the last was given.
func (w *Watcher) Next(ctx context.Context) (control.Snapshot, error) {
	for {
		w.mu.Lock()
		fresh, err := w.fresh, w.err
		s := w.snap
		w.fresh = false
		if w.refusals > 0 { // beside those of the run itself
			s.Refusals += w.refusals
			s.Refused = w.refused
		}
		w.mu.Unlock()
		switch {
		case fresh:
			return s, nil
		case err != nil:
			return control.Snapshot{}, err
		}
		select {
		case <-ctx.Done():
			return control.Snapshot{}, ctx.Err()
		case <-w.bell:
		}
	}
}

// Info waits for the head of the run, and leaves the Snapshot that it came with to Next.
func (w *Watcher) Info(ctx context.Context) (*control.Info, error) {
	s, err := w.Next(ctx)
	if err != nil {
		return nil, err
	}
	w.mu.Lock()
	w.fresh = true
	w.mu.Unlock()
	ring(w.bell)
	return s.Info, nil
}

// Past gives the run's past up to the newest Snapshot.
func (w *Watcher) Past() []control.Past {
	w.mu.Lock()
	defer w.mu.Unlock()
	return slices.Clone(w.past)
}

// Ask sends what a person asks; it never waits. What may raise the heat is not kept for a keeper
// that is out of reach.
func (w *Watcher) Ask(a control.Ask) {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch {
	case w.c == nil && a.Kind.Raises():
		w.refuse("the keeper is out of reach")
		return
	case a.Kind.Raises() && len(w.asks) >= mostAsks:
		w.refuse("too much was asked at once")
		return
	}
	w.id++
	w.asks = append(w.asks, asked{ID: w.id, Ask: a})
	ring(w.out)
}

// Lease says who may raise the heat of the run.
func (w *Watcher) Lease() (name string, mine bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.lease.Name, w.lease.Mine
}

// Take takes that over.
func (w *Watcher) Take() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.take = true
	ring(w.out)
}

// Outcome says how the run ended; false while it has not, or where nobody told.
func (w *Watcher) Outcome() (Outcome, bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.over == nil {
		return Outcome{}, false
	}
	return *w.over, true
}
