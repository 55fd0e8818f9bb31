package sim

import (
	"errors"
	"fmt"
	"io/fs"
	"sync"
	"syscall"
	"time"
)

// perRead is the most that one Read of a Conn gives: what a USB bridge hands over at once.
const perRead = 64

var errAttached = errors.New("the simulated board has a link already")

// Memory is an in-memory link to a Board.
type Memory struct {
	mu     sync.Mutex
	after  func(time.Duration) <-chan time.Time
	out    bool // unplugged
	closed bool
	conn   *Conn
	toHost []byte
	toBrd  []byte
	wake   chan struct{} // closed and made new at each change that a Read waits for
}

// Memory attaches an in-memory link. A board has one link for its life.
func (b *Board) Memory() (*Memory, error) {
	m := &Memory{after: b.cfg.After, wake: make(chan struct{})}
	if err := b.attach(m); err != nil {
		return nil, err
	}
	return m, nil
}

func (b *Board) attach(l link) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch {
	case b.closed:
		return ErrClosed
	case b.link != nil:
		return errAttached
	}
	b.link = l
	return nil
}

// Open opens the link; the caller then calls Board.Opened. The error wraps fs.ErrNotExist
// while the cable is out or the board is closed, and syscall.EBUSY while it is open already.
func (m *Memory) Open() (*Conn, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	switch {
	case m.out || m.closed:
		return nil, fmt.Errorf("opening the simulated board: %w", fs.ErrNotExist)
	case m.conn != nil:
		return nil, fmt.Errorf("opening the simulated board: %w", syscall.EBUSY)
	}
	m.conn = &Conn{m: m, wait: -1}
	m.toHost, m.toBrd = m.toHost[:0], m.toBrd[:0]
	return m.conn, nil
}

func (m *Memory) changed() {
	close(m.wake)
	m.wake = make(chan struct{})
}

func (m *Memory) take(dst []byte) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if len(m.toBrd) < len(dst) {
		return fmt.Errorf("%d host bytes were granted and %d are there", len(dst), len(m.toBrd))
	}
	copy(dst, m.toBrd)
	m.toBrd = append(m.toBrd[:0], m.toBrd[len(dst):]...)
	return nil
}

func (m *Memory) here(dst []byte) int {
	m.mu.Lock()
	defer m.mu.Unlock()
	n := copy(dst, m.toBrd)
	m.toBrd = append(m.toBrd[:0], m.toBrd[n:]...)
	return n
}

func (m *Memory) give(p []byte) int {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.conn == nil || len(p) == 0 {
		return 0
	}
	n := min(len(p), linkSize-len(m.toHost))
	m.toHost = append(m.toHost, p[:n]...)
	m.changed()
	return n
}

func (m *Memory) flush() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.toHost, m.toBrd = m.toHost[:0], m.toBrd[:0]
}

// drop ends the open stream from the board's side.
func (m *Memory) drop() {
	m.toHost, m.toBrd = m.toHost[:0], m.toBrd[:0]
	if m.conn != nil {
		m.conn.gone = true
		m.conn = nil
	}
	m.changed()
}

func (m *Memory) unplug() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.out = true
	m.drop()
	return nil
}

func (m *Memory) plug() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.out = false
	return nil
}

func (m *Memory) close() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.closed = true
	m.drop()
	return nil
}

// Conn is one opening of a Memory, with the contract of an open serial port.
type Conn struct {
	m    *Memory
	wait time.Duration // of a Read; below 0 for ever
	gone bool          // the other end has gone
	shut bool          // by Close
}

// Read waits for bytes up to the read time-out and gives those that are there, 64 at most,
// or (0, nil) at the time-out. After Close the error wraps fs.ErrClosed, and when the cable
// is out or the board closed, syscall.EIO.
func (c *Conn) Read(p []byte) (int, error) {
	m := c.m
	var late <-chan time.Time
	for {
		m.mu.Lock()
		if err := c.err("reading"); err != nil || len(p) == 0 {
			m.mu.Unlock()
			return 0, err
		}
		if len(m.toHost) > 0 {
			n := copy(p[:min(len(p), perRead)], m.toHost)
			m.toHost = append(m.toHost[:0], m.toHost[n:]...)
			m.mu.Unlock()
			return n, nil
		}
		wake, wait := m.wake, c.wait
		m.mu.Unlock()
		if wait == 0 {
			return 0, nil
		}
		if late == nil && wait > 0 {
			late = m.after(wait)
		}
		select {
		case <-wake:
		case <-late:
			return 0, nil
		}
	}
}

func (c *Conn) err(doing string) error {
	switch {
	case c.shut:
		return fmt.Errorf("%s the simulated board: %w", doing, fs.ErrClosed)
	case c.gone:
		return fmt.Errorf("%s the simulated board: %w", doing, syscall.EIO)
	}
	return nil
}

// Write writes p. It is short if the board has not taken 64 KiB written before. The errors
// are those of Read.
func (c *Conn) Write(p []byte) (int, error) {
	m := c.m
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := c.err("writing to"); err != nil {
		return 0, err
	}
	n := min(len(p), linkSize-len(m.toBrd))
	m.toBrd = append(m.toBrd, p[:n]...)
	return n, nil
}

// SetReadTimeout sets how long the Reads that follow wait; below 0 for ever, as at first.
func (c *Conn) SetReadTimeout(d time.Duration) error {
	c.m.mu.Lock()
	defer c.m.mu.Unlock()
	c.wait = d
	return nil
}

// ResetInputBuffer throws away what was not read. The errors are those of Read.
func (c *Conn) ResetInputBuffer() error {
	c.m.mu.Lock()
	defer c.m.mu.Unlock()
	if err := c.err("setting up"); err != nil {
		return err
	}
	c.m.toHost = c.m.toHost[:0]
	return nil
}

// Close closes this opening and wakes a Read that waits. Closing again does nothing.
func (c *Conn) Close() error {
	m := c.m
	m.mu.Lock()
	defer m.mu.Unlock()
	if c.shut {
		return nil
	}
	c.shut = true
	if m.conn == c {
		m.conn = nil
		m.toHost = m.toHost[:0]
	}
	m.changed()
	return nil
}
