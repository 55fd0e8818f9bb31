package attach

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"runtime/debug"
	"sync"
	"time"

	"strawline/control"
)

// How long a server waits for a screen. Our choices.
const (
	HelloLimit = 5 * time.Second // for what a connection begins with
	WriteLimit = 2 * time.Second // for a screen to take a line
	mostConns  = 64              // connections at once
)

// Screen is one watcher of a run, as the keeper makes it; none of its methods makes a run wait.
type Screen interface {
	// Next waits for a Snapshot newer than the last; io.EOF when the run is over.
	Next(context.Context) (control.Snapshot, error)
	// Past gives the whole past, thinned; it reaches at least to the last Snapshot given.
	Past() []control.Past
	// Ask hands over what a person asks.
	Ask(control.Ask)
}

// House is the keeper that a Server is the door of. Its methods may be called from any goroutine.
type House interface {
	// Runs lists the runs, those first that a person is needed for.
	Runs() []Run
	// Screen makes a watcher of a run; "" is the only one there is.
	Screen(run string) (name string, s Screen, err error)
	// Start begins a run and gives its name.
	Start(ctx context.Context, job Job) (run string, err error)
	// GiveUp ends an unfinished run whose keeper was killed and that cannot be taken up.
	GiveUp(ctx context.Context, run string) (Outcome, error)
	// Outcome waits until a run that is over has closed port and file.
	Outcome(ctx context.Context, run string) Outcome
}

// Config is what a Server is made from.
type Config struct {
	Build string // of the program
	Shop  string // what the keeper is called: the path of its shop file
	House House
	Now   func() time.Time
	// Complain is told what went wrong and concerns no single screen.
	Complain func(error)
}

// Server answers the screens of one keeper.
type Server struct {
	cfg Config

	mu     sync.Mutex
	conns  map[*serverConn]bool
	leases map[string]*serverConn // who may raise the heat of a run
	wait   sync.WaitGroup
}

// NewServer makes a server; Serve opens its door.
func NewServer(cfg Config) *Server {
	return &Server{cfg: cfg, conns: map[*serverConn]bool{}, leases: map[string]*serverConn{}}
}

// Connections counts the screens and commands that are connected.
func (s *Server) Connections() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.conns)
}

// Serve answers on the socket until ctx ends, and then ends every connection. It closes the
// socket.
func (s *Server) Serve(ctx context.Context, k *Socket) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	s.wait.Add(2)
	go s.guarded(func() {
		defer s.wait.Done()
		k.watch(ctx, s.cfg.Complain)
	})
	go s.guarded(func() {
		defer s.wait.Done()
		<-ctx.Done()
		k.Close()
	})
	var err error
	for {
		c, e := k.accept()
		if ctx.Err() != nil || errors.Is(e, net.ErrClosed) {
			break
		}
		if e != nil { // too many open files, say: it may pass
			s.cfg.Complain(fmt.Errorf("attach: %w", e))
			if !sleep(ctx, time.Second) {
				break
			}
			continue
		}
		s.wait.Add(1)
		go s.guarded(func() {
			defer s.wait.Done()
			s.Answer(ctx, c)
		})
	}
	cancel()
	s.wait.Wait()
	return err
}

func sleep(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-t.C:
		return true
	}
}

// guarded keeps a failure here from the runs, which go on without a door.
func (s *Server) guarded(f func()) {
	defer func() {
		if r := recover(); r != nil {
			s.cfg.Complain(fmt.Errorf("a failure in the server: %v\n%s", r, debug.Stack()))
		}
	}()
	f()
}

// Answer serves one connection to its end and closes it.
func (s *Server) Answer(ctx context.Context, nc net.Conn) {
	ctx, cancel := context.WithCancel(ctx)
	c := &serverConn{s: s, nc: nc, leave: cancel, in: newLines(nc)}
	defer nc.Close()
	defer cancel()
	if !sameUser(nc) {
		return
	}
	if !s.enter(c) {
		c.say(message{Answer: &answer{Refusal: &Refusal{Code: 75, Text: "too many are connected"}}})
		return
	}
	defer s.left(c)
	stop := context.AfterFunc(ctx, func() { nc.Close() })
	defer stop()
	if err := c.converse(ctx); err != nil && !gone(err) {
		s.cfg.Complain(fmt.Errorf("screen %s: %w", c.name, err))
	}
}

// gone says that the other side left, or was left.
func gone(err error) bool {
	return errors.Is(err, io.EOF) || errors.Is(err, net.ErrClosed) || broken(err) ||
		errors.Is(err, io.ErrClosedPipe) || errors.Is(err, context.Canceled)
}

func (s *Server) enter(c *serverConn) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.conns) >= mostConns {
		return false
	}
	s.conns[c] = true
	return true
}

// left frees what a connection had.
func (s *Server) left(c *serverConn) {
	s.mu.Lock()
	delete(s.conns, c)
	if c.run != "" && s.leases[c.run] == c {
		delete(s.leases, c.run)
	}
	s.mu.Unlock()
	s.tellLease(c.run)
}

// lease gives c the lease of its run where nobody has it, or where c takes it over, and says
// whether c has it now and who had it before.
func (s *Server) lease(c *serverConn, take bool) (mine bool, before string) {
	s.mu.Lock()
	has := s.leases[c.run]
	if has != nil {
		before = has.name
	}
	changed := has != c && (has == nil || take)
	if changed {
		s.leases[c.run] = c
	}
	mine = s.leases[c.run] == c
	s.mu.Unlock()
	if changed {
		s.tellLease(c.run)
	}
	return mine, before
}

// tellLease has every screen of a run hear who may raise its heat.
func (s *Server) tellLease(run string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for c := range s.conns {
		if c.run == run && c.lease != nil {
			select {
			case c.lease <- struct{}{}:
			default:
			}
		}
	}
}

func (s *Server) leaseOf(c *serverConn) Lease {
	s.mu.Lock()
	defer s.mu.Unlock()
	has := s.leases[c.run]
	if has == nil {
		return Lease{}
	}
	return Lease{Name: has.name, Mine: has == c}
}
