package port

import (
	"errors"
	"fmt"
	"io/fs"
	"time"

	"strawline/probe"
	"strawline/probe/board"
)

var (
	errStuck = errors.New("the write is stuck")
	errShort = errors.New("not all bytes were taken")
)

// to enters a state; Since stays if the state is the same.
func (p *Port) to(now time.Duration, s probe.LinkState, cause error) {
	if p.link.State != s {
		p.link.State, p.link.Since = s, now
	}
	p.cause, p.link.Other = cause, ""
	var oe *OpenError
	if s == probe.LinkOther && errors.As(cause, &oe) {
		p.link.Other = oe.Help
	}
}

// openIfDue tries to open, and reports whether it tried.
func (p *Port) openIfDue(now time.Duration) bool {
	if p.closed || now < p.due {
		return false
	}
	if p.closing != nil {
		// Our own lock still stands on the port: a try now would call it busy.
		select {
		case <-p.closing:
			p.closing = nil
		default:
			return false
		}
	}
	p.due = now + p.cfg.Retry
	var s Stream
	err := guarded(func() (err error) { s, err = p.open(); return err })
	if err != nil {
		p.to(now, stateOf(err), err)
		return true
	}
	p.stream, p.openedAt, p.lastGood = s, now, now
	p.sent, p.got, p.link.Bad = 0, 0, 0
	p.dec, p.first = board.Decoder{}, true
	p.to(now, probe.LinkWaiting, nil)
	if err := s.SetReadTimeout(p.cfg.ReadWait); err != nil {
		p.lose(now, "setting the read time-out of", err)
		return true
	}
	if p.other != nil {
		p.other.opened() // nothing is written to a board that does not speak our protocol
		return true
	}
	// Half a line that an earlier host left in the cable ends here.
	p.write(now, []byte("\r\n"))
	return true
}

// stateOf names the state that an error of an Opener stands for.
func stateOf(err error) probe.LinkState {
	var oe *OpenError
	switch {
	case errors.As(err, &oe):
		return oe.State
	case errors.Is(err, fs.ErrNotExist):
		return probe.LinkMissing
	case errors.Is(err, fs.ErrPermission):
		return probe.LinkDenied
	}
	return probe.LinkNotPort
}

// read reads once and takes the lines in; it gives the count of bytes.
func (p *Port) read(now time.Duration) int {
	var n int
	err := guarded(func() (err error) { n, err = p.stream.Read(p.buf[:]); return err })
	if n > 0 {
		p.got += uint64(n)
		if p.other != nil {
			p.other.feed(now, p.buf[:n])
		} else {
			p.dec.Feed(p.buf[:n], func(f board.Frame, err error) { p.line(now, f, err) })
		}
	}
	if err != nil {
		// The library says "closed" both for our own Close and for a port that vanished. Here
		// it is always the second: after our own Close the stream is nil and nothing reads it.
		p.lose(now, "reading", err)
	}
	return n
}

// tend does what time asks for: silence, reopening, queries, requests without an answer.
func (p *Port) tend(now time.Duration) {
	if p.stream == nil {
		return
	}
	switch p.link.State {
	case probe.LinkUp:
		if silence := p.silence(); now-p.lastGood >= silence {
			p.talk.ask = true
			p.doubt(now, "the board is silent")
			p.link.Board = nil // who speaks next is not known before it says so
			if p.stream != nil {
				p.to(now, probe.LinkSilent, fmt.Errorf("reading %s: no good line for %v",
					p.cfg.Name, silence))
			}
		}
	case probe.LinkWaiting:
		if now-p.openedAt >= p.patience {
			p.reopen(now)
		}
	case probe.LinkSilent:
		if now-p.link.Since >= p.patience {
			p.reopen(now)
		}
	}
	switch {
	case p.stream == nil:
	case p.other != nil:
		p.other.tend(now)
	case p.link.State == probe.LinkUp:
		p.converse(now)
	}
}

// reopen closes and opens a port that gives no good line. Since that resets most boards,
// each time it waits twice as long before the next.
func (p *Port) reopen(now time.Duration) {
	p.patience = min(2*p.patience, p.cfg.PatienceMax)
	p.stranger("the port was opened again")
	p.shut()
	p.due = now
	p.openIfDue(now)
}

// good notes a good line.
func (p *Port) good(now time.Duration) {
	p.lastGood = now
	p.patience = p.cfg.Patience
	p.to(now, probe.LinkUp, nil)
}

// lose closes a port that vanished.
func (p *Port) lose(now time.Duration, doing string, err error) {
	p.stranger("the link was lost")
	p.shut()
	p.due = now + p.cfg.Retry
	p.to(now, probe.LinkGone, fmt.Errorf("%s %s: %w: unplugged? it is opened again when it returns",
		doing, p.cfg.Name, err))
}

// shut closes the stream in a goroutine of its own, since that may hang.
func (p *Port) shut() {
	s, done := p.stream, make(chan struct{})
	p.stream = nil
	go func() {
		defer close(done)
		// Nothing can be done about an error of Close; the next try to open shows what is left.
		_ = guarded(s.Close)
	}()
	select {
	case <-done:
	case <-p.cfg.After(p.cfg.CloseLimit):
		p.closing = done
	}
}

// write writes one line, and reports whether the port has taken all of it. A port that does
// not is gone: what the board then has is unknown.
func (p *Port) write(now time.Duration, line []byte) bool {
	if p.stream == nil {
		return false
	}
	type result struct {
		n   int
		err error
	}
	// A stuck Write keeps its goroutine and its bytes until the device goes.
	s, done := p.stream, make(chan result, 1)
	go func() {
		var r result
		r.err = guarded(func() (err error) { r.n, err = s.Write(line); return err })
		done <- r
	}()
	r := result{err: errStuck}
	select {
	case r = <-done:
	case <-p.cfg.After(p.cfg.WriteLimit):
	}
	p.sent += uint64(max(r.n, 0))
	if r.err == nil && r.n != len(line) {
		r.err = errShort
	}
	if r.err != nil {
		p.lose(now, "writing to", r.err)
		return false
	}
	return true
}

// guarded calls f and makes an error of a panic: the library indexes out of range where a
// file number is 1024 or more.
func guarded(f func() error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("panic: %v", r)
		}
	}()
	return f()
}
