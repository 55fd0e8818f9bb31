package runlog

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"strings"
	"time"

	"strawline/control"
)

// Tail is what stands behind the last whole line: a line that was cut by a kill or a full
// disk, or the NUL bytes that a power cut can leave.
type Tail struct {
	Bytes int64 // all of it
	NUL   int64 // of these, the NUL bytes at the end
}

// String says what is lost, "" if nothing.
func (t Tail) String() string {
	switch {
	case t.Bytes == 0:
		return ""
	case t.NUL == t.Bytes:
		return fmt.Sprintf("the last %d bytes are NUL bytes and no record", t.Bytes)
	case t.NUL > 0:
		return fmt.Sprintf("the last %d bytes are no whole record (%d of them NUL bytes)",
			t.Bytes, t.NUL)
	}
	return fmt.Sprintf("the last %d bytes are no whole record", t.Bytes)
}

// Break is a stretch of lines that do not follow from those before.
type Break struct {
	Line   int // the first of them, counted from 1
	Lines  int
	Offset int64
	Bytes  int64
	Why    string // what is wrong with the first
}

// File is a run file opened for reading, checked from end to end.
type File struct {
	Info   control.Info
	Tail   Tail          // what is lost at the end
	Breaks []Break       // what was left out; only from OpenReadOn
	Last   time.Duration // time of the last record

	path string
	f    *os.File
	r    io.ReaderAt
	body int64 // where the records begin
	end  int64 // where the whole lines end
	n    int   // records
	next uint64
	prev digits
}

// Open checks and opens a run file. A torn tail is no error: Tail says what is lost. The
// errors are ErrNoRun (no whole head), ErrVersion (another schema), ErrBroken (a line that
// does not follow from the one before; its number is in the Error) or the system's. A run
// that is still being written opens up to its last whole line.
func Open(path string) (*File, error) { return open(path, false) }

// OpenReadOn is Open that leaves broken lines out and lists them in Breaks. After a broken
// line it takes the next that follows from the hash on the line before it; no line is taken
// unchecked, so that one changed line costs at most two.
func OpenReadOn(path string) (*File, error) { return open(path, true) }

func open(path string, readOn bool) (*File, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, openError("read", path, err)
	}
	file, err := check("read", path, f, readOn)
	if err != nil {
		f.Close()
		return nil, err
	}
	return file, nil
}

func check(op, path string, f *os.File, readOn bool) (*File, error) {
	st, err := f.Stat()
	if err == nil && !st.Mode().IsRegular() {
		err = fmt.Errorf("%w: it is no regular file", ErrNoRun)
	}
	if err != nil {
		return nil, &Error{Op: op, Path: path, Wrong: cause(err), Err: err}
	}
	file, err := scan(f, st.Size(), readOn)
	if err != nil {
		var e *Error
		if !errors.As(err, &e) {
			e = &Error{Wrong: cause(err), Err: err}
		}
		e.Op, e.Path = op, path
		return nil, e
	}
	file.path, file.f = path, f
	return file, nil
}

// scan checks a whole file.
func scan(r io.ReaderAt, size int64, readOn bool) (*File, error) {
	f := &File{r: r}
	ls := newLines(r, 0, size)
	if err := f.head(ls); err != nil {
		return nil, err
	}
	var a arena
	var scratch []byte
	prev, follows := append([]byte(nil), f.prev[:]...), true
	for number := 2; ; number++ {
		from := ls.at
		line, err := ls.line()
		if err == io.EOF {
			return f, nil
		}
		if err == errTorn {
			f.Tail.Bytes = size - from
			f.Tail.NUL, err = nulTail(r, from, size)
			return f, err
		}
		if err != nil && err != errLong {
			return nil, err
		}
		a.reset()
		var h []byte
		var t time.Duration
		var n uint64
		if err == nil {
			n, t, h, scratch, err = f.follow(line, prev, follows, &a, scratch)
		}
		if err == nil {
			f.n, f.next, f.Last, f.end, follows = f.n+1, n+1, t, ls.at, true
			prev = append(prev[:0], h...)
			f.prev = digits(h)
			continue
		}
		if !readOn {
			return nil, &Error{Line: number, Wrong: err.Error(), Err: ErrBroken,
				Do: "what is before it and behind it can be had by reading on past it"}
		}
		follows = false
		prev = append(prev[:0], h...)
		f.broke(number, from, ls.at, err)
	}
}

// broke notes a broken line, together with the one before if that is broken too.
func (f *File) broke(number int, from, to int64, why error) {
	if i := len(f.Breaks) - 1; i >= 0 && f.Breaks[i].Offset+f.Breaks[i].Bytes == from {
		f.Breaks[i].Lines++
		f.Breaks[i].Bytes += to - from
		return
	}
	f.Breaks = append(f.Breaks, Break{number, 1, from, to - from, why.Error()})
}

// follow checks that line is whole, follows from the digits prev and can be read. h are its
// own digits, if they can be found, even if it is not good. follows says that its number must
// be the next one; otherwise a greater one will do.
func (f *File) follow(line, prev []byte, follows bool, a *arena, scratch []byte) (
	n uint64, t time.Duration, h, kept []byte, err error) {
	body, h, ok := unseal(line)
	if !ok {
		return 0, 0, nil, scratch, errors.New("it does not end in a hash")
	}
	n, fields, ok := number(body)
	if !ok {
		return 0, 0, h, scratch, errors.New("it does not begin with a running number")
	}
	want, scratch := chain(scratch, prev, body)
	if len(prev) == 0 || string(want[:]) != string(h) {
		return 0, 0, h, scratch, errors.New("its hash does not follow from the line before")
	}
	if n < f.next || follows && n != f.next {
		return 0, 0, h, scratch, fmt.Errorf("its running number is %d, not %d", n, f.next)
	}
	r, err := decodeRecord(fields, a)
	if err != nil {
		return 0, 0, h, scratch, err
	}
	t, _ = when(r)
	return n, t, h, scratch, nil
}

// head reads and checks the first line.
func (f *File) head(ls *lines) error {
	none := func(wrong string) error {
		return &Error{Wrong: wrong, Do: "check that this is a run file", Err: ErrNoRun}
	}
	line, err := ls.line()
	switch {
	case err == io.EOF:
		return none("it is empty")
	case err == errTorn:
		return none("it has no whole first line, so that nothing of the run can be read")
	case err == errLong:
		return none("its first line is no head of a run file")
	case err != nil:
		return err
	}
	var is struct {
		Record string `json:"record"`
		Schema *int   `json:"schema"`
	}
	if json.Unmarshal(line, &is) != nil || is.Record != "head" || is.Schema == nil {
		return none("its first line is no head of a run file")
	}
	if *is.Schema != Schema {
		return &Error{Wrong: fmt.Sprintf("it has schema %d and this program reads schema %d",
			*is.Schema, Schema), Do: "read it with the version that wrote it", Err: ErrVersion}
	}
	body, h, ok := unseal(line)
	if n, _, numbered := number(body); !ok || !numbered || n != 0 {
		return &Error{Line: 1, Wrong: "the head has no number 0 or no hash", Err: ErrBroken}
	}
	if want, _ := chain(nil, nil, body); string(want[:]) != string(h) {
		return &Error{Line: 1, Wrong: "the head is not as it was written", Err: ErrBroken,
			Do: "nothing can be trusted without it"}
	}
	f.prev, f.next, f.body, f.end = digits(h), 1, ls.at, ls.at
	f.Info, err = decodeHead(line)
	if err != nil {
		return &Error{Line: 1, Wrong: err.Error(), Err: ErrBroken}
	}
	return nil
}

func decodeHead(line []byte) (info control.Info, err error) {
	if err = json.Unmarshal(line, &info); err != nil {
		err = fmt.Errorf("the head cannot be read: %w", err)
	}
	return info, err
}

// nulTail counts the NUL bytes at the end of what stands from an offset on.
func nulTail(r io.ReaderAt, from, size int64) (nul int64, err error) {
	buf := make([]byte, 1<<16)
	for size > from {
		p := buf[:min(int64(len(buf)), size-from)]
		if _, err := r.ReadAt(p, size-int64(len(p))); err != nil && err != io.EOF {
			return 0, err
		}
		for i := len(p) - 1; i >= 0; i-- {
			if p[i] != 0 {
				return nul, nil
			}
			nul++
		}
		size -= int64(len(p))
	}
	return nul, nil
}

// Lost says in one line what the file has lost, "" if nothing: what Tail and Breaks hold.
func (f *File) Lost() string {
	var parts []string
	if n := len(f.Breaks); n > 0 {
		lines := 0
		for _, b := range f.Breaks {
			lines += b.Lines
		}
		parts = append(parts, fmt.Sprintf("%d broken lines left out, the first is line %d", lines,
			f.Breaks[0].Line))
	}
	if tail := f.Tail.String(); tail != "" {
		parts = append(parts, tail)
	}
	return strings.Join(parts, "; ")
}

// Len gives the number of records.
func (f *File) Len() int { return f.n }

// Records reads the records in order, a piece of the file at a time. The error, at most one
// and at the end, is the system's, or says that the file was changed since Open.
func (f *File) Records() iter.Seq2[control.Record, error] {
	return func(yield func(control.Record, error) bool) {
		ls := newLines(f.r, f.body, f.end)
		var a arena
		for breaks := f.Breaks; ; {
			from := ls.at
			line, err := ls.line()
			if err == io.EOF {
				return
			}
			for len(breaks) > 0 && breaks[0].Offset+breaks[0].Bytes <= from {
				breaks = breaks[1:]
			}
			if len(breaks) > 0 && breaks[0].Offset <= from && (err == nil || err == errLong) {
				continue
			}
			var r control.Record
			if err == nil {
				body, _, _ := unseal(line)
				_, fields, _ := number(body)
				r, err = decodeRecord(fields, &a)
			}
			if err != nil {
				yield(control.Record{}, &Error{Op: "read", Path: f.path, Wrong: cause(err),
					Do: "open it again", Err: err})
				return
			}
			if !yield(r, nil) {
				return
			}
		}
	}
}

// All reads all records into memory: about 200 bytes for a sample of two channels.
func (f *File) All() ([]control.Record, error) {
	all := make([]control.Record, 0, f.n)
	for r, err := range f.Records() {
		if err != nil {
			return all, err
		}
		all = append(all, r)
	}
	return all, nil
}

// Close lets go of the file.
func (f *File) Close() error { return f.f.Close() }
