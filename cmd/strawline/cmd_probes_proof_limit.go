package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/temp"
)

// Figures of the proof of the limit. All are our choice.
const (
	limitUnder   = temp.Delta(5)    // the lowered limit is this far below the temperature
	limitSure    = temp.Delta(2)    // above it the chip's own scale cannot make the difference
	limitLatch   = 3 * time.Second  // the board judges each conversion, four in a second
	limitDuty    = 250              // ‰: more than holds an oven at a modest heat, limitMild
	limitMild    = temp.C(125)      // and in proportion above it, as an oven's losses grow
	limitRoom    = temp.C(20)       // that they count from
	limitFall    = temp.Delta(2)    // beyond the readings' noise
	limitAgain   = temp.Delta(0.3)  // above the lowest: noise; more is heat that got through
	limitRise    = temp.Delta(5)    // what a heated oven may still coast, and no more
	limitWatch   = 10 * time.Minute // for the heat to be seen to fall
	limitAtLeast = 2 * time.Minute  // of commanded heat: what got through would show by then
	limitLately  = 30 * time.Second // in which it must still fall at the end
)

// limit proves the board's own high limit.
func (c *proving) limit() (t tried, err error) {
	c.say("\n1. The board's own high limit, lowered under the present temperature.")
	cold, err := c.warm()
	if err != nil {
		return tried{}, err
	}
	if cold != "" {
		return notDone("%s", cold), nil
	}
	free, err := c.unlatched()
	if err != nil {
		return tried{}, err
	}
	if !free {
		return notDone("a latch of the board stands: %s", c.last.Latches), nil
	}
	to := temp.C(math.Floor(float64(c.mean().Add(-limitUnder))))
	before := c.board.Settings
	if to >= before.Limit {
		return notDone("the limit of %s is under the temperature already", two(before.Limit)), nil
	}
	c.say("It is at %s. The board's limit of %s is lowered to %s; then %s of the heat is "+
		"commanded, which the board must refuse, until the temperature has fallen; that takes %.0f "+
		"minutes or more. Then the limit is put back and read back. Watch the relay's light all the "+
		"while.", two(c.mean()), two(before.Limit), two(to), percent(c.refused(c.mean())),
		limitAtLeast.Minutes())
	boots := c.boots
	if yes, err := c.yes("Lower it now?"); err != nil || !yes {
		return leftOut(err), err
	}
	if !c.steady(boots) {
		return tried{}, c.lost()
	}
	defer func() {
		back := c.putBack()
		if back != nil && t.result == shop.Passed {
			t = notDone("%s; but the limit was not seen put back", t.seen)
		}
		if back != nil && err == nil {
			err = back
		} else if back != nil {
			err = &fault{code: exitUnavailable, did: "prove", to: c.at, wrong: errors.Join(
				asFault(err).wrong, back), help: c.byHand()}
		}
	}()
	if err := c.lower(to); err != nil {
		return notDone("the board did not take the lowered limit: %s",
			oneLine(asFault(err).wrong.Error())), err
	}
	t, err = c.latched(to)
	if err == nil && t.result == "" {
		t, err = c.refusesHeat(t.seen)
	}
	if t.result == shop.Failed {
		c.off()
		c.say("FAILED: %s", t.seen)
		c.say("%s", pullPlug)
	}
	return t, err
}

// lower notes what the board has and lowers its limit.
func (c *proving) lower(to temp.C) error {
	want := c.board.Settings
	note := shop.Lowered{Port: c.path, Board: c.board.Name, To: to, Before: want}
	note.Before.LimitQ = 0
	if c.sim != nil {
		note.Port = ""
	}
	if err := c.keep(func(f *shop.Found) {
		f.Lowered = shop.Put(f.Lowered, shop.Entry[shop.Lowered]{Of: c.of, Date: c.today, Value: note})
	}); err != nil {
		return err // without the note a limit could stay low and nobody know
	}
	note.Before = want
	c.lowered = &note
	want.Limit = to
	// Never left in the middle: the second step would still go out while it is put back.
	b, err := c.h.store(context.WithoutCancel(c.ctx), c, c.clock, c.path, want)
	if err != nil {
		return err
	}
	c.say("The board reads back: high limit %s.", bothWays(float64(b.Settings.Limit),
		b.Settings.LimitQ))
	return nil
}

// latched waits for the board's latch. A result means that the part ends here.
func (c *proving) latched(to temp.C) (tried, error) {
	start, boots, low := c.clock.Now(), c.boots, c.last.Hot
	ok, err := c.watch(limitLatch, func() bool {
		low = min(low, c.last.Hot)
		return c.last.Latches&probe.LatchHighLimit != 0 || !c.steady(boots) || !c.last.Good()
	})
	took := c.clock.Now() - start
	switch {
	case err != nil:
		return tried{}, err
	case ok && c.last.Latches&probe.LatchHighLimit != 0 && c.steady(boots):
		c.say("The board says: high limit.")
		return tried{seen: fmt.Sprintf("limit lowered to %.0f °C at %.1f °C; the board said high limit "+
			"within %.1f s", float64(to), float64(c.mean()), took.Seconds())}, nil
	case !c.steady(boots):
		return tried{}, c.lost()
	case !c.last.Good():
		return notDone("the guard channel's probe is %s", c.last.Fault), nil
	case low < to.Add(limitSure):
		return notDone("it cooled too near to the lowered limit to tell"), nil
	}
	return failed("no latch within %v with the limit at %.0f °C and the reading at %.1f °C",
		limitLatch, float64(to), float64(c.mean())), nil
}

// refusesHeat commands heat that a latched board must refuse, and waits for the fall.
func (c *proving) refusesHeat(seen string) (tried, error) {
	from, on, boots, start := c.mean(), c.outputOn(), c.boots, c.clock.Now()
	duty, lately, at, lowest := c.refused(from), from, start, from
	c.heat(duty, probe.LatchHighLimit, from.Add(limitRise), limitWatch)
	shown, let, falls := start, false, false
	fell, err := c.watch(limitWatch+time.Second, func() bool {
		let = c.link.Heats && c.last.Latches&probe.LatchHighLimit == 0
		now := c.clock.Now()
		if now-at >= limitLately {
			falls, lately, at = c.mean() < lately, c.mean(), now
		}
		lowest = min(lowest, c.mean())
		if now-shown >= 20*time.Second {
			shown = now
			c.progress("  %3.0f s: %s commanded, the board says %s, %s", (now - start).Seconds(),
				percent(duty), c.last.Latches, two(c.mean()))
		}
		return let || c.duty == 0 || !c.steady(boots) || c.taken() && now-start >= limitAtLeast &&
			falls && c.mean() <= min(from.Add(-limitFall), lowest.Add(limitAgain))
	})
	span, cut := c.clock.Now()-start, c.cut
	c.off()
	if err != nil {
		return tried{}, err
	}
	c.look() // the 0 goes out before anything is asked
	switch {
	case !c.steady(boots):
		return tried{}, c.lost()
	case let:
		return failed("%s; then it let its latch go by itself while heat was commanded", seen), nil
	case fell && cut == "":
	case c.rose:
		return failed("%s, and it grew hotter by %.0f °C in %.0f s", seen, float64(limitRise),
			span.Seconds()), nil
	case c.last.Good() && span >= limitWatch:
		return failed("%s, and it did not fall by %.0f °C and go on falling in %v", seen,
			float64(limitFall), limitWatch), nil
	default:
		return notDone("the heat was taken away: %s", cut), nil
	}
	seen = fmt.Sprintf("%s; %s commanded for %.0f s, it fell %.1f °C", seen, percent(duty),
		span.Seconds(), float64(from.Sub(c.mean())))
	c.say("It fell by %.1f °C in %.0f s with %s commanded and refused.",
		float64(from.Sub(c.mean())), span.Seconds(), percent(duty))
	saw, err := c.lamp("all the while", on)
	if err != nil {
		return tried{}, err
	}
	if saw == sawOn {
		return failed("%s; %s", seen, lampWords(saw)), nil
	}
	return tried{shop.Passed, seen + "; " + lampWords(saw)}, nil
}

// refused is the part of the heat, in per mille, that the latched board is to refuse at a
// temperature: were it to get through, the oven would not cool.
func (c *proving) refused(at temp.C) int {
	share := float64(at.Sub(limitRoom) / limitMild.Sub(limitRoom))
	return c.part(int(limitDuty * max(1, min(share, 1000.0/limitDuty))))
}

func percent(pm int) string { return fmt.Sprintf("%d %%", pm/10) }

// How long the limit is tried to be put back. Both are our choice.
const (
	putBackUsual = 3 * time.Minute  // a cable may have to be plugged in again
	putBackTold  = 15 * time.Second // after a signal
)

// putBack gives the board its settings again and reads them back, whatever became of the walk.
func (c *proving) putBack() error {
	if c.lowered == nil {
		return nil
	}
	c.off()
	want, most := c.lowered.Before, putBackUsual
	if c.ctx.Err() != nil {
		most = putBackTold
	}
	free, told := context.WithoutCancel(c.ctx), false
	var err error
	for start := c.clock.Now(); c.clock.Now()-start < most; {
		var b *probe.Board
		b, err = c.h.meet(free, c, c.clock, c.path)
		switch {
		case err == nil && b.Name != c.lowered.Board:
			err = fmt.Errorf("another board answers: %s", b.Name)
		case err == nil: // always, since what it said last may be older than the lowering
			if b, err = c.h.store(free, c, c.clock, c.path, want); err == nil && alike(b.Settings, want) {
				return c.isBack(b)
			}
		}
		if !told {
			told = true
			c.say("The board's limit is not put back yet: %v. It stands at %s or at %s. "+
				"Is the cable in? It is tried for %v.", err, two(c.lowered.To), two(want.Limit), most)
		}
	}
	return &fault{code: exitUnavailable, did: "put back", to: "the limit of " + c.at,
		wrong: fmt.Errorf("it may still be %s instead of %s: %w", two(c.lowered.To), two(want.Limit),
			err), help: c.byHand()}
}

// alike says that a board has these settings.
func alike(a, b probe.Settings) bool {
	if b.LimitQ == 0 { // as a note has it
		b.LimitQ = a.LimitQ
		if math.Abs(float64(a.Limit.Sub(b.Limit))) > 0.01 {
			return false
		}
	}
	a.Limit = b.Limit
	return a == b
}

// isBack takes the note away, once the board has said what it has.
func (c *proving) isBack(b *probe.Board) error {
	c.lowered = nil
	c.say("The board reads back: high limit %s, as before.", bothWays(float64(b.Settings.Limit),
		b.Settings.LimitQ))
	return c.keep(func(f *shop.Found) { f.Lowered = shop.Drop(f.Lowered, c.of) })
}

// byHand says how a person puts the limit back.
func (c *proving) byHand() string { return putBackWords(c.path, c.lowered.Before) }

// putBackWords gives the commands that put a board's settings back.
func putBackWords(path string, s probe.Settings) string {
	return "strawline probes proof puts it back when the board is there again, or " +
		handWords(path, s)
}

// handWords is the command by which a person puts a board's settings back.
func handWords(path string, s probe.Settings) string {
	return fmt.Sprintf("strawline probes board --port %s --limit %.2fC --guard %d --window %.0fs "+
		"--mains %dHz", path, float64(s.Limit), s.Guard, s.Window.Seconds(), s.MainsHz)
}

// left looks for a limit that an earlier proof lowered and did not see put back.
func (c *proving) left() error {
	if c.store == nil {
		return nil
	}
	found, err := c.store.Load()
	if err != nil {
		return &fault{code: exitData, wrong: err}
	}
	e := shop.Get(found.Lowered, c.of)
	if e == nil {
		return nil
	}
	v := e.Value
	is := bothWays(float64(c.board.Settings.Limit), c.board.Settings.LimitQ)
	c.say("A proof of %v began to lower this board's limit from %s to %s and has not seen it put "+
		"back. The board has now: %s.", e.Date, two(v.Before.Limit), two(v.To), is)
	if c.board.Name != v.Board {
		return &fault{code: exitConfig, did: "prove", to: c.at, wrong: fmt.Errorf(
			"this board calls itself %s; the one that was lowered is %s", c.board.Name, v.Board),
			help: putBackWords(c.path, v.Before) + ", on that board"}
	}
	c.lowered = &v
	if alike(c.board.Settings, v.Before) { // said since the port was opened
		return c.isBack(&c.board)
	}
	yes, err := c.yes("Put %s back now?", two(v.Before.Limit))
	switch {
	case err != nil:
	case yes:
		return c.putBack()
	default:
		err = &fault{code: exitConfig, did: "prove", to: c.at, wrong: errors.New(
			"its limit is still the one of an earlier proof")}
	}
	f := *asFault(err)
	f.help = c.byHand()
	c.lowered = nil
	return &f
}
