package port

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"syscall"

	"go.bug.st/serial"

	"strawline/probe"
)

// OpenError says why a port could not be opened.
type OpenError struct {
	Op    string // what was being done: "opening", "locking" or "setting up"
	Path  string
	State probe.LinkState // what a person would call it
	Help  string          // what is wrong and what to do
	Err   error           // the cause as the system told it
}

// Error gives all of it in one line.
func (e *OpenError) Error() string {
	return fmt.Sprintf("%s %s: %s (%v)", e.Op, e.Path, e.Help, e.Err)
}

// Unwrap gives the cause.
func (e *OpenError) Unwrap() error { return e.Err }

// Line is how a board's serial line is set: 8 data bits and 1 stop bit always.
type Line struct {
	Baud   int
	Parity string // "none" or "", "even", "odd"
}

// OpenSerial opens the serial port at path at so many baud (our boards: 38400), 8 data bits,
// no parity, 1 stop bit. The rest is as OpenLine has it.
func OpenSerial(path string, baud int) Opener { return OpenLine(path, Line{Baud: baud}) }

// OpenLine opens the serial port at path with its line set as l says. First it takes our own
// lock, on the device node itself, because the kernel's exclusive flag, which the library sets,
// does not stop root. DTR and RTS are left as the system raises them, which resets most boards.
// What waited in the input is thrown away. Where the system says what is behind the name, the
// opener goes on with the adapter that it opened first and refuses another one unopened.
// The errors are *OpenError.
func OpenLine(path string, l Line) Opener {
	return sameDevice(path, func(path string) string { return adapterOf("/", path) }, opener(path, l))
}

// opener opens whatever has the name.
func opener(path string, l Line) Opener {
	mode := &serial.Mode{BaudRate: l.Baud}
	switch l.Parity {
	case "even":
		mode.Parity = serial.EvenParity
	case "odd":
		mode.Parity = serial.OddParity
	}
	return func() (Stream, error) {
		guard, err := takeGuard(path)
		if err != nil {
			return nil, err
		}
		port, err := serial.Open(path, mode)
		if err != nil {
			guard.Close()
			return nil, openError("opening", path, err)
		}
		d := &device{Port: port, guard: guard}
		if err := port.ResetInputBuffer(); err != nil {
			d.Close()
			return nil, openError("setting up", path, err)
		}
		return d, nil
	}
}

// device is an open port under our lock.
type device struct {
	serial.Port
	guard io.Closer // closed once; closing it again only gives an error
}

// Read reads; when the device is gone it gives the lock back at once, since while anyone
// holds the old node the system gives the returning device another name.
func (d *device) Read(p []byte) (int, error) {
	n, err := d.Port.Read(p)
	if err != nil {
		d.guard.Close()
	}
	return n, err
}

// Close closes the port first, so that nobody else gets it half closed.
func (d *device) Close() error {
	err := d.Port.Close()
	d.guard.Close()
	return err
}

// openError sorts an error of the system or of the serial library into a state.
func openError(op, path string, err error) *OpenError {
	e := &OpenError{Op: op, Path: path, Err: err}
	code := serial.PortErrorCode(-1)
	if pe := (*serial.PortError)(nil); errors.As(err, &pe) {
		code = pe.Code()
	}
	is := func(targets ...error) bool {
		for _, t := range targets {
			if errors.Is(err, t) {
				return true
			}
		}
		return false
	}
	switch {
	// EIO: the line was hung up, as a terminal whose other end has closed.
	case code == serial.PortNotFound,
		is(fs.ErrNotExist, syscall.ENXIO, syscall.ENODEV, syscall.EIO):
		e.State = probe.LinkMissing
		e.Help = "no such port: plug the board in, or look for its name"
	case code == serial.PortBusy, is(syscall.EBUSY, syscall.EWOULDBLOCK):
		e.State = probe.LinkBusy
		e.Help = "another program has it: end that program (fuser names it)"
	case code == serial.PermissionDenied, is(fs.ErrPermission):
		e.State = probe.LinkDenied
		e.Help = deniedHelp(path)
	default:
		e.State = probe.LinkNotPort
		e.Help = "it is not a serial port that works: name another"
	}
	return e
}
