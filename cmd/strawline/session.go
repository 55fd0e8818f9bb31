package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"
	"time"

	"github.com/mattn/go-isatty"

	"strawline/control"
	"strawline/control/keeper"
	"strawline/control/runlog"
	"strawline/probe/port"
	"strawline/probe/temp"
	"strawline/tui"
)

// caught is the signal that ended the program.
type caught struct{ sig syscall.Signal }

func (c caught) Error() string { return "the program was told to end: " + c.sig.String() }

var errLeft = errors.New("the screen was left")

// signals ends ctx at the first INT, TERM or HUP, and the program at the second: the board then
// takes the heat away by itself within 3 s.
func signals(parent context.Context) (context.Context, func()) {
	return signalled(parent, syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP)
}

// signalled is signals for those that are named.
func signalled(parent context.Context, those ...os.Signal) (context.Context, func()) {
	ctx, cancel := context.WithCancelCause(parent)
	ch := make(chan os.Signal, 2)
	signal.Notify(ch, those...)
	done := make(chan struct{})
	go func() {
		first := true
		for {
			select {
			case <-done:
				return
			case s := <-ch:
				sig, _ := s.(syscall.Signal)
				if !first {
					os.Exit(exitSignal + int(sig))
				}
				first = false
				cancel(caught{sig})
			}
		}
	}()
	return ctx, func() {
		signal.Stop(ch)
		close(done)
		cancel(nil)
	}
}

// screened says whether there is a terminal that can show a screen.
func (h *host) screened() bool {
	in, ok := h.in.(*os.File)
	out, ok2 := h.out.(*os.File)
	return ok && ok2 && isatty.IsTerminal(in.Fd()) && isatty.IsTerminal(out.Fd()) &&
		h.getenv("TERM") != "dumb"
}

// runsFolder is where run files go, after the XDG base directory specification.
func (h *host) runsFolder() string {
	if d := h.getenv("XDG_DATA_HOME"); filepath.IsAbs(d) {
		return filepath.Join(d, "strawline", "runs")
	}
	return filepath.Join(h.getenv("HOME"), ".local", "share", "strawline", "runs")
}

// outPath gives the run file's path: the one asked for, or one in the runs folder, which the
// keeper numbers where it is taken.
func (h *host) outPath(asked, name string, now time.Time) (path string, numbered bool, err error) {
	if asked != "" {
		if _, err := os.Lstat(asked); err == nil { // said before the port is opened
			return "", false, fileFault("write", asked, fs.ErrExist)
		}
		return asked, false, nil
	}
	dir := h.runsFolder()
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", false, &fault{code: exitCannotMake, did: "make the folder", to: dir, wrong: err,
			help: "name a run file with --out"}
	}
	return filepath.Join(dir, now.Format("20060102-150405")+"-"+name+".jsonl"), true, nil
}

// session runs one keeper to its end, on a screen or in lines.
type session struct {
	h         *host
	cfg       keeper.Config
	plain     bool
	transport string
	after     func(keeper.Result) error // what is kept of a run beside its file; may be nil
	mute      bool                      // say no events: something else is printed
	ahead     string                    // what the run is going to do; "" to say nothing
	calls     string                    // the shop file that says how the screen calls; "" for none
	// verdict gives the screen what the run file of a tuning test that is done shows; may be nil.
	verdict func(path string) (tui.Tuned, error)
	result  keeper.Result // once the run has ended
}

func (s *session) run(parent context.Context) error {
	told, release := signals(parent)
	defer release()
	var lines *lineWriter
	if s.plain && !s.mute {
		lines = &lineWriter{h: s.h, unit: s.cfg.Unit}
		s.cfg.Records = lines.record
	}
	k, err := keeper.Prepare(told, s.cfg)
	if err != nil {
		return s.prepareFault(told, err)
	}
	s.cfg.Out = k.Out()
	if lines != nil {
		lines.begin(k.Info())
		if s.ahead != "" {
			s.h.print(s.ahead + "\n")
		}
	}
	ctx, leave := context.WithCancelCause(told)
	defer leave(nil)
	shown := make(chan error, 1)
	if !s.plain {
		screen, o := k.Screen(), tui.Options{LeaveStops: true, Unit: s.cfg.Unit,
			Transport: s.transport, Tuned: s.tuned(), First: s.ahead}
		if s.calls != "" {
			o.Call = s.h.calls(s.calls)
		}
		go func() {
			err := tui.Run(ctx, screen, o)
			leave(errLeft)
			shown <- err
		}()
	} else {
		go s.h.listen(s.h.in, k.Screen().Ask)
		shown <- nil
	}
	res, err := k.Run(ctx)
	s.result = res
	screenErr := <-shown
	if err != nil {
		return &fault{code: exitIO, did: "run", to: s.cfg.Profile.Name, wrong: err,
			help: off(res) + "; look at the run file " + s.cfg.Out}
	}
	if !s.plain {
		s.h.print(farewell(res, s.cfg.Out))
	}
	if s.verdict == nil && (s.cfg.Sim == nil || s.cfg.Model != nil) { // else it can say nothing
		if line := s.h.learnedOf(s.cfg.Out); line != "" {
			fmt.Fprintf(s.h.err, "strawline: %s\n", line)
		}
	}
	if s.after != nil {
		if err := s.after(res); err != nil { // the run itself is whole
			fmt.Fprintf(s.h.err, "strawline: run: %s\n", oneLine(err.Error()))
		}
	}
	var c caught
	switch {
	case errors.As(context.Cause(told), &c): // also where the screen noticed the hang-up first
		return &fault{code: exitSignal + int(c.sig), did: "run", to: s.cfg.Profile.Name, wrong: c,
			help: off(res) + "; the run file is complete: " + s.cfg.Out}
	case res.Word == "tripped" || res.Word == "late":
		return &fault{code: exitTemporary, did: "run", to: s.cfg.Profile.Name,
			wrong: fmt.Errorf("ended %s: %s", res.Word, res.Why),
			help:  "look at the oven and at the run file " + s.cfg.Out}
	case screenErr != nil:
		return &fault{code: exitIO, did: "show", to: "the screen", wrong: screenErr,
			help: off(res) + "; try --plain"}
	}
	return nil
}

// tuned is verdict for this run's file; nil if there is none.
func (s *session) tuned() func() (tui.Tuned, error) {
	if s.verdict == nil {
		return nil
	}
	return func() (tui.Tuned, error) { return s.verdict(s.cfg.Out) }
}

// off says what stands of the heat, and no more than was answered.
func off(res keeper.Result) string {
	if res.Unanswered {
		return res.Last.Info.Off() + ", which the board did not answer: switch off at the wall"
	}
	return res.Last.Info.Off()
}

func farewell(res keeper.Result, path string) string {
	words := off(res)
	if left := res.Last.Left(unitOf(res.Last.Info)); left != "" {
		words += "; " + left
	}
	return fmt.Sprintf("%s; %s; run file %s\n", res.Why, words, path)
}

// prepareFault finds the exit code of what stood in the way of a run.
func (s *session) prepareFault(ctx context.Context, err error) error {
	f := &fault{code: exitConfig, did: "start", to: "the run of " + s.cfg.Profile.Name, wrong: err}
	var open *port.OpenError
	var file *runlog.Error
	var c caught
	if p := s.cfg.Proofs; p != nil {
		f.help = p.Lowered // most likely that is what is in the way
	}
	switch {
	case errors.As(context.Cause(ctx), &c):
		f.code = exitSignal + int(c.sig)
	case errors.As(err, &open):
		f.code, f.help = portCode(open), ""
	case errors.Is(err, keeper.ErrQuestion):
	case errors.Is(err, keeper.ErrNoProof):
		f.code = exitUnavailable
		f.help = "is it the right port, and is the board's program of this version?"
	case errors.Is(err, os.ErrExist):
		f.code, f.did, f.to = exitCannotMake, "", ""
	case errors.As(err, &file):
		f.code, f.did, f.to = exitCannotMake, "", ""
	}
	return f
}

// lineWriter prints a run's events as lines of text.
type lineWriter struct {
	h    *host
	info control.Info
	unit temp.Unit
}

func (w *lineWriter) begin(info control.Info) {
	w.info = info
}

func (w *lineWriter) record(r control.Record) {
	if r.Event == nil {
		return
	}
	if line := tui.Line(*r.Event, &w.info, w.unit); line != "" {
		w.h.print(line + "\n")
	}
}
