package keeper

import (
	"context"
	"errors"
	"fmt"
	"os"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"strawline/control"
	"strawline/control/attach"
)

// Made is what a job comes to.
type Made struct {
	Config Config
	// Named is told the name that the run got, which may be another than Config's, before its port
	// is opened; it may be nil.
	Named func(run string)
	// After keeps what is kept of a run beside its file; it may be nil.
	After func(Result) error
	// Refuse puts what stood in the way of the run into an exit code and a line; it may be nil.
	Refuse func(error) error
}

// HouseConfig is what a House is made from.
type HouseConfig struct {
	// Make turns a job into what a run needs; nothing is opened yet. Where the run is taken up
	// again, its run file is there.
	Make func(job attach.Job, again bool) (Made, error)
	// Kept is the file in which the house keeps which of its runs have not ended.
	Kept string
	// Say is told, in one line, what is worth a line in the keeper's own log.
	Say func(string)
}

// House is the keeper of one shop file: it holds its runs, several at once, each on a port of its
// own. It is an attach.House. Its runs know nothing of screens that come and go.
type House struct {
	cfg    HouseConfig
	ctx    context.Context
	cancel context.CancelCauseFunc
	wait   sync.WaitGroup

	mu    sync.Mutex
	runs  []*held // in the order of their beginning; those that have ended too
	begun int     // that are being begun
	left  []Unfinished
}

// held is one run of a house.
type held struct {
	name string
	port string
	job  attach.Job
	k    *Keeper // nil until the port is open
	done chan struct{}
	end  attach.Outcome // valid when done is closed
}

// over says whether the run has ended and closed its port and file.
func (r *held) over() bool {
	select {
	case <-r.done:
		return true
	default:
		return false
	}
}

// NewHouse makes a house without runs. Its runs end when parent does.
func NewHouse(parent context.Context, cfg HouseConfig) *House {
	h := &House{cfg: cfg}
	h.ctx, h.cancel = context.WithCancelCause(parent)
	return h
}

// refused is a refusal of the house's own.
func refused(code int, format string, args ...any) error {
	return &attach.Refusal{Code: code, Text: fmt.Sprintf(format, args...)}
}

// Exit codes of refusals, after sysexits(3).
const (
	noInput   = 66
	temporary = 75
)

// Start opens the port of a job's run, waits until the board has proved itself and begins. It
// gives the name of the run. Ending ctx before that takes the wish back.
func (h *House) Start(ctx context.Context, job attach.Job) (string, error) {
	made, err := h.cfg.Make(job, false)
	if err != nil {
		return "", err
	}
	r, err := h.reserve(made.Config, job)
	if err != nil {
		return "", err
	}
	made.named(r.name)
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	stop := context.AfterFunc(h.ctx, func() { cancel(context.Cause(h.ctx)) })
	defer stop()
	k, err := Prepare(ctx, made.Config)
	if err != nil {
		if made.Refuse != nil {
			err = made.Refuse(err)
		}
		h.forget(r)
		return "", err
	}
	h.hold(r, k, made)
	return r.name, nil
}

func (m *Made) named(run string) {
	m.Config.Run = run
	if m.Named != nil {
		m.Named(run)
	}
}

// reserve gives a run its name and its port, or says who has it.
func (h *House) reserve(cfg Config, job attach.Job) (*held, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.ctx.Err() != nil {
		return nil, refused(temporary, "the keeper is ending: %v", context.Cause(h.ctx))
	}
	name, taken := cfg.Run, func(n string) bool {
		return slices.ContainsFunc(h.runs, func(r *held) bool { return r.name == n }) ||
			!cfg.Resume && slices.ContainsFunc(h.left, func(u Unfinished) bool { return u.Name == n })
	}
	for i := 2; taken(name); i++ {
		name = fmt.Sprintf("%s-%d", cfg.Run, i)
	}
	for _, r := range h.runs {
		if !r.over() && samePort(r.port, cfg.Port.Name) {
			return nil, refused(temporary, "the run %s has %s: watch it, or stop it first", r.name,
				cfg.Port.Name)
		}
	}
	r := &held{name: name, port: cfg.Port.Name, job: job, done: make(chan struct{})}
	h.runs = append(h.runs, r)
	h.begun++
	return r, nil
}

// samePort says whether two names are those of one device.
func samePort(a, b string) bool {
	if a == b {
		return true
	}
	one, err := os.Stat(a)
	if err != nil {
		return false
	}
	two, err := os.Stat(b)
	return err == nil && os.SameFile(one, two)
}

func (h *House) forget(r *held) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.begun--
	h.runs = slices.DeleteFunc(h.runs, func(x *held) bool { return x == r })
}

// hold has the run go on until it ends by itself or the house does.
func (h *House) hold(r *held, k *Keeper, made Made) {
	h.mu.Lock()
	r.k = k
	h.begun--
	h.wait.Add(1)
	h.mu.Unlock()
	h.keep()
	h.cfg.Say(fmt.Sprintf("run %s began, run file %s", r.name, k.Out()))
	go func() {
		defer h.wait.Done()
		defer close(r.done)
		r.end = h.run(k, made)
		h.ended(r)
	}()
}

// run runs, and says how it ended.
func (h *House) run(k *Keeper, made Made) (o attach.Outcome) {
	o.Out = k.Out()
	defer func() {
		if p := recover(); p != nil { // behind the run itself, which recovers by itself
			o.Failed = fmt.Sprintf("a failure in the keeper: %v", p)
			h.cfg.Say(fmt.Sprintf("%s\n%s", o.Failed, debug.Stack()))
		}
	}()
	res, err := k.Run(h.ctx)
	o.Word, o.Why, o.Unanswered = res.Word, res.Why, res.Unanswered
	o.Off = res.Last.Info.Off()
	o.Left = res.Last.Left(res.Last.Info.TempUnit())
	if err != nil {
		o.Failed = firstLine(err)
		h.cfg.Say(err.Error())
	}
	if made.After != nil {
		if err := made.After(res); err != nil {
			o.Unkept = firstLine(err)
			h.cfg.Say(err.Error())
		}
	}
	return o
}

func (h *House) ended(r *held) {
	h.mu.Lock()
	r.k = nil // its past is kept by the screens that still look at it
	h.mu.Unlock()
	h.keep()
	h.cfg.Say(fmt.Sprintf("run %s ended: %s", r.name, r.end.Why))
}

// Runs lists the runs that have not ended, those that could not be taken up last.
func (h *House) Runs() []attach.Run {
	h.mu.Lock()
	defer h.mu.Unlock()
	var list []attach.Run
	for _, r := range h.runs {
		if r.over() {
			continue
		}
		if r.k == nil {
			list = append(list, attach.Run{Name: r.name, Phase: Beginning})
			continue
		}
		s := r.k.x.newest()
		a := attach.Run{Name: r.name, Phase: s.Phase, Out: r.k.Out()}
		if s.Phase == control.PhaseTripped || s.Phase == control.PhaseEnded {
			a.Why = s.Why
		}
		list = append(list, a)
	}
	return append(list, h.unfinished()...)
}

// Screen makes one more watcher of a run; "" is the only one there is.
func (h *House) Screen(run string) (string, attach.Screen, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	var names []string
	var found *held
	for _, r := range h.runs {
		if r.k == nil {
			continue
		}
		names = append(names, r.name)
		if r.name == run || run == "" {
			found = r
		}
	}
	cut := slices.DeleteFunc(h.unfinished(), func(r attach.Run) bool {
		return run != "" && r.Name != run
	})
	switch {
	case found == nil && len(cut) > 0:
		return "", nil, refused(temporary, "the run %s is unfinished and cannot be taken up: %s; put "+
			"that right and watch again, or end it: strawline stop %s", cut[0].Name, cut[0].Why,
			cut[0].Name)
	case len(names) == 0:
		return "", nil, refused(noInput, "no run goes on")
	case run == "" && len(names) > 1:
		return "", nil, refused(noInput, "several runs go on: say which of %v", names)
	case found == nil:
		return "", nil, refused(noInput, "no run is called %q: there is %v", run, names)
	}
	return found.name, found.k.Screen(), nil
}

// Outcome waits until a run has ended, and says how.
func (h *House) Outcome(ctx context.Context, run string) attach.Outcome {
	h.mu.Lock()
	i := slices.IndexFunc(h.runs, func(r *held) bool { return r.name == run })
	var r *held
	if i >= 0 {
		r = h.runs[i]
	}
	h.mu.Unlock()
	if r == nil {
		return attach.Outcome{Failed: "no such run"}
	}
	select {
	case <-ctx.Done():
		return attach.Outcome{Failed: "the keeper ended first"}
	case <-r.done:
		return r.end
	}
}

// Idle says that nothing runs and nothing is being begun.
func (h *House) Idle() bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.begun == 0 && !slices.ContainsFunc(h.runs, func(r *held) bool { return !r.over() })
}

// Close ends every run, each with its heater off and the board's answer waited for, and waits
// until they have closed their files and ports, or until ctx ends.
func (h *House) Close(ctx context.Context, why error) error {
	h.cancel(why)
	done := make(chan struct{})
	go func() {
		h.wait.Wait()
		close(done)
	}()
	select {
	case <-done:
		return nil
	case <-ctx.Done():
		return errors.New("runs that do not end are left; the boards' dead men take the heat away")
	}
}

// IdleLimit is how long a keeper that was started by a run stays when there is nothing left to
// do and nobody is connected. Our choice: long enough to begin the next run at once.
const IdleLimit = 5 * time.Second
