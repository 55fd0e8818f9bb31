package runlog

import (
	"bytes"
	"errors"
	"io"
)

// How a line can fail to be one.
var (
	errTorn = errors.New("no newline up to the end of the file")
	errLong = errors.New("longer than any line of a run file")
)

// lines reads a part of a file line by line.
type lines struct {
	r    io.ReaderAt
	next int64 // where the file is read next
	end  int64
	buf  []byte
	part []byte // of buf: read and not yet given
	at   int64  // where part begins in the file
}

func newLines(r io.ReaderAt, from, end int64) *lines {
	return &lines{r: r, next: from, end: end, at: from,
		buf: make([]byte, min(1<<18, end-from+1))}
}

// line gives the next line without its newline, valid until the next call. At the end the
// error is io.EOF; if what is left has no newline, errTorn; a line longer than maxLine is
// passed over and gives errLong.
func (l *lines) line() ([]byte, error) {
	seen := 0
	for {
		if i := bytes.IndexByte(l.part[seen:], '\n'); i >= 0 {
			line := l.part[:seen+i]
			l.pass(len(line) + 1)
			if len(line) >= maxLine {
				return nil, errLong
			}
			return line, nil
		}
		seen = len(l.part)
		if l.next >= l.end {
			if seen > 0 {
				return nil, errTorn
			}
			return nil, io.EOF
		}
		if seen >= maxLine {
			return nil, l.skip()
		}
		if err := l.fill(); err != nil {
			return nil, err
		}
	}
}

func (l *lines) pass(n int) {
	l.part, l.at = l.part[n:], l.at+int64(n)
}

// fill reads more behind part.
func (l *lines) fill() error {
	if len(l.part) == len(l.buf) {
		l.buf = append(l.buf, make([]byte, len(l.buf))...)
	}
	have := copy(l.buf, l.part)
	n, err := l.r.ReadAt(l.buf[have:have+int(min(int64(len(l.buf)-have), l.end-l.next))], l.next)
	l.next += int64(n)
	l.part = l.buf[:have+n]
	if n == 0 && err != nil {
		if err == io.EOF {
			err = io.ErrUnexpectedEOF // the file shrank
		}
		return err
	}
	return nil
}

// skip passes over a line that is too long.
func (l *lines) skip() error {
	from := l.at
	for l.next < l.end {
		l.pass(len(l.part))
		if err := l.fill(); err != nil {
			return err
		}
		if i := bytes.IndexByte(l.part, '\n'); i >= 0 {
			l.pass(i + 1)
			return errLong
		}
	}
	l.at = from
	return errTorn
}
