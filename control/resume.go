package control

import (
	"errors"
	"fmt"
	"math"
	"time"

	"strawline/control/alarm"
	"strawline/probe"
	"strawline/probe/temp"
	"strawline/profiles"
)

// ErrOver says that a run has ended or never began, so that there is nothing to go on with.
var ErrOver = errors.New("the run has ended, or never began")

// ErrTest says that a run was a tuning test, whose record a gap has spoilt.
var ErrTest = errors.New("a tuning test is not gone on with")

// resumed is what an engine that goes on with a run knows of the time between.
type resumed struct {
	from time.Duration // the run's clock at the first step
	last time.Duration // at the last record
	snap Snapshot      // as the records left it
}

// Resume makes an engine that goes on with a run which was cut off. The records are those of its
// run file, from the first on, and at is the run's clock now; one before the last record counts
// as that. The run is tripped: a person acknowledges, resets and goes on with what is left of the
// step, begins the step again, or ends the run. Without a heater there is nothing to trip, and
// the run goes on; no soak was credited in between. Its errors are those of Check, ErrOver and
// ErrTest.
func Resume(cfg Config, records []Record, at time.Duration) (*Engine, error) {
	e, err := New(cfg)
	if err != nil {
		return nil, err
	}
	if cfg.Info.Test != nil {
		return nil, ErrTest
	}
	e.room = roomAssumed
	var last time.Duration
	for _, r := range records {
		e.view.Apply(r)
		if ev := r.Event; ev != nil {
			last = max(last, ev.T)
			if ev.Kind == EvStart && ev.TempC != nil {
				e.room = temp.C(*ev.TempC)
			}
		} else if r.Sample != nil {
			last = max(last, r.Sample.T)
		}
	}
	s := e.view.Snapshot()
	if s.Phase == PhaseEnded || s.Phase == PhaseClosed {
		return nil, ErrOver
	}
	if !s.Started { // cut off before its first step
		return nil, ErrOver
	}
	e.again = &resumed{from: max(at, last), last: last, snap: s}
	return e, e.restore(s)
}

// restore takes up what the records say of the run.
func (e *Engine) restore(s Snapshot) error {
	e.steps, e.step, e.stepT = append(e.steps[:0], s.Steps...), s.Step, s.StepT
	copy(e.credits, s.Credits)
	e.set, e.hasSet = s.Set, s.HasSet
	e.told, e.asked = s.OvenOn, s.OvenSet
	e.soak.word = s.Soak
	e.linkWord = s.Link
	e.blade, e.hasBlade, e.bladeIn = s.Blade, s.HasBlade, s.BladeIn
	if st := e.steps[e.step]; st.Kind == profiles.Soak { // the last sample may have had none
		e.setTo(st.To)
	}
	for _, a := range s.Alarms {
		i := e.table.Index(a.Code)
		if i < 0 {
			continue
		}
		for l := alarm.B; l <= alarm.F; l++ {
			if l.String() == a.State {
				e.alarms[i].Letter, e.alarms[i].Since = l, a.Since
				e.alarms[i].Silenced, e.alarms[i].Active = a.Silent, l <= alarm.C
			}
		}
	}
	if e.loop.law != nil && s.Gains != e.loop.gains {
		if err := e.loop.law.Retune(s.Gains.Law()); err != nil {
			return err
		}
		e.loop.gains = s.Gains
	}
	return nil
}

// takeUp is the first step of an engine that goes on with a run.
func (e *Engine) takeUp(in Input) {
	g := e.again
	s := g.snap
	gap := g.from - g.last
	e.away = gap
	e.remind = e.now
	e.link = in.Batch.Link
	e.doubt = doubt{stand: true, since: e.now, why: "no reading yet", quiet: true}
	if len(s.Latches) > 0 { // what the board has now is told by its next reading
		e.emit(Event{Kind: EvLatch, Word: probe.Latch(0).String()})
	}
	if s.ByHand > g.last {
		e.emit(Event{Kind: EvDuty, Text: "the keeper ended"})
	}
	if s.Stay > e.now {
		e.stay = s.Stay
	}
	for _, h := range s.Hidden { // whoever hid it may not be there any more
		e.emit(Event{Kind: EvAlarm, Code: h.Code, Word: alarm.A.String(), From: h.State,
			Text: "the keeper ended"})
	}
	span := round(gap.Seconds(), 1000)
	e.emit(Event{Kind: EvGap, SpanS: &span})
	low, known := Lowest(e.cfg.Info.Model, e.room, s.Temp, gap)
	if e.hasBlade { // no warmer than the coldest that the air may have been: then no early credit
		e.blade = min(e.blade, temp.C(round(float64(low), 100)))
	}
	words := e.whileAway(gap, low, known)
	if e.noHeater() {
		e.emit(Event{Kind: EvNote, Text: words})
		return
	}
	e.tripOn(words)
}

// whileAway says what is known of the time without a keeper, in one line.
func (e *Engine) whileAway(gap time.Duration, low temp.C, known bool) string {
	s := e.again.snap
	words := fmt.Sprintf("the keeper ended, nothing was recorded for %s; ", spanWords(gap))
	if st := e.steps[e.step]; st.Kind == profiles.Soak {
		words += fmt.Sprintf("%s of %s soaked; ", spanWords(e.credits[e.step]), spanWords(st.For))
	}
	switch {
	case !s.HasTemp:
		return words + "how hot it was then is not known"
	case known:
		return words + fmt.Sprintf("the air was at %s and may have fallen to %s by the oven's model",
			e.text(s.Temp), e.text(low))
	}
	return words + fmt.Sprintf("the air was at %s and may have fallen as far as the room's %s: "+
		"no model of this oven says less", e.text(s.Temp), e.text(low))
}

// spanWords gives a span to the minute, or to the second below ten minutes.
func spanWords(d time.Duration) string {
	if d < 10*time.Minute {
		return d.Round(time.Second).String()
	}
	d = d.Round(time.Minute)
	h, m := int(d/time.Hour), int(d/time.Minute)%60
	if h == 0 {
		return fmt.Sprintf("%dm", m)
	}
	return fmt.Sprintf("%dh%02dm", h, m)
}

// Lowest gives the lowest temperature that an oven is likely to have had span after it was at
// was with its heat off. Known says that its model says so, by one time constant; without one it
// is the room's.
func Lowest(m *ModelInfo, room, was temp.C, span time.Duration) (low temp.C, known bool) {
	if m == nil || m.TimeS <= 0 || was <= room {
		return min(room, was), false
	}
	fall := math.Exp(-span.Seconds() / m.TimeS)
	return room.Add(temp.Delta(fall * float64(was.Sub(room)))), true
}

// beginAgain does the present step over, none of its soak credited.
func (e *Engine) beginAgain() string {
	if e.phase != PhaseRunning && e.phase != PhaseTripped {
		return "the run has ended"
	}
	if e.cfg.Info.Test != nil {
		return "not in a tuning test"
	}
	e.credits[e.step] = 0
	e.enter(e.step, "again")
	return ""
}
