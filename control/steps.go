package control

import (
	"fmt"
	"time"

	"strawline/probe/temp"
	"strawline/profiles"
)

// soakClock adds the time between two consecutive readings that are both good, both inside the
// band and at most SoakApart apart; nothing else.
type soakClock struct {
	has    bool // the previous reading was good
	inside bool // and inside the band
	at     time.Duration
	word   Soak
	out    time.Duration // since when the reading is outside the band
}

// movedMost is how long an oven may take to follow a setpoint that a person moved before that is
// off the plan: an hour. Our choice: shut and unheated, an insulated one falls by 25 °C in less.
const movedMost = time.Hour

// credit is called for each good reading of the control channel.
func (e *Engine) credit(at time.Duration) {
	k := &e.soak
	if !e.inSoak() {
		k.has = false
		return
	}
	st := e.steps[e.step]
	off := e.soaked().Sub(st.To)
	inside := off >= -st.Band && off <= st.Band
	if k.has && k.inside && inside && at-k.at <= e.apart() {
		e.credits[e.step] += at - k.at
	}
	if inside || !k.inside && k.out == 0 {
		k.out = at
	}
	e.moved = e.moved && !inside && e.now-e.movedAt < movedMost
	word := k.word
	switch {
	case inside:
		word = SoakCounting
	case off > st.Band:
		word = SoakOver
	case word == SoakCounting && at-k.out < PauseAfter: // the word may wait, the clock does not
	case e.credits[e.step] > 0:
		word = SoakPaused
	default:
		word = SoakBefore
	}
	k.has, k.inside, k.at = true, inside, at
	e.soakWord(word)
}

// soaked is what a soak is judged by: the filtered reading of the probe at the blade, or the
// modelled blade, or without either the filtered reading of the air.
func (e *Engine) soaked() temp.C {
	if e.hasBlade {
		return e.blade
	}
	return e.slow.value
}

func (e *Engine) soakWord(w Soak) {
	if w != e.soak.word {
		e.soak.word = w
		e.emit(Event{Kind: EvSoak, Word: string(w), Step: ptr(e.step)})
	}
}

// enter begins step i, or ends the run behind the last one.
func (e *Engine) enter(i int, word string) {
	if i >= len(e.steps) {
		e.end("done", e.doneWords())
		return
	}
	if word != "skip" { // what was changed in a step that has ended is not taken back any more
		e.undo = nil
	}
	e.step, e.stepT = i, e.now
	e.loop.rate = 0
	e.soak = soakClock{}
	e.stay, e.late, e.lagging, e.moved = 0, false, false, false
	e.handBack("its step is over")
	e.emit(Event{Kind: EvStep, Step: ptr(i), Word: word, Text: e.stepText(i)})
	st := e.steps[i]
	switch st.Kind {
	case profiles.Ramp:
		if st.Rate == 0 {
			e.setTo(st.To)
		} else if e.lead.good {
			e.setTo(e.lead.value)
		}
	case profiles.Soak:
		e.soak.word = SoakBefore
		e.setTo(st.To)
	case profiles.Cool:
		e.hasSet = false
	case profiles.Wait:
		e.hasSet = e.hasSet && st.Heat
		e.emit(Event{Kind: EvWait, Step: ptr(i), Text: st.Say})
	}
	e.tellSet()
}

// doneWords says that the profile is done, and how many soaks were left early.
func (e *Engine) doneWords() string {
	n := 0
	for i, st := range e.steps {
		if st.Kind == profiles.Soak && e.credits[i] < st.For {
			n++
		}
	}
	if n == 0 {
		return "the profile is done"
	}
	return fmt.Sprintf("the profile is done, but %d of its soaks not whole", n)
}

func (e *Engine) setTo(t temp.C) { e.set, e.hasSet = t, true }

// tellSet says what the person is to set his own oven to in this step, where that changes; an
// event without a temperature says off.
func (e *Engine) tellSet() {
	st := e.steps[e.step]
	off := st.Kind == profiles.Cool || st.Kind == profiles.Wait && !st.Heat
	switch {
	case !e.noHeater() || off && !e.told:
	case off:
		e.told = false
		e.emit(Event{Kind: EvSet, Step: ptr(e.step)})
	case st.Kind != profiles.Wait && (!e.told || e.asked != st.To):
		e.told, e.asked = true, st.To
		e.emit(Event{Kind: EvSet, Step: ptr(e.step), TempC: ptr(round(float64(st.To), 100))})
	}
}

// advance moves the run along its profile.
func (e *Engine) advance(dt time.Duration) {
	e.watchTest()
	if e.phase == PhaseEnded {
		e.reminder()
	}
	if e.phase != PhaseRunning && e.phase != PhaseTripped {
		return
	}
	if p := e.cfg.Info.Profile; p.Longest > 0 && e.now-e.away >= p.Longest {
		e.end("late", "the longest total time is over")
		return
	}
	if e.phase != PhaseRunning || e.doubt.stand {
		return
	}
	if e.stay != 0 && e.now >= e.stay {
		e.stay = 0
	}
	st := e.steps[e.step]
	c := e.lead
	in := e.now - e.stepT
	done := false
	switch st.Kind {
	case profiles.Ramp:
		done = e.ramp(st, dt)
	case profiles.Soak:
		done = e.credits[e.step] >= st.For
		if done && e.stay == 0 {
			s := round(e.credits[e.step].Seconds(), 1000)
			e.emit(Event{Kind: EvSoaked, Step: ptr(e.step), SpanS: &s})
			e.sayDose(DoseSoak)
		}
		in -= e.credits[e.step]
	case profiles.Cool:
		done = c.good && c.value <= st.To
	case profiles.Wait:
		if st.Heat && st.Most > 0 && in >= st.Most && !e.late {
			e.late, e.hasSet = true, false
			e.handBack("the heat of this wait is over")
		}
	}
	e.lagging = st.Limit > 0 && st.Kind != profiles.Wait && in > st.Limit
	if done && e.stay == 0 {
		e.enter(e.step+1, "")
	}
}

// ramp moves the setpoint; where the oven lags by more than the band, the plan waits for it.
func (e *Engine) ramp(st profiles.Step, dt time.Duration) bool {
	c := e.lead
	e.loop.rate = 0
	if !c.good || e.stay != 0 {
		return false
	}
	if !e.hasSet {
		e.setTo(c.value)
	}
	if st.Rate > 0 && e.set != st.To {
		lag := c.value.Sub(e.set)
		move := temp.Delta(st.Rate * dt.Seconds())
		switch {
		case e.set < st.To && lag >= -st.Band:
			e.set = min(st.To, e.set.Add(move))
			e.loop.rate = st.Rate
		case e.set > st.To && lag <= st.Band:
			e.set = max(st.To, e.set.Add(-move))
			e.loop.rate = -st.Rate
		}
	} else {
		e.set = st.To
	}
	off := c.value.Sub(st.To)
	return e.set == st.To && off >= -st.Band && off <= st.Band
}

// end takes the heat away for good; reminders follow until someone answers.
func (e *Engine) end(word, why string) {
	e.phase, e.why = PhaseEnded, why
	e.hasSet, e.doubt.stand = false, false
	e.remind = e.now
	e.handBack("the run ended")
	if e.test.goes() { // by a person, by its longest time or by its last step
		e.sayTest(TestRefused, why)
	}
	ev := Event{Kind: EvEnd, Word: word, Text: why}
	if e.bladeIn {
		ev.Load = LoadIn
	}
	if e.lead.good {
		ev.TempC = ptr(round(float64(e.lead.value), 100))
	}
	e.emit(ev)
	e.unshelveAll("the run ended")
	e.sayDose(DoseEnd)
	if e.told {
		e.told = false
		e.emit(Event{Kind: EvSet})
	}
}

func (e *Engine) reminder() {
	if e.now-e.remind >= RemindEvery {
		e.remind = e.now
		text := e.cfg.Info.Off()
		if l := e.left(); l != "" {
			text += "; " + l
		}
		e.emit(Event{Kind: EvReminder, Text: text})
	}
}

func (e *Engine) close(word string) {
	e.phase = PhaseClosed
	e.emit(Event{Kind: EvClosed, Word: word})
}

// loaded follows what a wait's answer says of the blade.
func (e *Engine) loaded(l profiles.Load) {
	e.bladeIn = inAfter(e.bladeIn, l)
	switch {
	case l == profiles.LoadIn && e.thick() > 0 && e.slow == e.lead:
		e.blade, e.hasBlade = e.room, true
	case l != profiles.LoadSame:
		e.hasBlade = false
	}
}

// inAfter says whether the blade is in once a wait was answered. A wait that was skipped has no
// answer and says nothing: who skips "blade out" at the end has most probably the blade still in
// the oven, and being told of it once too often burns nobody; a blade that was forgotten does.
func inAfter(in bool, l profiles.Load) bool {
	return l == profiles.LoadIn || in && l != profiles.LoadOut
}

func (e *Engine) thick() float64 {
	if b := e.cfg.Info.Blade; b != nil {
		return b.ThickMM
	}
	return 0
}

func (e *Engine) stepText(i int) string { return e.steps[i].Words(e.unit()) }

// text writes a temperature as the person reads it.
func (e *Engine) text(t temp.C) string { return t.Text(e.unit(), 0) }

func (e *Engine) unit() temp.Unit { return e.cfg.Info.TempUnit() }
