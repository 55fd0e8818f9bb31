package runlog

import (
	"errors"
	"os"
	"time"

	"strawline/control"
)

// Recover opens the run file of a run that was cut off, for append: it locks the file, cuts a
// torn tail away and writes an event "lost" with code "recovered" that says what was cut and
// that the program ended in the middle of the run. The event's time is that of the last record:
// how long the run stood still is for the keeper to say. The errors are those of Open, and
// ErrBusy while another process writes the file. A file that is broken in the middle is left
// as it is: begin a new one.
func Recover(path string) (*Writer, Tail, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_APPEND, 0)
	if err != nil {
		return nil, Tail{}, openError("recover", path, err)
	}
	w, tail, err := resume(path, f)
	if err != nil {
		f.Close()
		var e *Error
		if !errors.As(err, &e) {
			err = &Error{Op: "recover", Path: path, Wrong: cause(err), Err: err}
		}
		return nil, tail, err
	}
	return w, tail, nil
}

func resume(path string, f *os.File) (*Writer, Tail, error) {
	if err := lock(f); err != nil {
		if errors.Is(err, ErrBusy) {
			err = &Error{Op: "recover", Path: path, Wrong: "another process writes it",
				Do: "watch that run, or stop it first", Err: ErrBusy}
		}
		return nil, Tail{}, err
	}
	file, err := check("recover", path, f, false)
	if err != nil {
		return nil, Tail{}, err
	}
	w := &Writer{path: path, info: file.Info, d: f, sync: f.Sync, n: file.next, prev: file.prev,
		good: file.end, last: file.Last, synced: file.Last}
	if file.Tail.Bytes > 0 {
		if err := f.Truncate(file.end); err != nil {
			return nil, file.Tail, err
		}
	}
	text := "the program ended in the middle of the run; no torn record"
	if file.Tail.Bytes > 0 {
		text = "the program ended in the middle of the run; " + file.Tail.String()
	}
	fields, err := appendEvent(nil, recovered(file.Last, text))
	if err == nil {
		err = w.put(fields)
	}
	if err == nil {
		err = f.Sync()
	}
	w.unsaved = false
	return w, file.Tail, err
}

func recovered(t time.Duration, text string) *control.Event {
	return &control.Event{T: t, Kind: control.EvLost, Code: "recovered", Text: text}
}
