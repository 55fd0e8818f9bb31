package attach

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"slices"
	"sync"
	"time"

	"strawline/control"
)

// serverConn is one connection of a server's.
type serverConn struct {
	s     *Server
	nc    net.Conn
	in    lines
	name  string        // of the screen
	run   string        // that it watches; "" while it watches none
	lease chan struct{} // one place; rung when the lease of the run changed
	leave func()
	write sync.Mutex
}

// say writes one line; what is not taken within WriteLimit ends the connection.
func (c *serverConn) say(m message) error {
	line, err := encode(m)
	if err != nil {
		return err
	}
	c.write.Lock()
	defer c.write.Unlock()
	if err := c.nc.SetWriteDeadline(c.s.cfg.Now().Add(WriteLimit)); err != nil {
		return err
	}
	if _, err = c.nc.Write(line); err != nil {
		c.leave()
		var slow net.Error
		if errors.As(err, &slow) && slow.Timeout() {
			return ErrDropped
		}
	}
	return err
}

// converse greets, and does what is wanted.
func (c *serverConn) converse(ctx context.Context) error {
	if err := c.nc.SetReadDeadline(c.s.cfg.Now().Add(HelloLimit)); err != nil {
		return err
	}
	m, err := c.in.next()
	if err != nil {
		return err
	}
	if m.Hello == nil {
		return fmt.Errorf("%w: it does not greet", errLine)
	}
	c.name = m.Hello.Name
	cfg := &c.s.cfg
	if err := c.say(message{Hello: &Hello{Version: Version, Build: cfg.Build, Name: cfg.Shop,
		Runs: cfg.House.Runs()}}); err != nil {
		return err
	}
	if m.Hello.Version != Version {
		return nil // it has read our version
	}
	if m, err = c.in.next(); err != nil {
		return err
	}
	if err := c.nc.SetReadDeadline(time.Time{}); err != nil {
		return err
	}
	switch {
	case m.Start != nil:
		return c.start(ctx, *m.Start)
	case m.Watch != nil:
		return c.watch(ctx, *m.Watch)
	case m.GiveUp != nil:
		o, err := c.s.cfg.House.GiveUp(ctx, *m.GiveUp)
		if err != nil {
			return c.say(message{Answer: &answer{Refusal: refusal(err)}})
		}
		return c.say(message{Over: &o})
	}
	return fmt.Errorf("%w: neither start, watch nor give up", errLine)
}

func (c *serverConn) start(ctx context.Context, j Job) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	go c.s.guarded(func() { // whoever leaves does not want the run any more
		_, _ = c.in.next()
		cancel()
	})
	run, err := c.s.cfg.House.Start(ctx, j)
	return c.say(message{Answer: &answer{Run: run, Refusal: refusal(err)}})
}

// refusal puts an error into words that travel.
func refusal(err error) *Refusal {
	if err == nil {
		return nil
	}
	var r *Refusal
	if errors.As(err, &r) {
		return r
	}
	return &Refusal{Code: 70, Text: err.Error()}
}

// watch makes the connection a screen of a run, until either is over.
func (c *serverConn) watch(ctx context.Context, run string) error {
	name, screen, err := c.s.cfg.House.Screen(run)
	if err != nil {
		return c.say(message{Answer: &answer{Refusal: refusal(err)}})
	}
	c.s.mu.Lock()
	c.run, c.lease = name, make(chan struct{}, 1)
	c.s.mu.Unlock()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	heard := make(chan error, 1)
	go c.s.guarded(func() {
		defer cancel()
		heard <- c.hear(screen)
	})
	if err := c.say(message{Answer: &answer{Run: name}}); err != nil {
		return err
	}
	lease := c.s.leaseOf(c)
	if err := c.say(message{Lease: &lease}); err != nil {
		return err
	}
	told := make(chan struct{})
	go c.s.guarded(func() {
		defer close(told)
		for {
			select {
			case <-ctx.Done():
				return
			case <-c.lease:
				lease := c.s.leaseOf(c)
				if c.say(message{Lease: &lease}) != nil {
					return
				}
			}
		}
	})
	err = c.show(ctx, name, screen)
	cancel()
	<-told
	if ctxErr := context.Canceled; errors.Is(err, ctxErr) {
		select {
		case err = <-heard:
		default:
		}
	}
	return err
}

// show sends past and Snapshots as the screen can take them, and then how the run ended.
func (c *serverConn) show(ctx context.Context, run string, screen Screen) error {
	sent, span := 0, time.Duration(-1)
	var last control.Past // the last span sent
	for first := true; ; first = false {
		s, err := screen.Next(ctx)
		if errors.Is(err, io.EOF) {
			over := c.s.cfg.House.Outcome(ctx, run)
			return c.say(message{Over: &over})
		}
		if err != nil {
			return err
		}
		if at := s.T.Truncate(control.PastSpan); at != span || first {
			span = at
			past := screen.Past()
			from := max(0, sent-1)
			if sent > 0 && len(past) >= sent && past[sent-1] == last {
				from = sent
			}
			if err := c.past(from, past[from:]); err != nil {
				return err
			}
			if sent = len(past); sent > 0 {
				last = past[sent-1]
			}
		}
		if err := c.say(message{Snap: newSnap(s, first)}); err != nil {
			return err
		}
	}
}

func (c *serverConn) past(from int, ps []control.Past) error {
	for part := range slices.Chunk(ps, pastsAtOnce) {
		if err := c.say(message{Past: &pasts{From: from, Spans: part}}); err != nil {
			return err
		}
		from += len(part)
	}
	return nil
}

// hear takes what the screen asks.
func (c *serverConn) hear(screen Screen) error {
	for {
		m, err := c.in.next()
		if err != nil {
			return err
		}
		switch {
		case m.Take:
			if _, before := c.s.lease(c, true); before != "" && before != c.name {
				screen.Ask(control.Ask{Kind: control.AskNote, By: "screen " + c.name,
					Text: "this screen took over from " + before})
			}
		case m.Ask != nil:
			a := answer{ID: m.Ask.ID}
			if why := c.ask(screen, m.Ask.Ask); why != "" {
				a.Refusal = &Refusal{Code: 75, Text: why}
			}
			if err := c.say(message{Answer: &a}); err != nil {
				return err
			}
		default:
			return fmt.Errorf("%w: a screen asks or takes", errLine)
		}
	}
}

func (c *serverConn) ask(screen Screen, a control.Ask) (why string) {
	if a.Kind.Raises() {
		if mine, by := c.s.lease(c, false); !mine {
			return "the screen on " + by + " has the run; take it over first"
		}
	}
	if c.name != "" {
		a.By = "screen " + c.name
	}
	screen.Ask(a)
	return ""
}
