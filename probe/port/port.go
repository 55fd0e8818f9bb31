// Package port owns a serial port and the board behind it: it opens and locks the port,
// reads it, opens it again when it comes back, proves that the board speaks our line
// protocol, and carries duty frames out. It is the only importer of the serial library.
//
// What it tells are states with the time at which each began, never retries. Time comes in
// as an argument; only the limits that keep a call from blocking are counted by Config.After.
//
// Off is the resting state. Duty above 0 is sent only from within Command, so that frames
// stop when the caller stops, and only to a board that has answered a query since it last
// started; whenever the link is not up the wanted duty is forgotten.
package port

import (
	"fmt"
	"time"

	"strawline/probe"
	"strawline/probe/board"
)

// Stream is an open port, with the serial library's contract: Read returns at the first
// bytes, and (0, nil) after the read time-out; an error means that the stream has ended.
// Write may be short. Close may be called while a Write is stuck.
type Stream interface {
	Read(p []byte) (int, error)
	Write(p []byte) (int, error)
	SetReadTimeout(d time.Duration) error
	ResetInputBuffer() error
	Close() error
}

// Opener opens the port once. Its error is an *OpenError where the state is known.
type Opener func() (Stream, error)

// Config has the times of a port. A zero field takes its default.
type Config struct {
	Name string // what messages call the port; default "the port"

	// At most one of these is set: then the board speaks that instead of our protocol, and is
	// for reading only.
	Sketch  *Sketch
	Modules *Modules

	ReadWait    time.Duration // one Read; 50 ms: a fifth of the board's 250 ms interval
	Retry       time.Duration // between two tries to open; 0.5 s flat: a person waits for it
	Silence     time.Duration // without a good line: 1.5 s, as old as a reading may be to heat
	Patience    time.Duration // for a first line; 5 s: a reset board boots in about 2 s
	PatienceMax time.Duration // to which it doubles; 40 s: reopening resets most boards
	QueryEvery  time.Duration // between two queries; 1 s
	DutyEvery   time.Duration // between two duty frames; 1 s: a third of the board's dead man
	AnswerWait  time.Duration // for the answer to a request; 2 s: eight of the board's intervals

	WriteLimit   time.Duration // one Write; 250 ms: a frame of 20 bytes takes 6 ms at 38,400
	CloseLimit   time.Duration // waiting for Close; 250 ms, a real UART may hang for 30 s
	OffLimit     time.Duration // for the answer to the last duty 0; 1 s: four intervals
	CollectLimit time.Duration // in Collect without the bytes promised; 5 s

	// After counts these last four limits on the wall clock; default time.After. Where
	// `now` is simulated time they stay real: they guard against a call that hangs.
	After func(time.Duration) <-chan time.Time
}

func (c Config) withDefaults() Config {
	set := func(d *time.Duration, v time.Duration) {
		if *d == 0 {
			*d = v
		}
	}
	set(&c.ReadWait, 50*time.Millisecond)
	set(&c.Retry, 500*time.Millisecond)
	set(&c.Silence, 1500*time.Millisecond)
	set(&c.Patience, 5*time.Second)
	set(&c.PatienceMax, 40*time.Second)
	set(&c.QueryEvery, time.Second)
	set(&c.DutyEvery, time.Second)
	set(&c.AnswerWait, 2*time.Second)
	set(&c.WriteLimit, 250*time.Millisecond)
	set(&c.CloseLimit, 250*time.Millisecond)
	set(&c.OffLimit, time.Second)
	set(&c.CollectLimit, 5*time.Second)
	if c.Name == "" {
		c.Name = "the port"
	}
	if c.After == nil {
		c.After = time.After
	}
	return c
}

// Port is a port and what is known of the board behind it. One goroutine calls all its
// methods.
type Port struct {
	cfg  Config
	open Opener

	// The opening.
	stream    Stream
	closing   chan struct{} // a Close that hung; nil if none
	closed    bool          // by Close: it stays closed
	due       time.Duration // of the next try to open
	openedAt  time.Duration
	patience  time.Duration
	lastGood  time.Duration
	sent, got uint64
	dec       board.Decoder
	first     bool // no line has ended since the opening
	buf       [512]byte

	link  probe.Link
	cause error
	other other // nil on a board of our protocol

	talk  talk
	batch probe.Batch
}

// New makes a closed port; nothing is opened before the first Poll or Collect. A Sketch whose
// Shape is none panics: check it first with Shape.Check.
func New(cfg Config, open Opener) *Port {
	cfg = cfg.withDefaults()
	p := &Port{cfg: cfg, open: open, patience: cfg.Patience}
	switch {
	case cfg.Sketch != nil:
		s, err := newSketch(p, *cfg.Sketch)
		if err != nil {
			panic(err)
		}
		p.other = s
	case cfg.Modules != nil:
		p.other = newModules(p, *cfg.Modules)
	}
	return p
}

// Poll opens the port if that is due, or reads once, and returns what it saw. It takes about
// Config.ReadWait, also while nothing is open, so that a loop of Polls neither spins nor
// stalls; a try to open, a stuck Write or Close take their own limits. Readings are marked
// with now, which is before the Read: they may be younger than they say, never older.
func (p *Port) Poll(now time.Duration) probe.Batch {
	switch {
	case p.stream != nil:
		p.read(now)
	case !p.openIfDue(now):
		<-p.cfg.After(p.cfg.ReadWait)
	}
	p.tend(now)
	return p.take()
}

// Collect is Poll for lockstep: it reads until this opening has given said bytes or the
// stream ends. If nothing is open it opens if that is due and reads nothing, since said
// belongs to an opening that has ended. The error says that the bytes promised did not come
// within Config.CollectLimit, or that more came; the batch holds what did come.
func (p *Port) Collect(now time.Duration, said uint64) (probe.Batch, error) {
	if p.stream == nil {
		p.openIfDue(now)
		return p.take(), nil
	}
	err := p.readUntil(now, said)
	p.tend(now)
	return p.take(), err
}

func (p *Port) readUntil(now time.Duration, said uint64) error {
	var late <-chan time.Time
	for p.stream != nil && p.got < said {
		if p.read(now) > 0 || p.stream == nil {
			continue
		}
		if late == nil {
			late = p.cfg.After(p.cfg.CollectLimit)
		}
		select {
		case <-late:
			return fmt.Errorf("reading %s: %d of %d bytes came within %v",
				p.cfg.Name, p.got, said, p.cfg.CollectLimit)
		default:
		}
	}
	if p.stream != nil && p.got > said {
		return fmt.Errorf("reading %s: %d bytes came where %d were said", p.cfg.Name, p.got, said)
	}
	return nil
}

// Sent counts the bytes written to this opening, or to the last one if nothing is open.
func (p *Port) Sent() uint64 { return p.sent }

// Got counts the bytes read from this opening, or from the last one if nothing is open.
func (p *Port) Got() uint64 { return p.got }

// Err says in one line why the link is in a state other than closed, waiting or up; nil there.
func (p *Port) Err() error { return p.cause }

// take hands out what was seen since the last take.
func (p *Port) take() probe.Batch {
	b := p.batch
	b.Link = p.link
	if p.other != nil {
		b.Link.Interval = p.other.interval()
	}
	p.batch = probe.Batch{}
	return b
}
