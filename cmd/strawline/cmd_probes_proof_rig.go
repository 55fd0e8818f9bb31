package main

import (
	"errors"
	"fmt"
	"time"

	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/port"
	"strawline/probe/sim"
	"strawline/probe/temp"
)

// Figures of the walk. All are our choice.
const (
	freshFor  = 1500 * time.Millisecond // a reading that may carry heat, as in a run
	smoothed  = 20                      // readings that a temperature is the mean of: 5 s
	backWait  = 2 * time.Minute         // for a cable to be plugged in again
	latchWait = 4 * time.Second         // for the dead man's latch: its 3 s, a sample, and the cable
)

// proving is one walk.
type proving struct {
	*talk
	f       *proofFlags
	at      string // what a person calls the board: "board temper on /dev/ttyUSB0"
	path    string // its port
	of      string // its name in the found file; "" until it has said its own
	heater  *proofHeater
	store   *shop.Store // nil: nothing is kept
	file    string      // its path
	open    func() (port.Opener, port.Config)
	sim     *proofSim // nil: a real one
	partial bool      // a part of the heat can be commanded: no contactor
	today   shop.Date

	p     *port.Port
	board probe.Board // as it said last
	link  probe.Link
	last  probe.Reading // of the guard channel
	hots  []temp.C      // its last good readings, newest last
	boots int           // starts of the board seen
	away  bool          // the port was gone, since that was last asked

	// The heat that is commanded.
	duty   int           // per mille
	mute   bool          // say nothing at all: no duty, no 0
	allow  probe.Latch   // latches that may stand meanwhile
	top    temp.C        // above which the heat goes
	until  time.Duration // when it goes in any case
	cut    string        // why it went
	rose   bool          // it went because the oven grew hotter than top
	sentAt time.Duration // of the last duty above 0
	takes  int           // commands that the board took since

	lowered *shop.Lowered // the limit is lowered; nil: it is as it was
	heatRun string        // name of the run that made the oven warm
	tried   map[shop.Part]tried
	kept    bool // it stands in the found file
}

// Poll reads the port once and commands what is to be commanded.
func (c *proving) Poll(now time.Duration) probe.Batch {
	b := c.read(now)
	c.link = b.Link
	c.boots += len(b.Boots)
	c.away = c.away || b.Link.State == probe.LinkGone || b.Link.State == probe.LinkMissing
	if b.Link.Board != nil {
		c.board = *b.Link.Board
	}
	for _, r := range b.Readings {
		if r.Channel != c.board.Settings.Guard {
			continue
		}
		if c.duty > 0 && r.Accepted != c.last.Accepted {
			c.takes++
		}
		c.last = r
		if r.Good() {
			c.hots = append(c.hots[max(0, len(c.hots)-smoothed+1):], r.Hot)
		}
	}
	now = c.clock.Now()
	if c.duty > 0 {
		if why := c.doubt(now); why != "" {
			c.off()
			c.cut, c.rose = why, c.last.Good() && c.last.Hot > c.top
		}
	}
	if !c.mute {
		sent := c.p.Sent()
		c.p.Command(now, c.duty)
		if c.duty > 0 && c.p.Sent() > sent {
			c.sentAt = now
		}
	}
	return b
}

// read polls; a simulated board is granted its time first.
func (c *proving) read(now time.Duration) probe.Batch {
	if c.sim == nil {
		return c.p.Poll(now)
	}
	c.sim.paced(c.sim.asking)
	said, err := c.sim.grants.Grant(c.p.Sent())
	c.sim.now += sim.Step
	if err == nil {
		var b probe.Batch
		if b, err = c.p.Collect(c.sim.now, said); err == nil {
			return b
		}
	}
	return probe.Batch{Link: probe.Link{State: probe.LinkGone}}
}

// ProposeSettings and Err are those of the port.
func (c *proving) ProposeSettings(now time.Duration, s probe.Settings) {
	c.p.ProposeSettings(now, s)
}

// Err says why the link is not up.
func (c *proving) Err() error { return c.p.Err() }

// doubt says what takes the commanded heat away, "" if nothing does.
func (c *proving) doubt(now time.Duration) string {
	r := c.last
	switch {
	case !c.link.Heats:
		return "the link to the board was lost"
	case !r.Good():
		return "the guard channel's probe is " + r.Fault.String()
	case now-r.At > freshFor:
		return fmt.Sprintf("no reading for %v", freshFor)
	case r.Latches&^c.allow != 0:
		return "the board says " + (r.Latches &^ c.allow).String()
	case r.Hot > c.top:
		return fmt.Sprintf("it rose above %s", two(c.top))
	case now >= c.until:
		return "its time was over"
	}
	return ""
}

// heat has a duty commanded from the next look on, for most at the longest and up to top.
func (c *proving) heat(pm int, allow probe.Latch, top temp.C, most time.Duration) {
	c.duty, c.allow, c.top, c.until = pm, allow, top, c.clock.Now()+most
	c.cut, c.rose, c.takes = "", false, 0
}

// taken says that the board took commands of heat, and not only the 0 before them.
func (c *proving) taken() bool { return c.takes >= 3 }

// off commands no heat from the next look on; there the 0 goes out at once.
func (c *proving) off() { c.duty, c.mute = 0, false }

// part gives a share of the heat, or the whole of it where a contactor must not chatter.
func (c *proving) part(pm int) int {
	if c.partial {
		return pm
	}
	return 1000
}

// mean gives the temperature at the guard channel.
func (c *proving) mean() temp.C {
	if len(c.hots) == 0 {
		return c.last.Hot
	}
	sum := 0.0
	for _, h := range c.hots {
		sum += float64(h)
	}
	return temp.C(sum / float64(len(c.hots)))
}

// watch looks until done says so or the time is over, and reports which. What was broken off is
// an error.
func (c *proving) watch(most time.Duration, done func() bool) (bool, error) {
	for start := c.clock.Now(); ; {
		if c.ctx.Err() != nil {
			c.off()
			return false, c.ended()
		}
		c.look()
		switch {
		case done():
			return true, nil
		case c.clock.Now()-start >= most:
			return false, nil
		}
	}
}

// quiet commands no heat and looks until the board can have answered the last 0.
func (c *proving) quiet() {
	c.off()
	for still := 0; still < 2 && c.link.State == probe.LinkUp; still++ {
		sent := c.p.Sent()
		if c.look(); c.p.Sent() > sent {
			still = -1
		}
	}
}

// lost is the fault of a link that did not stand through a part.
func (c *proving) lost() error {
	why := errors.New("the board started again")
	switch {
	case c.link.Other != "":
		why = errors.New("another board is there: " + c.link.Other)
	case c.link.State != probe.LinkUp:
		why = fmt.Errorf("the link to the board is %s", c.link.State)
	}
	return &fault{code: exitUnavailable, did: "prove", to: c.at, wrong: why,
		help: "the part that was under way proves nothing"}
}

// steady says whether the same board still stands behind the link since boots were counted.
func (c *proving) steady(boots int) bool { return c.boots == boots && c.link.Heats }

// reach opens the port and waits for the board.
func (c *proving) reach() error {
	if c.sim != nil && c.sim.board != nil {
		c.sim.board.Closed()
	}
	open, cfg := c.open()
	was := c.board.Name
	c.p = port.New(cfg, open)
	c.duty, c.mute, c.hots, c.last, c.link = 0, false, nil, probe.Reading{}, probe.Link{}
	c.ears = []*ear{{name: c.path, poll: c.Poll, err: c.p.Err, close: c.p.Close,
		asks: func() []string { return nil }}}
	b, err := c.h.meet(c.ctx, c, c.clock, c.path)
	if err != nil {
		return err
	}
	if was != "" && b.Name != was {
		return &fault{code: exitUnavailable, did: "prove", to: c.at, wrong: fmt.Errorf(
			"another board answers: it calls itself %s, and the walk began with %s", b.Name, was)}
	}
	if c.of == "" {
		c.of = nameOf(b.Name)
	}
	if b.Latches&probe.LatchConfig != 0 {
		return &fault{code: exitConfig, did: "prove", to: c.at,
			wrong: errors.New("it cannot read its stored settings"),
			help:  "set them: strawline probes board --port " + c.path + " --limit ..."}
	}
	ok, err := c.watch(boardPatience, func() bool { return len(c.hots) >= smoothed })
	if err == nil && !ok {
		err = &fault{code: exitUnavailable, did: "prove", to: c.at, wrong: fmt.Errorf(
			"its guard channel %d gave no good reading: %s", c.board.Settings.Guard, c.last.Fault),
			help: "look at the probe"}
	}
	return err
}

// unlatched has the board's latches reset, if any stand and the person says so; false leaves
// them.
func (c *proving) unlatched() (bool, error) {
	if c.last.Latches == 0 {
		return true, nil
	}
	yes, err := c.yes("The board's latch stands: %s. Reset it, so that it may heat again?",
		c.last.Latches)
	if err != nil || !yes {
		return false, err
	}
	c.p.ResetLatches(c.clock.Now())
	ok, err := c.watch(boardPatience, func() bool { return c.last.Latches == 0 && c.link.Heats })
	if err == nil && !ok {
		c.say("It still says %s: its cause stands.", c.last.Latches)
	}
	return ok, err
}
