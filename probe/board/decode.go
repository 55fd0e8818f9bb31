package board

import (
	"bytes"
	"errors"
	"fmt"

	"strawline/probe"
)

// The kinds of a bad line, for errors.Is. The first that applies is told, in this order:
// length, the line's frame of star, check and end, the check itself, then the fields.
var (
	ErrLong    = errors.New("line too long")
	ErrForm    = errors.New("not a line of the protocol")
	ErrCRC     = errors.New("wrong check")
	ErrVersion = errors.New("another version of the protocol")
	ErrRange   = errors.New("field out of range")
)

// LineError says what is wrong with one line.
type LineError struct {
	Kind error  // ErrLong, ErrForm, ErrCRC, ErrVersion or ErrRange
	Line string // the line's first bytes, 24 at most
}

// Error gives the kind and the line's beginning, quoted.
func (e *LineError) Error() string { return fmt.Sprintf("%v: %q", e.Kind, e.Line) }

// Unwrap gives the kind.
func (e *LineError) Unwrap() error { return e.Kind }

func bad(kind error, line []byte) *LineError {
	return &LineError{Kind: kind, Line: string(line[:min(len(line), 24)])}
}

const (
	maxBytes  = MaxLine + tailBytes
	tailBytes = len("*FFFF\r\n")
)

// Decoder cuts a stream of bytes into lines. It holds one line at most, so its memory does
// not grow whatever comes. The zero value is ready.
type Decoder struct {
	buf  [maxBytes]byte
	n    int
	skip bool // in a line already told as too long
}

// Feed takes the next bytes and calls yield once for each line that ends in them: with its
// frame, or with a *LineError. Empty lines are passed over. A line that is too long is told
// when its 96th byte is no line end, and its rest is passed over. How the bytes are split
// between calls changes nothing.
func (d *Decoder) Feed(p []byte, yield func(Frame, error)) {
	for _, b := range p {
		if d.skip {
			d.skip = b != '\n'
			continue
		}
		d.buf[d.n] = b
		d.n++
		line := d.buf[:d.n]
		switch {
		case b == '\n':
			d.n = 0
			if len(line) == 2 && line[0] == '\r' {
				continue
			}
			f, err := Decode(line)
			yield(f, err)
		case d.n == maxBytes:
			d.n, d.skip = 0, true
			yield(nil, bad(ErrLong, line))
		}
	}
}

// Reset forgets the half line that it holds.
func (d *Decoder) Reset() { d.n, d.skip = 0, false }

// Decode reads one line with its line end. The error is a *LineError.
func Decode(line []byte) (Frame, error) {
	if len(line) > maxBytes {
		return nil, bad(ErrLong, line)
	}
	star := len(line) - tailBytes
	if star < 0 || line[star] != '*' || line[len(line)-2] != '\r' || line[len(line)-1] != '\n' {
		return nil, bad(ErrForm, line)
	}
	check := fields{rest: line[star+1 : star+5]}
	want := check.hex(4)
	if check.err != nil {
		return nil, bad(ErrForm, line)
	}
	if CRC(line[:star]) != uint16(want) {
		return nil, bad(ErrCRC, line)
	}
	if star < 3 || line[1] != ',' {
		return nil, bad(ErrForm, line)
	}
	f := fields{rest: line[2:star]}
	frame := f.frame(line[0])
	if !f.end && f.err == nil {
		f.err = ErrForm
	}
	if f.err != nil {
		return nil, bad(f.err, line)
	}
	return frame, nil
}

// fields reads comma-separated fields from left to right and keeps the first error.
type fields struct {
	rest []byte
	end  bool // the last field was read
	err  error
}

func (f *fields) fail(err error) {
	if f.err == nil {
		f.err = err
	}
}

func (f *fields) next() []byte {
	if f.end {
		f.fail(ErrForm)
		return nil
	}
	i := bytes.IndexByte(f.rest, ',')
	if i < 0 {
		f.end = true
		return f.rest
	}
	field := f.rest[:i]
	f.rest = f.rest[i+1:]
	return field
}

// num reads a decimal number from lo to hi.
func (f *fields) num(lo, hi uint64) uint64 {
	p := f.next()
	if len(p) == 0 || len(p) > 1 && p[0] == '0' {
		f.fail(ErrForm)
		return 0
	}
	var v uint64
	for _, c := range p {
		if c < '0' || c > '9' {
			f.fail(ErrForm)
			return 0
		}
		v = min(v*10+uint64(c-'0'), 1<<40) // far above every hi, far below overflow
	}
	if v < lo || v > hi {
		f.fail(ErrRange)
		return 0
	}
	return v
}

func (f *fields) hex(digits int) uint32 {
	p := f.next()
	if len(p) != digits {
		f.fail(ErrForm)
		return 0
	}
	var v uint32
	for _, c := range p {
		switch {
		case c >= '0' && c <= '9':
			v = v<<4 | uint32(c-'0')
		case c >= 'A' && c <= 'F':
			v = v<<4 | uint32(c-'A'+10)
		default:
			f.fail(ErrForm)
			return 0
		}
	}
	return v
}

func (f *fields) letter(letters string) byte {
	p := f.next()
	if len(p) != 1 || !oneOf(p[0], letters) {
		f.fail(ErrForm)
		return 0
	}
	return p[0]
}

func (f *fields) name() string {
	p := f.next()
	if !isName(p) {
		f.fail(ErrForm)
		return ""
	}
	return string(p)
}

func (f *fields) seq() uint16 { return uint16(f.num(0, 0xFFFF)) }

func (f *fields) latches() probe.Latch {
	v := f.hex(2)
	if v > uint32(probe.AllLatches) {
		f.fail(ErrRange)
	}
	return probe.Latch(v)
}
