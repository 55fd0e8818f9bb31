package keeper

import (
	"time"

	"strawline/control"
	"strawline/probe/plant"
	"strawline/probe/sim"
	"strawline/probe/temp"
	"strawline/profiles"
)

// Person says what the simulated person does after a trip.
type Person string

// The two simulated persons.
const (
	GoesOn Person = "goes-on" // acknowledges, resets and goes on after 2 minutes
	Away   Person = "away"    // is not there: the run is ended after 10 minutes
)

// Times of the simulated person, in simulated time. Invented, as the whole scenario is.
const (
	bladeInAfter = time.Minute      // reaches the oven after the wait began
	doorOpenFor  = 20 * time.Second // to put a blade in or take it out
	cooledAfter  = 30 * time.Minute // the blade is cool enough for the hand
	answerAfter  = time.Minute      // answers the end of the run
	goesOnAfter  = 2 * time.Minute
	awayEnds     = 10 * time.Minute
	resetTakes   = 2 * time.Second // between reset and go on
)

// person stands beside the simulated oven: opens its door, moves the blade, answers waits.
type person struct {
	mode  Person
	board *sim.Board
	oven  plant.Params
	seen  string        // what it is busy with: phase and step
	since time.Duration // since when
	done  int           // how many of its acts on it are done
	open  bool          // the door, by its own hand
	dial  temp.C        // of an oven whose heat the person holds
	hot   bool          // the dial is not at off
}

const personName = "simulated person"

// look takes the newest Snapshot and gives what the person asks now.
func (p *person) look(s control.Snapshot) []control.Ask {
	if p.board != nil && s.Info.Shop.NoHeater && (s.OvenOn != p.hot || s.OvenSet != p.dial) {
		p.hot, p.dial = s.OvenOn, s.OvenSet
		p.board.SetOven(p.dial, !p.hot)
	}
	key := string(s.Phase)
	if s.Phase == control.PhaseRunning {
		key += string(rune('0' + s.Step))
	}
	if key != p.seen {
		p.seen, p.since, p.done = key, s.T, 0
		if p.open { // never leaves it open when something else happens
			p.door(false)
		}
	}
	switch in := s.T - p.since; s.Phase {
	case control.PhaseRunning:
		if s.Step < len(s.Steps) && s.Steps[s.Step].Kind == profiles.Wait {
			return p.wait(s.Steps[s.Step].Load, in)
		}
	case control.PhaseTripped:
		return p.tripped(in)
	case control.PhaseEnded:
		if in >= answerAfter {
			return p.asks(control.AskAnswer)
		}
	}
	return nil
}

func (p *person) asks(kinds ...control.AskKind) []control.Ask {
	var as []control.Ask
	for _, k := range kinds {
		as = append(as, control.Ask{Kind: k, By: personName})
	}
	return as
}

// wait plays one wait: door open, the blade moved half way through, door closed, answered.
func (p *person) wait(l profiles.Load, in time.Duration) []control.Ask {
	open := bladeInAfter
	answer := open + doorOpenFor
	if l == profiles.LoadOut {
		answer = cooledAfter
	}
	if l == profiles.LoadSame {
		open = answer // no door
	}
	act := func(n int, at time.Duration, f func()) {
		if p.done == n && in >= at {
			p.done++
			f()
		}
	}
	if l != profiles.LoadSame && p.board != nil { // beside another process it only answers
		act(0, open, func() { p.door(true) })
		act(1, open+doorOpenFor/2, func() { p.move(l) })
		act(2, open+doorOpenFor, func() { p.door(false) })
	}
	if in >= answer {
		return p.asks(control.AskConfirm)
	}
	return nil
}

func (p *person) door(open bool) {
	if p.board == nil {
		return
	}
	p.open = open
	p.board.Door(open)
}

func (p *person) move(l profiles.Load) {
	if l == profiles.LoadIn {
		p.board.BladeIn(p.oven.Blade, p.oven.Room)
		return
	}
	p.board.BladeOut()
}

func (p *person) tripped(in time.Duration) []control.Ask {
	if p.mode == Away {
		if in >= awayEnds {
			return []control.Ask{{Kind: control.AskStop, By: personName,
				Text: "nobody came for 10 minutes after the trip"}}
		}
		return nil
	}
	// Try again every two minutes for as long as the trip stands.
	round := time.Duration(p.done/2+1) * goesOnAfter
	switch {
	case p.done%2 == 0 && in >= round:
		p.done++
		return p.asks(control.AskAcknowledge, control.AskReset)
	case p.done%2 == 1 && in >= round+resetTakes:
		p.done++
		return p.asks(control.AskGoOn)
	}
	return nil
}
