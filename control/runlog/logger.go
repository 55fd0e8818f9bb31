package runlog

import (
	"context"
	"sync"

	"strawline/control"
)

// queueLen is a minute of samples at 4 Hz and as many events and to spare.
const queueLen = 512

// item is one thing in the queue.
type item struct {
	lost Loss           // what had no room before it
	rec  control.Record // may be empty
	done chan State     // told when all before it is done; may be nil
}

// Logger owns a Writer in its own goroutine, so that an engine never waits for a disk. Its
// methods may be called from any goroutine.
type Logger struct {
	w     *Writer
	queue chan item // never closed, so that a late Flush cannot panic
	stop  chan struct{}
	ended chan struct{}

	mu     sync.Mutex
	lost   Loss // had no room, not yet sent to the goroutine
	untold int  // had no room and are not yet in state.Lost
	state  State
	closed bool
	whole  bool  // the goroutine came to its regular end
	err    error // of closing the file
}

// Start takes w over and starts the goroutine that writes. The goroutine's work runs inside
// guard, which recovers a panic and does what the keeper wants then; nil means no guard. After
// a panic Put gives false and Flush and Close give ErrStopped.
func Start(w *Writer, guard func(work func())) *Logger {
	l := &Logger{w: w, queue: make(chan item, queueLen), stop: make(chan struct{}),
		ended: make(chan struct{}), state: w.State(), lost: queueLoss()}
	if guard == nil {
		guard = func(work func()) { work() }
	}
	go func() {
		defer close(l.ended)
		defer w.d.Close() // again after a regular end, which does nothing
		guard(l.run)
	}()
	return l
}

func queueLoss() Loss { return Loss{Code: "queue", Why: "the queue to the disk was full"} }

// Put hands over a record and never waits. Neither it nor what it points to may change
// afterwards. False means that it is lost: the queue was full or the goroutine has ended. The
// next record that finds room takes the news with it into the file.
func (l *Logger) Put(r control.Record) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if !l.over() && l.send(item{rec: r}) {
		return true
	}
	t, _ := when(r)
	l.lost.add(1, t, t)
	l.untold++
	return false
}

// over tells whether nobody reads the queue any more. The lock is held.
func (l *Logger) over() bool {
	select {
	case <-l.ended:
		return true
	default:
		return l.closed
	}
}

// send puts it into the queue if there is room. The lock is held.
func (l *Logger) send(it item) bool {
	it.lost = l.lost
	select {
	case l.queue <- it:
		l.lost = queueLoss()
		return true
	default:
		return false
	}
}

// Flush waits until every record put before it is in the file or, if the disk does not take
// it, in memory; then the error is the disk's, and the run may go on. It ends early with ctx.
func (l *Logger) Flush(ctx context.Context) error {
	done := make(chan State, 1)
	for {
		l.mu.Lock()
		over := l.over()
		sent := !over && l.send(item{done: done})
		l.mu.Unlock()
		if over {
			return l.stopped("write")
		}
		if sent {
			return l.wait(ctx, done)
		}
		// The queue is full: wait until what stands in it now is done, then ask again, so
		// that the news of a loss goes in as well.
		select {
		case l.queue <- item{done: done}:
		case <-l.ended:
			return l.stopped("write")
		case <-ctx.Done():
			return ctx.Err()
		}
		if err := l.wait(ctx, done); err != nil {
			return err
		}
	}
}

func (l *Logger) stopped(op string) error {
	return &Error{Op: op, Path: l.w.path, Wrong: ErrStopped.Error(), Err: ErrStopped}
}

func (l *Logger) wait(ctx context.Context, done chan State) error {
	select {
	case s := <-done:
		return s.Err
	case <-l.ended:
		return l.stopped("write")
	case <-ctx.Done():
		return ctx.Err()
	}
}

// State tells how the writing goes, as of the last record that the goroutine has taken; Lost
// counts what found no room in the queue at once.
func (l *Logger) State() State {
	l.mu.Lock()
	defer l.mu.Unlock()
	s := l.state
	s.Lost += l.untold
	if l.over() && !l.whole {
		s.Err = ErrStopped
	}
	return s
}

// Close writes what is in the queue, closes the file and ends the goroutine. It ends early
// with ctx; then the goroutine goes on to its own end. A second call gives the same answer.
func (l *Logger) Close(ctx context.Context) error {
	l.mu.Lock()
	if !l.closed {
		l.closed = true
		close(l.stop)
	}
	l.mu.Unlock()
	select {
	case <-l.ended:
	case <-ctx.Done():
		return ctx.Err()
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if !l.whole {
		return l.stopped("close")
	}
	return l.err
}

// run is the goroutine's work: until Close, and then what still stands in the queue.
func (l *Logger) run() {
	for going := true; going; {
		select {
		case it := <-l.queue:
			l.do(it)
			continue
		case <-l.stop:
		}
		for going {
			select {
			case it := <-l.queue:
				l.do(it)
			default:
				going = false
			}
		}
	}
	l.mu.Lock()
	lost := l.lost
	l.lost = queueLoss()
	l.mu.Unlock()
	if lost.Count > 0 {
		l.w.Lose(lost)
	}
	err := l.w.Close()
	l.mu.Lock()
	l.state, l.err, l.whole = l.w.State(), err, true
	l.untold -= lost.Count
	l.mu.Unlock()
}

// do writes one thing of the queue. Errors show in the state.
func (l *Logger) do(it item) {
	if it.lost.Count > 0 {
		l.w.Lose(it.lost)
	}
	if it.rec != (control.Record{}) {
		l.w.Append(it.rec)
	}
	s := l.w.State()
	l.mu.Lock()
	l.state = s
	l.untold -= it.lost.Count
	l.mu.Unlock()
	if it.done != nil {
		it.done <- s
	}
}
