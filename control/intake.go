package control

import (
	"fmt"
	"time"

	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/temp"
)

// intake takes what the port saw: link, starts of the board, latches, readings.
func (e *Engine) intake(b probe.Batch) {
	e.link = b.Link
	if w := b.Link.State.String(); w != e.linkWord {
		e.linkWord = w
		e.emit(Event{Kind: EvLink, Word: w, Text: b.Link.Other})
	}
	if b.Link.State == probe.LinkOther {
		e.startsAnew("another board is on the port: " + b.Link.Other)
	}
	for _, bd := range b.Boots {
		e.emit(Event{Kind: EvBoard, Text: fmt.Sprintf("%s started (start %d, cause %s)",
			bd.Name, bd.Boot, bd.Cause)})
		e.startsAnew("the board restarted")
	}
	for _, r := range b.Readings {
		r.At = max(0, r.At-e.t0)
		e.reading(r)
	}
	e.age()
}

// startsAnew trips; a reset that waits for a board's answer was asked of the board before.
func (e *Engine) startsAnew(why string) {
	if e.phase == PhaseTripped && e.trip.asked != 0 {
		e.trip.asked, e.why = 0, why
		e.emit(Event{Kind: EvAsk, Ask: &Ask{Kind: AskReset}, Word: "refused", Text: why})
		e.emit(Event{Kind: EvTrip, Text: why})
	}
	e.tripOn(why)
}

func (e *Engine) reading(r probe.Reading) {
	if r.Latches != e.latches {
		e.latches = r.Latches
		e.emit(Event{Kind: EvLatch, Word: r.Latches.String()})
	}
	if r.Latches != 0 {
		e.tripOn("the board's latch: " + r.Latches.String())
	}
	if r.Channel < 1 || r.Channel > len(e.chans) {
		return
	}
	c := &e.chans[r.Channel-1]
	if r.Good() {
		r.Hot = c.correct.Correct(r.Hot)
	}
	var v belief.Verdict
	duty := 0.0
	if role := e.cfg.Info.Shop.Channels[r.Channel-1]; c == e.lead || role == RoleBlade {
		duty = float64(e.duty) / 1000 // both are in the oven
	}
	c.state, v = belief.Step(e.judging(), c.state, belief.Input{Reading: r, Duty: duty})
	c.raw, c.hasRaw = r.Raw, true
	before := *c
	c.good = v.Good
	word := v.Why
	if v.Good {
		word = "good"
		if before.hasGood {
			c.wear = c.wear.Add(v.Filtered, r.At-before.at)
		}
		c.value, c.clean, c.at, c.hasGood = v.Filtered, v.Clean, r.At, true
	}
	e.tell(r.Channel, word)
	if v.Good && v.Warn != c.warn { // once when it begins and once when it ends
		c.warn = v.Warn
		e.emit(Event{Kind: EvProbe, Chan: ptr(r.Channel), Word: "good", Text: v.Warn})
	}
	if c == e.lead {
		e.leads(r, v, before)
	}
	switch {
	case c != e.slow:
	case v.Good:
		e.credit(r.At)
	default:
		e.soak.has = false // unlike staleness, which the clock judges by the next reading
	}
}

// doorFall is how fast an opened door moves the probe of our reference oven, °C/s; a heat-up is
// slower. See belief.Default.
const doorFall = 4.4

// judging is what a reading is judged by. A board that takes no duty may say one so seldom that
// an oven's own heat-up is more than a jump from one to the next: there it is what a door can do
// in its learnt interval.
func (e *Engine) judging() belief.Config {
	cfg := e.cfg.Belief
	if e.noHeater() {
		cfg.Jump = max(cfg.Jump, temp.Delta(doorFall*e.link.Interval.Seconds()))
	}
	return cfg
}

// leads takes a reading of the channel that leads the run: the oven's air.
func (e *Engine) leads(r probe.Reading, v belief.Verdict, before channel) {
	e.overRead(r)
	e.guards(r, v)
	if !v.Good {
		e.lost()
		if v.Why == belief.WhyReversed { // it does not pass by itself
			e.tripOn("the reading falls when heated: are the leads reversed?")
		}
		e.raise(v.Why)
		return
	}
	e.doubt.run++
	c := e.lead
	gap := r.At - before.at
	if e.gap {
		e.gap = false
		e.emit(Event{Kind: EvGap, SpanS: ptr(round(gap.Seconds(), 1000))})
	}
	if e.hasBlade && before.good {
		// Straight between two readings: their mean stands for the air between them.
		e.blade = e.cfg.Info.Blade.lag(e.blade, (before.value+c.value)/2, gap)
	} else if e.hasBlade {
		e.blade = e.cfg.Info.Blade.lag(e.blade, c.value, min(gap, MaxStep))
	}
}

// lost begins a gap: the control channel has no good reading.
func (e *Engine) lost() {
	e.gap = e.gap || e.lead.hasGood
}

func (e *Engine) tell(number int, word string) {
	c := &e.chans[number-1]
	if c.word == word {
		return
	}
	c.word = word
	e.emit(Event{Kind: EvProbe, Chan: ptr(number), Word: word})
}

// wonder asks once what stands out while nothing has been heated: a channel that looks like °F,
// or one apart from its neighbours. It only asks.
func (e *Engine) wonder() {
	if e.wondered {
		return
	}
	var rests []belief.Rest
	for i := range e.chans {
		c := &e.chans[i]
		if !c.hasGood && e.cfg.Info.Shop.Channels[i] == "" {
			continue
		}
		rest, still := c.state.AtRest(i + 1)
		if !still {
			return
		}
		rests = append(rests, rest)
	}
	e.wondered = true
	for _, q := range belief.Ask(nil, rests) {
		e.emit(Event{Kind: EvProbe, Chan: &q.Channel, Word: "good", Text: fmt.Sprintf(
			"reads %s where %s is there: %s", q.Hot.Text(e.unit(), 1), q.Others.Text(e.unit(), 1),
			q.Doubt)})
	}
}

// age looks at what has not come.
func (e *Engine) age() {
	e.wonder()
	for i := range e.chans {
		c := &e.chans[i]
		if c.good && e.now-c.at > e.maxAge() {
			c.good = false
			e.tell(i+1, belief.WhyStale)
			if c == e.lead {
				e.lost()
			}
		}
	}
	switch {
	case e.link.State != probe.LinkUp:
		e.raise("link " + e.link.State.String())
	case !e.lead.good: // a bad one has raised its own doubt, which stands
		e.raise("no reading for " + e.maxAge().String())
	case !e.link.Heats && !e.noHeater():
		e.raise("the board does not take commands")
	}
}

// doubt is a reason to take the heat away at once, and what gives it back.
type doubt struct {
	stand bool
	quiet bool // the first one of a run: nothing was lost, none is counted
	since time.Duration
	why   string
	run   int             // good readings in a row
	times []time.Duration // when the latest doubts began
}

// raise begins a doubt, unless one stands or the run is not under way.
func (e *Engine) raise(why string) {
	d := &e.doubt
	d.run = 0 // the good readings that end it come behind its cause
	if d.stand {
		return
	}
	if e.phase != PhaseRunning {
		return
	}
	d.stand, d.quiet, d.since, d.why = true, false, e.now, why
	d.times = append(d.times, e.now)
	for e.now-d.times[0] > DoubtWithin { // the newest is not too old
		d.times = d.times[1:]
	}
	e.loop.off()
	e.emit(Event{Kind: EvDoubt, Text: why})
	e.handBack("a doubt took the heat away")
	e.testDoubt(why)
	if len(d.times) > DoubtMany {
		e.tripOn(fmt.Sprintf("more than %d doubts in 10 minutes, the last: %s", DoubtMany, why))
	}
}

// sound says that the present moment has nothing against heat: a good reading, an unlatched
// answer and a link, all younger than MaxAge. A reading is the board's answer as well, so that
// one of the lead in time says that an answer came; whether the last one was latched is asked
// of all channels.
func (e *Engine) sound() bool {
	c := e.lead
	fresh := c.good && e.now-c.at <= e.maxAge() && e.link.State == probe.LinkUp
	return fresh && (e.noHeater() || e.latches == 0 && e.link.Heats)
}

// noHeater says that the person holds the heat: there is no duty, and nothing to trip.
func (e *Engine) noHeater() bool { return e.cfg.Info.Shop.NoHeater }

// maxAge is how old a reading may be. On a board that takes no duty it is three of its own
// learnt intervals, at most 30 s and never less than where heat hangs on it.
func (e *Engine) maxAge() time.Duration {
	if !e.noHeater() {
		return MaxAge
	}
	return max(MaxAge, min(3*e.link.Interval, 30*time.Second))
}

// apart is how far apart two readings may be and still give credit: on a board that takes no
// duty two of its learnt intervals, at most 20 s.
func (e *Engine) apart() time.Duration {
	if !e.noHeater() {
		return SoakApart
	}
	return max(SoakApart, min(2*e.link.Interval, 20*time.Second))
}

// interlock ends a doubt, or makes it a trip; and trips on the limit. What the guard finds has
// tripped at its reading. Without a heater a doubt of any length ends by itself.
func (e *Engine) interlock() {
	d := &e.doubt
	ok := e.sound() && d.run >= TrustAfter
	if d.stand {
		switch {
		case e.now-d.since >= DoubtTrip && !e.noHeater():
			e.tripOn(fmt.Sprintf("%s for %d s", d.why, int(DoubtTrip.Seconds())))
		case ok:
			d.stand = false
			if !d.quiet {
				e.emit(Event{Kind: EvClear, Text: d.why})
			}
		}
	}
	if e.isOver {
		e.tripOn("above the limit of " + e.text(e.limit))
	}
	e.settleReset()
}

// overRead counts readings above the limit by the reading itself, so that no filter delays it.
func (e *Engine) overRead(r probe.Reading) {
	if !r.Good() {
		return
	}
	if r.Hot > e.limit {
		e.over++
	} else {
		e.over = 0
	}
	e.isOver = e.over >= overReads || e.isOver && r.Hot > e.limit.Add(-overBack)
}
