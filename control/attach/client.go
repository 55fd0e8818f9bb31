package attach

import (
	"context"
	"errors"
	"fmt"
	"net"
	"time"
)

// Door is where a keeper answers, and who comes.
type Door struct {
	Path string // of the socket
	Me   Hello  // Version is filled in
	Now  func() time.Time
	// Dial reaches the socket; nil for the system's way.
	Dial func(context.Context) (net.Conn, error)
}

// conn is a connection that has greeted.
type conn struct {
	nc    net.Conn
	in    lines
	hello Hello // the keeper's
}

// open dials and greets. Its errors are ErrLong, ErrNobody, ErrVersion or what went wrong.
func (d Door) open(ctx context.Context) (*conn, error) {
	if err := checkPath(d.Path); err != nil {
		return nil, err
	}
	dial := d.Dial
	if dial == nil {
		dial = func(ctx context.Context) (net.Conn, error) {
			var nd net.Dialer
			return nd.DialContext(ctx, "unix", d.Path)
		}
	}
	nc, err := dial(ctx)
	if err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, fmt.Errorf("%w at %s", ErrNobody, d.Path)
	}
	if !sameUser(nc) {
		nc.Close()
		return nil, fmt.Errorf("%w: another user's program answers at %s", ErrFolder, d.Path)
	}
	c := &conn{nc: nc, in: newLines(nc)}
	if err := c.greet(d); err != nil {
		nc.Close()
		if gone(err) {
			err = fmt.Errorf("%w at %s: it hung up", ErrNobody, d.Path)
		}
		return nil, err
	}
	return c, nil
}

func (c *conn) greet(d Door) error {
	if err := c.nc.SetDeadline(d.Now().Add(HelloLimit)); err != nil {
		return err
	}
	me := d.Me
	me.Version = Version
	if err := c.say(message{Hello: &me}); err != nil {
		return err
	}
	m, err := c.in.next()
	switch {
	case err != nil:
		return err
	case m.Answer != nil && m.Answer.Refusal != nil:
		return m.Answer.Refusal
	case m.Hello == nil:
		return fmt.Errorf("%w: it does not greet", errLine)
	case m.Hello.Version != Version:
		return fmt.Errorf("%w (%s, lines of version %d; this is %s, version %d): end its runs with "+
			"that program's stop", ErrVersion, m.Hello.Build, m.Hello.Version, me.Build, Version)
	}
	c.hello = *m.Hello
	return c.nc.SetDeadline(time.Time{})
}

func (c *conn) say(m message) error {
	line, err := encode(m)
	if err != nil {
		return err
	}
	_, err = c.nc.Write(line)
	return err
}

// answered waits for the answer to what was wanted, and gives the run's name.
func (c *conn) answered() (string, error) {
	m, err := c.in.next()
	switch {
	case err != nil:
		if gone(err) {
			err = fmt.Errorf("%w: it hung up", ErrNobody)
		}
		return "", err
	case m.Answer == nil:
		return "", fmt.Errorf("%w: an answer was to come", errLine)
	case m.Answer.Refusal != nil:
		return "", m.Answer.Refusal
	}
	return m.Answer.Run, nil
}

// Look asks the keeper who it is and what runs.
func (d Door) Look(ctx context.Context) (Hello, error) {
	c, err := d.open(ctx)
	if err != nil {
		return Hello{}, err
	}
	defer c.nc.Close()
	return c.hello, nil
}

// Start has the keeper begin a run and gives its name. A refusal is a *Refusal. Ending ctx
// meanwhile takes the wish back.
func (d Door) Start(ctx context.Context, j Job) (string, error) {
	c, err := d.open(ctx)
	if err != nil {
		return "", err
	}
	defer c.nc.Close()
	stop := context.AfterFunc(ctx, func() { c.nc.Close() })
	defer stop()
	if err := c.say(message{Start: &j}); err != nil {
		return "", err
	}
	run, err := c.answered()
	if err != nil && ctx.Err() != nil {
		err = context.Cause(ctx)
	}
	return run, err
}

// Watch makes a screen of a run; "" is the only one there is.
func (d Door) Watch(ctx context.Context, run string) (*Watcher, error) {
	c, err := d.watch(ctx, run)
	if err != nil {
		return nil, err
	}
	return newWatcher(d, c), nil
}

// GiveUp ends an unfinished run, which the keeper lists and cannot take up, and says how it was
// left. A refusal is a *Refusal. The run ends even where ctx does before the answer.
func (d Door) GiveUp(ctx context.Context, run string) (Outcome, error) {
	c, err := d.open(ctx)
	if err != nil {
		return Outcome{}, err
	}
	defer c.nc.Close()
	stop := context.AfterFunc(ctx, func() { c.nc.Close() })
	defer stop()
	if err := c.say(message{GiveUp: &run}); err != nil {
		return Outcome{}, err
	}
	switch m, err := c.in.next(); {
	case err != nil:
		return Outcome{}, fmt.Errorf("%w: it hung up", ErrNobody)
	case m.Answer != nil && m.Answer.Refusal != nil:
		return Outcome{}, m.Answer.Refusal
	case m.Over != nil:
		return *m.Over, nil
	}
	return Outcome{}, fmt.Errorf("%w: an answer was to come", errLine)
}

// watching is a connection that has become a screen.
type watching struct {
	*conn
	run string
}

func (d Door) watch(ctx context.Context, run string) (*watching, error) {
	c, err := d.open(ctx)
	if err != nil {
		return nil, err
	}
	if err := c.nc.SetDeadline(d.Now().Add(HelloLimit)); err != nil {
		c.nc.Close()
		return nil, err
	}
	if err = c.say(message{Watch: &run}); err == nil {
		run, err = c.answered()
	}
	if err = errors.Join(err, c.nc.SetDeadline(time.Time{})); err != nil {
		c.nc.Close()
		return nil, err
	}
	return &watching{c, run}, nil
}
