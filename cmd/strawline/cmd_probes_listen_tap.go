package main

import (
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"strawline/probe/board"
	"strawline/probe/port"
)

// tap opens a port and lets what comes from it be heard as well. A stream that is open can be
// handed on to another port.Port: opening it again would start most boards again.
type tap struct {
	open  port.Opener
	heard func(p []byte)
	now   *tapped // open, nil if nothing is
	keep  bool    // the next opening takes now
}

// tapped is a stream under a tap.
type tapped struct {
	port.Stream
	tap *tap
}

func (t *tap) opener() (port.Stream, error) {
	if t.keep && t.now != nil {
		t.keep = false
		return t.now, nil
	}
	s, err := t.open()
	if err != nil {
		return nil, err
	}
	t.keep, t.now = false, &tapped{s, t}
	return t.now, nil
}

// Read reads, and lets it be heard.
func (s *tapped) Read(p []byte) (int, error) {
	n, err := s.Stream.Read(p)
	if n > 0 && s.tap.heard != nil {
		s.tap.heard(p[:n])
	}
	if err != nil {
		s.tap.now = nil
	}
	return n, err
}

// mostShown bytes of a line are shown; what a sketch prints is shorter.
const mostShown = 160

// lull is how long an unfinished line is waited for.
const lull = time.Second

// cutter cuts what comes into lines, as they came.
type cutter struct {
	buf  []byte
	more int // bytes left out of buf
	last time.Duration
}

// feed calls line for each line that ends in p: at CR, LF or both. Empty ones are passed over.
func (c *cutter) feed(now time.Duration, p []byte, line func(string)) {
	c.last = now
	for _, b := range p {
		switch {
		case b == '\n' || b == '\r':
			c.end("", line)
		case len(c.buf) < mostShown:
			c.buf = append(c.buf, b)
		default:
			c.more++
		}
	}
}

// tend gives up waiting for the end of a line.
func (c *cutter) tend(now time.Duration, line func(string)) {
	if now-c.last >= lull {
		c.end(" (no line end)", line)
	}
}

func (c *cutter) end(mark string, line func(string)) {
	if len(c.buf) == 0 {
		return
	}
	text := visible(string(c.buf))
	if c.more > 0 {
		text += fmt.Sprintf(" (and %d bytes)", c.more)
	}
	c.buf, c.more = c.buf[:0], 0
	line(text + mark)
}

// visible writes a text so that nothing in it moves the cursor, colours or hides: what is no
// printable character stands as its bytes, \x1B.
func visible(s string) string {
	var out strings.Builder
	for len(s) > 0 {
		r, n := utf8.DecodeRuneInString(s)
		if r == utf8.RuneError && n == 1 || !unicode.IsPrint(r) {
			for _, b := range []byte(s[:n]) {
				fmt.Fprintf(&out, `\x%02X`, b)
			}
		} else {
			out.WriteString(s[:n])
		}
		s = s[n:]
	}
	return out.String()
}

// Rules by which a port's kind and speed are told; our own.
const (
	proofFrames = 2                       // lines of our protocol, each with its check
	settleTime  = 2500 * time.Millisecond // what a board says while it boots may be no text
	textLeast   = 32                      // bytes to judge by
	oddShare    = 4                       // a quarter of them that is no text: another speed
)

// teller tells what is on a port from what comes.
type teller struct {
	dec    board.Decoder
	frames int // of our protocol, as a board sends them
	bytes  int // all that came
	n, odd int // since the board had time to boot
}

func (t *teller) feed(since time.Duration, p []byte) {
	t.bytes += len(p)
	t.dec.Feed(p, func(f board.Frame, err error) {
		switch f.(type) {
		case board.Boot, board.Info, board.Reading, board.Ack:
			t.frames++
		}
		if errors.Is(err, board.ErrVersion) {
			t.frames++
		}
	})
	if since < settleTime {
		return
	}
	t.n += len(p)
	for _, b := range p {
		if !usual(b) {
			t.odd++
		}
	}
}

// usual tells that a byte may stand in a line of text: printable, an end of line, a tab, the
// escape of a colour, or a part of a degree, ordinal or section sign in UTF-8 or Latin-1.
func usual(b byte) bool {
	return b >= ' ' && b < 0x7f || strings.IndexByte("\t\r\n\x1b\xc2\xb0\xba\xa7", b) >= 0
}

// ours tells that a board of our protocol speaks.
func (t *teller) ours() bool { return t.frames >= proofFrames }

// garbled tells that what comes is no text: the speed is another one.
func (t *teller) garbled() bool { return t.n >= textLeast && t.odd*oddShare > t.n }
