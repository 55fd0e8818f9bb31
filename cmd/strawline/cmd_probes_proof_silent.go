package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/board"
	"strawline/probe/temp"
)

// Figures of the proof of the dead man. All are our choice.
const (
	silentDuty = 100             // ‰: enough to see a relay's light blink
	silentHeat = 6 * time.Second // of it before the program falls silent
	silentTop  = temp.Delta(10)  // that the oven may grow warmer meanwhile
	silentRoom = temp.Delta(20)  // that it must be below the board's limit for it
	pullWait   = time.Minute     // of heat until the cable is pulled
)

// readyToHeat makes what a part is where no heat may be commanded; nothing where it may.
func (c *proving) readyToHeat() (tried, error) {
	free, err := c.unlatched()
	switch {
	case err != nil:
		return tried{}, err
	case !free:
		return notDone("a latch of the board stands: %s", c.last.Latches), nil
	case c.mean() > c.board.Settings.Limit.Add(-silentRoom):
		return notDone("it is at %s, too near to the board's limit", two(c.mean())), nil
	}
	return tried{}, nil
}

// silence proves the dead man with the port open: the program stops talking.
func (c *proving) silence() (tried, error) {
	c.say("\n2. The board's dead man, with the program silent. %s of the heat is commanded for "+
		"%.0f s; then the program says nothing more, and the board has to take the heat away "+
		"within %v. Watch the relay's light.", percent(c.part(silentDuty)), silentHeat.Seconds(),
		board.DeadManAfter)
	if yes, err := c.yes("Stay with the oven. Heat now?"); err != nil || !yes {
		return leftOut(err), err
	}
	if t, err := c.readyToHeat(); err != nil || t.result != "" {
		return t, err
	}
	boots := c.boots
	c.heat(c.part(silentDuty), 0, c.mean().Add(silentTop), silentHeat+latchWait+time.Second)
	ok, err := c.watch(silentHeat, func() bool { return c.duty == 0 })
	switch {
	case err != nil:
		return tried{}, err
	case ok && !c.steady(boots):
		return tried{}, c.lost()
	case ok:
		return notDone("the heat was taken away: %s", c.cut), nil
	case !c.taken():
		c.off()
		return notDone("the board did not take the duty"), nil
	}
	c.mute, c.allow = true, probe.LatchHostSilent
	c.say("The program is silent now.")
	_, err = c.watch(latchWait, func() bool {
		return c.last.Latches != 0 || !c.steady(boots) || c.clock.Now()-c.sentAt >= latchWait
	})
	took, on, cut := c.clock.Now()-c.sentAt, c.outputOn(), c.cut
	c.off()
	if err != nil {
		return tried{}, err
	}
	c.look() // the 0 goes out before anything is asked
	switch {
	case !c.steady(boots):
		return tried{}, c.lost()
	case c.last.Latches&probe.LatchHostSilent == 0 && cut != "":
		// The 0 that took it away was a command: the dead man had no reason to latch.
		return notDone("the silence was broken, the heat taken away: %s", cut), nil
	case c.last.Latches&probe.LatchHostSilent == 0:
		t := failed("no latch %.1f s after the last command; %v is the board's time", took.Seconds(),
			board.DeadManAfter)
		c.say("FAILED: %s. Off is commanded.", t.seen)
		c.say("%s", pullPlug)
		return t, nil
	}
	c.say("The board says: host silent, %.1f s after the last command.", took.Seconds())
	return c.seenSilent(fmt.Sprintf("%s commanded, then nothing: the board said host silent within "+
		"%.1f s", percent(c.part(silentDuty)), took.Seconds()), "3 s after the program fell silent", on)
}

// seenSilent asks what the person saw and makes the result of it.
func (c *proving) seenSilent(seen, when string, on time.Duration) (tried, error) {
	saw, err := c.lamp(when, on)
	if err != nil {
		return tried{}, err
	}
	t := tried{shop.Passed, seen + "; " + lampWords(saw)}
	if saw == sawOn {
		t.result = shop.Failed
		c.say("FAILED: %s", t.seen)
		c.say("%s", pullPlug)
	}
	return t, nil
}

// waitTyped looks until done says so, a line is typed or the time is over.
func (c *proving) waitTyped(most time.Duration, done func() bool) (
	line string, typed bool, err error,
) {
	ended := false
	_, err = c.watch(most, func() bool {
		select {
		case l, ok := <-c.typed:
			line, typed, ended = l, ok, !ok
		default:
		}
		return typed || ended || done()
	})
	if ended && err == nil {
		c.off()
		err = &fault{code: exitNoInput, wrong: errors.New("the input ended in the middle of it")}
	}
	return line, typed, err
}

const leaveOut = "skip"

// cable proves what becomes of the heat when the cable is pulled.
func (c *proving) cable() (tried, error) {
	c.say("\n3. The cable. %s of the heat is commanded; you pull the cable between computer and "+
		"board, look at the relay's light, and plug it in again. On most boards it is the power as well.",
		percent(c.part(silentDuty)))
	yes, err := c.yes("Stay with the oven, with a hand at its plug. Heat now?")
	if err != nil || !yes {
		return leftOut(err), err
	}
	if t, err := c.readyToHeat(); err != nil || t.result != "" {
		return t, err
	}
	boots, was := c.boots, c.board
	c.away = false
	c.heat(c.part(silentDuty), 0, c.mean().Add(silentTop), pullWait)
	c.say("Pull the cable out now, within %v; skip leaves this out.", pullWait)
	if c.sim != nil && c.sim.board != nil {
		c.say("SIMULATED: Enter pulls it.")
	}
	left := false
	for !left && c.duty > 0 {
		line, typed, err := c.waitTyped(pullWait+time.Second, func() bool {
			return c.duty == 0 || c.link.State != probe.LinkUp
		})
		switch {
		case err != nil:
			return tried{}, err
		case typed && strings.EqualFold(line, leaveOut):
			left = true
		case typed && c.sim != nil && c.sim.board != nil:
			c.sim.board.Pull(true)
			if _, err := c.watch(pullWait, func() bool { return c.duty == 0 }); err != nil {
				return tried{}, err
			}
		}
	}
	cut, gone, on := c.cut, c.link.State != probe.LinkUp, c.outputOn()
	c.off()
	switch {
	case left:
		return notDone("left out"), nil
	case !gone && c.boots != boots:
		return tried{}, c.lost()
	case !gone:
		return notDone("the heat was taken away before the cable was pulled: %s", cut), nil
	}
	if c.away {
		c.say("The board is gone.")
	} else { // as with an adapter that stays, and with a board that starts by itself
		c.say("The board is silent; its port is still there.")
	}
	saw, err := c.lamp("3 s after it at the latest", on)
	if err != nil {
		return tried{}, err
	}
	if saw == sawOn {
		t := failed("cable pulled with heat commanded; %s", lampWords(saw))
		c.say("FAILED: %s", t.seen)
		c.say("%s", pullPlug)
		return t, nil
	}
	return c.plugged(boots, was, saw)
}

// plugged waits for the board and makes the result of what it says.
func (c *proving) plugged(boots int, was probe.Board, saw string) (tried, error) {
	sent := c.sentAt
	c.say("Plug it in again; skip leaves it out.")
	if c.sim != nil && c.sim.board != nil {
		c.say("SIMULATED: Enter plugs it in.")
	}
	back := func() bool { return c.link.Heats || c.link.State == probe.LinkOther }
	for !back() {
		line, typed, err := c.waitTyped(backWait, back)
		switch {
		case err != nil:
			return tried{}, err
		case typed && !strings.EqualFold(line, leaveOut):
			if c.sim != nil && c.sim.board != nil {
				c.sim.board.Pull(false)
				if _, err := c.watch(backWait, back); err != nil {
					return tried{}, err
				}
			}
		case !back():
			why := fmt.Errorf("it did not come back on %s", c.path)
			return notDone("cable pulled with heat commanded; %s; %v", lampWords(saw), why),
				&fault{code: exitUnavailable, did: "prove", to: c.at, wrong: why,
					help: "strawline probes list shows the ports; a name under /dev/serial/by-id stays"}
		}
	}
	away := c.clock.Now() - sent
	seen := fmt.Sprintf("cable pulled with %s commanded; %s; ", percent(c.part(silentDuty)),
		lampWords(saw))
	again := c.boots != boots || c.board.Boot != was.Boot
	switch latch := c.board.Latches | c.last.Latches; {
	case c.link.State == probe.LinkOther:
		return notDone("another board came back: %s", c.link.Other), nil
	case !again && latch&probe.LatchHostSilent != 0:
		c.say("The board kept on and says: host silent.")
		if d, ok := c.tried[shop.PartDeadMan]; ok && d.result == shop.NotDone {
			c.tried[shop.PartDeadMan] = tried{shop.Passed, seen + "back, the board said host silent"}
		}
		return tried{shop.Passed, seen + "back, the board said host silent"}, nil
	case again && !c.away:
		return notDone("the board fell silent and started again (%s), and its port was never gone: "+
			"that needs no pulled cable", c.board.Cause), nil
	case !again && away < latchWait:
		return notDone("it was back after %.1f s, before the dead man's time", away.Seconds()), nil
	case !again:
		t := failed("%sback after %.0f s, the board ran on and says no host silent", seen,
			away.Seconds())
		c.say("FAILED: %s", t.seen)
		c.say("%s", pullPlug)
		return t, nil
	}
	c.say("The board started again (%s), as most do that have their power from the cable or are "+
		"reset by an opened port: that wipes its latch, so that only what you saw counts here.",
		c.board.Cause)
	seen += fmt.Sprintf("back, the board had started again (%s)", c.board.Cause)
	if saw == sawNot {
		return notDone("%s", seen), nil
	}
	return tried{shop.Passed, seen}, nil
}

// The answers to the question about the cut-out.
const (
	cutTried  = "tried"
	cutFailed = "failed"
	cutNot    = "no"
	cutNone   = "none"
)

// cutOut asks for the person's word on what no program can see.
func (c *proving) cutOut() (tried, error) {
	c.say("\n4. The oven's independent cut-out, which this program cannot see: with its own sensor " +
		"and a contactor, set under the temperature of the oven, it has to take the heat away until " +
		"it is reset by hand. Once a month and after every change is our choice.")
	word, err := c.choice("Did you try it today? Type tried (it took the heat away), failed (it did "+
		"not), no or none (there is none):", cutTried, cutFailed, cutNot, cutNone)
	switch {
	case err != nil:
		return tried{}, err
	case word == cutTried:
		return tried{shop.Passed, "you said: tried, it took the heat away"}, nil
	case word == cutFailed:
		c.say("Pull the oven's plug and do not use it until the cut-out works: it is the last barrier.")
		return failed("you said: tried, it did not take the heat away"), nil
	case word == cutNone:
		c.say("Fit one: a shorted relay heats on whatever the board and this program command.")
		return notDone("you said: there is none"), nil
	}
	return notDone("you said: not tried"), nil
}
