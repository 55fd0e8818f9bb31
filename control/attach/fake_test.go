package attach

import (
	"context"
	"errors"
	"io"
	"net"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/probe/temp"
)

// fakeHouse is a keeper with one run, "kitchen", whose Snapshots a test makes.
type fakeHouse struct {
	mu    sync.Mutex
	tr    control.Trace
	last  control.Snapshot
	slots []chan struct{}
	asks  []control.Ask
	jobs  []Job
	ended bool
}

func (h *fakeHouse) Runs() []Run {
	return []Run{{Name: "kitchen", Phase: control.PhaseRunning, Out: "k.jsonl"}}
}

func (h *fakeHouse) Screen(run string) (string, Screen, error) {
	if run != "" && run != "kitchen" {
		return "", nil, &Refusal{Code: 66, Text: "no run " + run}
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	s := &fakeScreen{h: h, bell: make(chan struct{}, 1)}
	h.slots = append(h.slots, s.bell)
	if h.last.Info != nil {
		ring(s.bell)
	}
	return "kitchen", s, nil
}

func (h *fakeHouse) Start(ctx context.Context, j Job) (string, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.jobs = append(h.jobs, j)
	if len(j.Args) == 0 {
		return "", errors.New("nothing to run")
	}
	return "kitchen", nil
}

func (h *fakeHouse) Outcome(context.Context, string) Outcome {
	return Outcome{Word: "done", Why: "the profile is done", Out: "k.jsonl"}
}

func (h *fakeHouse) GiveUp(_ context.Context, run string) (Outcome, error) {
	if run != "cut" {
		return Outcome{}, &Refusal{Code: 66, Text: "no run " + run}
	}
	return Outcome{Word: "stopped", Out: "c.jsonl"}, nil
}

// at publishes the Snapshot of an instant.
func (h *fakeHouse) at(t time.Duration, v temp.C) {
	h.mu.Lock()
	defer h.mu.Unlock()
	info := &control.Info{Run: "kitchen", Unit: "C"}
	h.tr.Add(t, true, v, true, 200)
	h.last = control.Snapshot{Info: info, T: t, Phase: control.PhaseRunning, HasTemp: true, Temp: v}
	for _, b := range h.slots {
		ring(b)
	}
}

func (h *fakeHouse) end() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.ended = true
	for _, b := range h.slots {
		ring(b)
	}
}

func (h *fakeHouse) taken() []control.AskKind {
	h.mu.Lock()
	defer h.mu.Unlock()
	var ks []control.AskKind
	for _, a := range h.asks {
		ks = append(ks, a.Kind)
	}
	return ks
}

type fakeScreen struct {
	h    *fakeHouse
	bell chan struct{}
	seen time.Duration
	any  bool
}

func (s *fakeScreen) Next(ctx context.Context) (control.Snapshot, error) {
	for {
		select {
		case <-ctx.Done():
			return control.Snapshot{}, ctx.Err()
		case <-s.bell:
		}
		s.h.mu.Lock()
		last, ended := s.h.last, s.h.ended
		s.h.mu.Unlock()
		if !s.any || last.T > s.seen {
			s.any, s.seen = true, last.T
			if ended {
				ring(s.bell)
			}
			return last, nil
		}
		if ended {
			return control.Snapshot{}, io.EOF
		}
	}
}

func (s *fakeScreen) Past() []control.Past {
	s.h.mu.Lock()
	defer s.h.mu.Unlock()
	return s.h.tr.Points()
}

func (s *fakeScreen) Ask(a control.Ask) {
	s.h.mu.Lock()
	defer s.h.mu.Unlock()
	s.h.asks = append(s.h.asks, a)
}

// pipes is a server whose screens come through pipes in memory, so that a bubble holds it.
type pipes struct {
	t    *testing.T
	s    *Server
	ctx  context.Context
	done sync.WaitGroup
}

func newPipes(t *testing.T, h House) *pipes {
	ctx, cancel := context.WithCancel(context.Background())
	p := &pipes{t: t, ctx: ctx}
	p.s = NewServer(Config{Build: "this", Shop: "shop.toml", House: h, Now: time.Now,
		Complain: func(err error) {
			if !errors.Is(err, ErrDropped) {
				t.Error(err)
			}
		}})
	t.Cleanup(func() {
		cancel()
		p.done.Wait()
	})
	return p
}

// dial connects to the server; wrap may change the screen's end.
func (p *pipes) door(name string, wrap func(net.Conn) net.Conn) Door {
	return Door{Path: "pipe", Me: Hello{Build: "this", Name: name}, Now: time.Now,
		Dial: func(context.Context) (net.Conn, error) {
			if p.ctx.Err() != nil {
				return nil, net.ErrClosed
			}
			mine, its := net.Pipe()
			p.done.Add(1)
			go func() {
				defer p.done.Done()
				p.s.Answer(p.ctx, its)
			}()
			if wrap != nil {
				mine = wrap(mine)
			}
			return mine, nil
		}}
}

func (p *pipes) watch(name string) *Watcher {
	p.t.Helper()
	w, err := p.door(name, nil).Watch(p.t.Context(), "")
	require.NoError(p.t, err)
	p.t.Cleanup(w.Close)
	return w
}
