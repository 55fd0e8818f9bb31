package keeper

import (
	"fmt"
	"time"

	"strawline/control"
)

// jumpFrom is how far the clocks must part between two steps before it is told: more than a busy
// machine or a clock that is steered does. Our choice.
const jumpFrom = 2 * time.Second

// clockWatch compares the wall's clock with the one that the run goes by, from step to step.
type clockWatch struct {
	begun bool
	now   time.Duration
	wall  time.Time
}

// look takes both clocks, counts says whether now goes on while the computer sleeps. It says what
// happened since the last look, "" for nothing, and for how long the computer slept unseen by
// now.
func (c *clockWatch) look(now time.Duration, wall time.Time, counts bool) (
	words string, slept time.Duration,
) {
	wall = wall.Round(0) // Go compares the monotonic parts where both have one
	was := *c
	*c = clockWatch{begun: true, now: now, wall: wall}
	if !was.begun {
		return "", 0
	}
	step := now - was.now
	apart := wall.Sub(was.wall) - step
	switch {
	case step >= jumpFrom && counts:
		words = fmt.Sprintf("the computer slept, or the program was stopped, for %s",
			step.Round(time.Second))
	case step >= jumpFrom:
		words = fmt.Sprintf("the program was stopped for %s", step.Round(time.Second))
	}
	switch {
	case apart >= jumpFrom && !counts: // a sleep, or a clock that was put on: the worse is believed
		words, slept = fmt.Sprintf("the computer slept, or its clock was put on, for %s",
			apart.Round(time.Second)), apart
	case apart >= jumpFrom:
		words = also(words) + fmt.Sprintf("the computer's clock was put on by %s; the run's time "+
			"goes on as it was", apart.Round(time.Second))
	case apart <= -jumpFrom:
		words = also(words) + fmt.Sprintf("the computer's clock was put back by %s; the run's time "+
			"goes on as it was", -apart.Round(time.Second))
	}
	return words, slept
}

func also(words string) string {
	if words == "" {
		return ""
	}
	return words + "; "
}

// lookAtClocks puts a sleep or a clock that was set into the run file. A sleep that the clock of
// the run did not count is added to it, so that the engine sees how long it stood still.
func (k *Keeper) lookAtClocks(c *clockWatch) {
	words, slept := c.look(k.cfg.Clock.Now(), k.cfg.Clock.Wall(), k.cfg.Clock.CountsSleep)
	k.slept.Add(int64(slept))
	if words != "" {
		k.handOver(control.Record{Event: &control.Event{T: k.engine.Snapshot().T,
			Kind: control.EvNote, Text: words}})
	}
}
