package control

import (
	"fmt"
	"slices"
	"time"

	"strawline/control/alarm"
	"strawline/control/guard"
	"strawline/probe"
	"strawline/probe/temp"
	"strawline/profiles"
)

// tripState is how far a person has come in ending a trip.
type tripState struct {
	since time.Duration
	acked bool
	reset bool
	asked time.Duration // when the board was asked to reset its latches; 0 not
}

// undo is what the last edit changed.
type undo struct {
	word   string
	steps  []profiles.Step
	step   int
	stay   time.Duration
	set    temp.C
	hasSet bool
	stepT  time.Duration // when the step began: coming back to a wait gives it no new time
	late   bool
	gains  Gains
}

// ResetWithin is how long the board may take to clear its latches when asked.
const ResetWithin = 3 * time.Second

// MoreAtMost and StayAtMost bound what one ask may add.
const (
	MoreAtMost = 12 * time.Hour
	StayAtMost = 12 * time.Hour
)

// ask carries out what a person asks, or says why not. Heat off, stop, silence and acknowledge
// are always taken.
func (e *Engine) ask(a Ask) {
	at := len(e.out.Records)
	why := e.carryOut(a)
	ev := Event{T: e.now, Kind: EvAsk, Ask: &a, Word: "done", Text: why}
	if why != "" {
		ev.Word = "refused"
	}
	// What was asked stands before what came of it.
	e.out.Records = slices.Insert(e.out.Records, at, Record{Event: &ev})
}

func (e *Engine) carryOut(a Ask) (why string) {
	switch a.Kind {
	case AskSilence:
		alarm.Silence(e.alarms)
		e.emit(Event{Kind: EvAlarm, Word: "silenced"})
	case AskAcknowledge:
		e.acknowledge()
	case AskReset:
		why = e.askReset()
	case AskGoOn:
		why = e.goOn()
	case AskHeatOff:
		why = e.heatOff()
	case AskStop:
		e.stop(a)
	case AskAnswer:
		if e.phase != PhaseEnded {
			why = "the run has not ended"
		} else {
			e.close("")
		}
	case AskAgain:
		why = e.beginAgain()
	case AskNote:
		e.emit(Event{Kind: EvNote, Text: a.Text})
	case AskShelve:
		why = e.shelve(a)
	case AskUnshelve:
		why = e.unshelve(a.Code)
	default:
		why = e.edit(a)
	}
	return why
}

func (e *Engine) stop(a Ask) {
	if e.phase == PhaseRunning || e.phase == PhaseTripped {
		word := "stopped"
		if e.phase == PhaseTripped {
			word = "tripped"
		}
		why := a.Text
		if why == "" {
			why = "stopped by a person"
		}
		e.end(word, why)
	}
	if e.phase == PhaseEnded {
		e.close("stopped")
	}
}

func (e *Engine) heatOff() string {
	switch {
	case e.noHeater():
		return "the heat is yours to switch"
	case e.phase != PhaseRunning:
		return "heat off is commanded already"
	}
	e.tripOn("heat off by a person")
	return ""
}

func (e *Engine) acknowledge() {
	e.changes(alarm.Acknowledge(e.table, e.alarms))
	if e.phase == PhaseTripped {
		e.trip.acked = true
	}
}

func (e *Engine) askReset() string {
	switch {
	case e.phase != PhaseTripped:
		cs := alarm.Reset(e.table, e.alarms, e.conds)
		e.changes(cs)
		if len(cs) == 0 {
			return "nothing to reset: acknowledge first, and the cause must be gone"
		}
		return ""
	case !e.trip.acked:
		return "acknowledge first"
	case e.isOver:
		return "still above the limit"
	case e.found(guard.HeatAtZero):
		return guard.HeatAtZero.String()
	case !e.lead.good || e.doubt.run < TrustAfter:
		return "no good reading: " + e.lead.word
	}
	if e.latches != 0 {
		e.out.ResetBoard = true
		e.trip.asked = max(e.now, 1)
		return ""
	}
	if !e.sound() {
		return "the board does not answer"
	}
	e.resetDone()
	return ""
}

// settleReset waits for the board after a reset was asked.
func (e *Engine) settleReset() {
	if e.trip.asked == 0 || e.phase != PhaseTripped {
		return
	}
	switch {
	case e.sound():
		e.resetDone()
	case e.now-e.trip.asked > ResetWithin:
		e.trip.asked = 0
		e.emit(Event{Kind: EvAsk, Ask: &Ask{Kind: AskReset}, Word: "refused",
			Text: e.unsound()})
	}
}

// unsound says what speaks against heat, for who asked for a reset.
func (e *Engine) unsound() string {
	switch {
	case e.latches != 0:
		return "the board's latch stands: " + e.latches.String()
	case e.link.State != probe.LinkUp:
		return "the link to the board: " + e.link.State.String()
	case e.lead.good: // age has seen to it that it is fresh
		return "the board does not take commands"
	}
	return "there is no good reading"
}

func (e *Engine) resetDone() {
	e.trip.reset, e.trip.asked = true, 0
	e.emit(Event{Kind: EvReset})
}

func (e *Engine) goOn() string {
	switch {
	case e.phase != PhaseTripped:
		return "nothing is tripped"
	case e.test.info != nil:
		return "a tuning test does not go on: stop the run and test again"
	case !e.trip.acked:
		return "acknowledge first, then reset"
	case !e.trip.reset:
		return "reset first"
	case e.found(guard.HeatAtZero): // a reset that waited for the board was done beside it
		return guard.HeatAtZero.String()
	case !e.sound() || e.doubt.run < TrustAfter || e.isOver:
		return "no sound reading to go on with"
	}
	e.phase, e.why = PhaseRunning, ""
	e.doubt.times, e.over = nil, 0
	e.guardAnew()
	e.letGo = true
	e.emit(Event{Kind: EvGoOn})
	return ""
}

// edit carries out an ask that may raise heat or change the profile.
func (e *Engine) edit(a Ask) string {
	if e.phase != PhaseRunning {
		return "only while the run goes on"
	}
	if e.test.goes() && a.Kind != AskConfirm {
		return "not in a tuning test: stop it, or let it end"
	}
	st := e.steps[e.step]
	switch a.Kind {
	case AskConfirm:
		if st.Kind != profiles.Wait {
			return "nothing waits for a person"
		}
		e.loaded(st.Load)
		e.enter(e.step+1, "")
	case AskSkip:
		e.keep("skip")
		e.enter(e.step+1, "skip")
	case AskStay:
		return e.stayFor(a.Seconds)
	case AskMore:
		return e.more(a.Seconds)
	case AskSet:
		return e.setpoint(temp.C(a.TempC))
	case AskUndo:
		return e.takeBack()
	case AskGains:
		return e.retune(a.Gains)
	case AskDuty:
		return e.byHand(a)
	default:
		return fmt.Sprintf("%q is not known", string(a.Kind))
	}
	return ""
}

func (e *Engine) keep(word string) {
	e.undo = &undo{word: word, steps: slices.Clone(e.steps), step: e.step, stay: e.stay,
		set: e.set, hasSet: e.hasSet, stepT: e.stepT, late: e.late, gains: e.loop.gains}
}

func (e *Engine) stayFor(s float64) string {
	d := time.Duration(s * float64(time.Second))
	if !(s >= 0 && s <= StayAtMost.Seconds()) { // in seconds: a duration wraps
		return "stay for 0 s to 12 h"
	}
	if e.steps[e.step].Kind == profiles.Wait {
		return "the run stays here anyway, until the wait is answered"
	}
	e.keep("stay")
	e.stay = 0
	if d > 0 {
		e.stay = e.now + d
	}
	e.emit(Event{Kind: EvEdit, Code: "stay", Word: "stay", SpanS: ptr(round(s, 1000))})
	return ""
}

func (e *Engine) more(s float64) string {
	st := &e.steps[e.step]
	d := time.Duration(s * float64(time.Second))
	switch {
	case st.Kind != profiles.Soak:
		return "there is no soak to lengthen in this step"
	case !(s > 0 && s <= MoreAtMost.Seconds()):
		return "lengthen by up to 12 h"
	}
	e.keep("more")
	st.For += d
	e.emit(Event{Kind: EvEdit, Step: ptr(e.step), Word: "more", SpanS: ptr(st.For.Seconds()),
		TempC: ptr(float64(st.To))})
	return ""
}

// setpoint changes this step's temperature, and that of the steps after it that have the same.
func (e *Engine) setpoint(t temp.C) string {
	st := e.steps[e.step]
	t = temp.C(round(float64(t), 100))
	switch {
	case st.Kind != profiles.Ramp && st.Kind != profiles.Soak:
		return "this step has no setpoint"
	case !(t >= 0):
		return "a setpoint is a temperature of 0 °C or more"
	case t.Add(st.Band) > e.limit:
		return fmt.Sprintf("%s with its band is above the limit of %s", e.text(t), e.text(e.limit))
	}
	e.keep("set")
	e.moved, e.movedAt = true, e.now
	was := st.To
	for i := e.step; i < len(e.steps); i++ {
		s := &e.steps[i]
		if s.Kind == profiles.Wait && s.Load != profiles.LoadOut {
			continue
		}
		if s.Kind != profiles.Ramp && s.Kind != profiles.Soak || s.To != was {
			break
		}
		s.To = t
		e.emit(Event{Kind: EvEdit, Step: ptr(i), Word: "set", SpanS: ptr(s.For.Seconds()),
			TempC: ptr(float64(t))})
	}
	if st.Rate == 0 || st.Kind == profiles.Soak {
		e.setTo(t)
	}
	e.tellSet()
	return ""
}

func (e *Engine) takeBack() string {
	u := e.undo
	if u == nil {
		return "there is nothing to take back"
	}
	e.undo = nil
	if u.gains != e.loop.gains {
		e.takeGains(u.gains, "undo")
	}
	for i := range e.steps {
		if a, b := e.steps[i], u.steps[i]; a.For != b.For || a.To != b.To {
			e.emit(Event{Kind: EvEdit, Step: ptr(i), Word: "undo", SpanS: ptr(b.For.Seconds()),
				TempC: ptr(float64(b.To))})
		}
	}
	e.steps = u.steps
	if u.step != e.step {
		e.enter(u.step, "undo")
		e.stepT, e.late = u.stepT, u.late
	}
	if u.word == "set" {
		e.moved, e.movedAt = true, e.now
	}
	e.stay, e.set, e.hasSet = u.stay, u.set, u.hasSet
	left := max(0, u.stay-e.now)
	e.emit(Event{Kind: EvEdit, Code: "stay", Word: "undo", SpanS: ptr(round(left.Seconds(), 1000))})
	return ""
}
