package runlog

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"syscall"
	"time"

	"strawline/control"
)

// The schedule, on the run's own clock (our choice; the measured cost of a sync on a virtual
// disk is 0.6 ms at the median and 8 ms at the 99th percentile).
const (
	SyncEvery  = 5 * time.Second  // longest time that a power cut may take away
	RetryEvery = 10 * time.Second // between tries when writing fails
	KeepSpan   = 2 * time.Hour    // newest records kept in memory when writing fails
	keepBytes  = 16 << 20         // and never more memory than this, in bytes
)

// disk is what a Writer needs of a file opened for append.
type disk interface {
	Write(p []byte) (int, error)
	Sync() error
	Truncate(size int64) error
	Close() error
}

// State is how the writing goes.
type State struct {
	Err   error         // why the last write or sync failed; nil while all is well
	Since time.Duration // run time at which it began to fail; only with Err
	Kept  int           // records that wait in memory
	Lost  int           // records lost for good since the file was opened
	Lines uint64        // lines in the file, the head among them
	Bytes int64         // length of the file
}

// Writer appends records to one run file. It is not safe for use by several goroutines; a
// Logger makes it so.
type Writer struct {
	path    string
	info    control.Info
	d       disk
	sync    func() error
	n       uint64 // number of the next line
	prev    digits // hash of the last line
	good    int64  // length of the file up to the last whole line
	last    time.Duration
	synced  time.Duration
	unsaved bool // something was written since the last sync
	torn    bool // there may be bytes behind good
	syncErr error
	out     outage
	lost    int
	fields  []byte
	line    []byte
	scratch []byte
}

// Create makes the run file at path with its head and locks it. It refuses a file that exists
// (errors.Is fs.ErrExist). An info of Schema 0 gets this package's. When it returns, the head
// and the file's name are on the disk.
func Create(path string, info control.Info) (*Writer, error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL|os.O_APPEND, 0o644)
	if err != nil {
		return nil, openError("create", path, err)
	}
	var w *Writer
	if err = lock(f); err == nil {
		w, err = start(path, f, info)
	}
	if err == nil {
		err = errors.Join(f.Sync(), syncFolder(path))
	}
	if err != nil {
		f.Close()
		os.Remove(path)
		return nil, openError("create", path, err)
	}
	return w, nil
}

// openError says why a run file does not open.
func openError(op, path string, err error) error {
	e := &Error{Op: op, Path: path, Wrong: cause(err), Err: err}
	switch {
	case errors.Is(err, fs.ErrExist):
		e.Wrong, e.Do = "it exists already", "choose another name"
	case errors.Is(err, fs.ErrNotExist) && op == "create":
		e.Wrong, e.Do = "its folder does not exist", "make the folder first"
	case errors.Is(err, fs.ErrNotExist):
		e.Wrong, e.Do = "there is no such file", "check the name"
	case errors.Is(err, fs.ErrPermission):
		e.Wrong, e.Do = "you have no right to", "look at the owner and rights of file and folder"
	case errors.Is(err, syscall.ENOSPC):
		e.Do = "make room on the disk"
	}
	return e
}

// cause leaves away the operation and path that os puts before an error.
func cause(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// start writes the head to an empty disk.
func start(path string, d disk, info control.Info) (*Writer, error) {
	if info.Schema == 0 {
		info.Schema = Schema
	}
	if info.Schema != Schema {
		return nil, fmt.Errorf("%w: this program writes schema %d, not %d", ErrVersion, Schema,
			info.Schema)
	}
	fields, err := appendHead(nil, info)
	if err != nil {
		return nil, err
	}
	w := &Writer{path: path, d: d, sync: d.Sync}
	if err := w.put(fields); err != nil {
		return nil, err
	}
	w.info, err = decodeHead(w.line[:len(w.line)-1])
	return w, err
}

// Info gives the head as a reader of the file sees it; show a live run from this one.
func (w *Writer) Info() control.Info { return w.info }

// SetSync puts f in the place of the file's own sync. A simulated run in lockstep whose pace
// only the machine limits may pass one that does nothing: no power cut can cost it anything
// that the same seed would not give again.
func (w *Writer) SetSync(f func() error) { w.sync = f }

// State tells how the writing goes.
func (w *Writer) State() State {
	s := State{Kept: len(w.out.kept), Lost: w.lost, Lines: w.n, Bytes: w.good, Err: w.syncErr,
		Since: w.out.since}
	if w.out.err != nil {
		s.Err = w.out.err
	}
	return s
}

// Append writes one record, rounded as Round does. The error says that the record is not in
// the file: with ErrRefused it never will be (it has no JSON form) and is counted as lost; with
// ErrFailing it waits in memory. A sync that fails shows only in State.
func (w *Writer) Append(r control.Record) error {
	fields, err := appendFields(w.fields[:0], r)
	w.fields = fields
	if err != nil {
		w.Lose(Loss{Count: 1, From: w.last, To: w.last, Code: "refused", Why: err.Error()})
		return &Error{Op: "write", Path: w.path, Wrong: err.Error(), Err: ErrRefused}
	}
	t, urgent := when(r)
	return w.add(t, fields, urgent, 1)
}

// when gives a record's time, and whether it must be on the disk at once.
func when(r control.Record) (t time.Duration, urgent bool) {
	if r.Sample != nil {
		return r.Sample.T, false
	}
	switch r.Event.Kind {
	case control.EvAlarm, control.EvTrip, control.EvEnd:
		urgent = true
	}
	return r.Event.T, urgent
}

// add writes or keeps fields, which stand for so many records.
func (w *Writer) add(t time.Duration, fields []byte, urgent bool, stands int) error {
	w.last = max(w.last, t)
	if w.out.err == nil {
		err := w.put(fields)
		if err == nil {
			w.maybeSync(t, urgent)
			return nil
		}
		w.out.begin(err, t)
		w.keep(t, fields, stands)
		return w.failing()
	}
	w.keep(t, fields, stands)
	if t-w.out.tried >= RetryEvery {
		return w.retry(t)
	}
	return w.failing()
}

func (w *Writer) failing() error {
	return &Error{Op: "write", Path: w.path, Wrong: cause(w.out.err) + fmt.Sprintf(
		" (%d records wait in memory)", len(w.out.kept)), Do: "make room on the disk",
		Err: errors.Join(ErrFailing, w.out.err)}
}

// put writes one whole line, or leaves the file as it was.
func (w *Writer) put(fields []byte) error {
	if w.torn {
		if err := w.d.Truncate(w.good); err != nil {
			return err
		}
		w.torn = false
	}
	prev := w.prev[:]
	if w.n == 0 {
		prev = nil
	}
	var h digits
	w.line, h, w.scratch = seal(w.line, w.n, fields, prev, w.scratch)
	n, err := w.d.Write(w.line)
	if err == nil && n < len(w.line) {
		err = errors.New("only a part of a line could be written")
	}
	if err != nil {
		w.torn = w.d.Truncate(w.good) != nil
		return err
	}
	w.n, w.prev, w.good, w.unsaved = w.n+1, h, w.good+int64(n), true
	return nil
}

// maybeSync syncs when it is due. A clock that jumps back counts as due.
func (w *Writer) maybeSync(t time.Duration, urgent bool) {
	if since := t - w.synced; urgent || since >= SyncEvery || since < 0 {
		w.syncErr = w.sync()
		w.synced, w.unsaved = t, w.syncErr != nil
	}
}

// Close tries once more to write what waits, syncs and lets go of the file. The error says
// what stays unwritten.
func (w *Writer) Close() error {
	if w.out.err != nil {
		w.retry(w.last) // its error is told below
	}
	err := w.syncErr
	if w.unsaved {
		err = w.sync()
	}
	err = errors.Join(err, w.d.Close())
	if w.out.err != nil {
		return &Error{Op: "close", Path: w.path, Err: errors.Join(ErrFailing, w.out.err),
			Wrong: fmt.Sprintf("%d records could not be written: %s",
				len(w.out.kept)+w.out.dropped.Count, cause(w.out.err))}
	}
	if err != nil {
		return &Error{Op: "close", Path: w.path, Wrong: cause(err), Err: err}
	}
	return nil
}
