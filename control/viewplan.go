package control

import (
	"time"

	"strawline/control/alarm"
	"strawline/probe/temp"
	"strawline/profiles"
)

// plan draws the profile ahead of now and reads from it when the last soak will be done.
func (v *View) plan() {
	s := &v.s
	v.planned, v.stale = s.T, false
	s.Plan, s.Ready = s.Plan[:0], 0
	if s.Phase != PhaseRunning && s.Phase != PhaseTripped || s.Step >= len(s.Steps) {
		return
	}
	start := s.Temp
	if !s.HasTemp {
		start = s.Set // nothing better is known; the chart draws no line without a reading
	}
	left := time.Duration(-1)
	if s.Steps[s.Step].Kind == profiles.Soak {
		left = s.SoakLeft
	}
	steps, left := v.lagged(left)
	s.Plan = profiles.AppendPlan(s.Plan, steps, s.Step, start, max(s.T, s.Stay), left, v.rate)
	last := -1
	for i, st := range s.Steps {
		if st.Kind == profiles.Soak {
			last = i
		}
	}
	if last >= s.Step {
		for _, p := range s.Plan {
			if p.Step <= last {
				s.Ready = p.At
			}
		}
	}
	v.next()
}

// lagged gives the steps ahead with the time added to each soak that the modelled blade needs
// to come into the band; left is what the present soak still has to do, below 0 for all of it.
func (v *View) lagged(left time.Duration) ([]profiles.Step, time.Duration) {
	s := &v.s
	if s.Info.Blade == nil || s.Info.Blade.ThickMM <= 0 {
		return s.Steps, left
	}
	v.ahead = append(v.ahead[:0], s.Steps...)
	steps := v.ahead
	cold := false
	for i := s.Step; i < len(steps); i++ {
		st := &steps[i]
		switch {
		case st.Kind == profiles.Wait:
			cold = st.Load == profiles.LoadIn || cold && st.Load == profiles.LoadSame
		case st.Kind == profiles.Soak && i == s.Step && s.HasBlade:
			left += s.Info.Blade.wait(s.Blade, st.To, st.Band)
		case st.Kind == profiles.Soak && cold:
			st.For += s.Info.Blade.wait(roomAssumed, st.To, st.Band)
			cold = false
		}
	}
	return steps, left
}

// next says what the person has to do next and when.
func (v *View) next() {
	s := &v.s
	s.Next, s.NextAt = "", 0
	switch s.Phase {
	case PhaseTripped:
		s.Next = "look at the oven, then acknowledge, reset and go on, or stop"
	case PhaseEnded:
		s.Next = "the run has ended: answer"
		if s.BladeIn {
			s.Next = v.takeOut() + "; then answer"
		}
	case PhaseClosed:
		if s.BladeIn {
			s.Next = v.takeOut()
		}
	case PhaseRunning:
		if s.Info.Shop.NoHeater {
			defer func() { s.Next = v.behindOven(s.Next) }()
		}
		for i := s.Step; i < len(s.Steps); i++ {
			if s.Steps[i].Kind != profiles.Wait {
				continue
			}
			s.Next = s.Steps[i].Say
			if i > s.Step {
				s.NextAt = v.stepAt(i)
			}
			return
		}
		s.Next = "take the blade out when the last soak is done"
		s.NextAt = s.Ready
	}
}

// takeOut is what the end of a run leaves to do where nobody said that the blade is out. An alarm
// with the heat at stake comes first: it may say that nobody is to open the door.
func (v *View) takeOut() string {
	for _, a := range v.s.Alarms {
		if a.High && a.State != alarm.D.String() && a.Code != alarm.Tripped {
			return "see the alarm first; the blade is in as far as is known"
		}
	}
	return "take the blade out, in as far as is known"
}

// stepAt is when the plan has step i begin; 0 if it does not say.
func (v *View) stepAt(i int) time.Duration {
	at := time.Duration(0)
	for _, p := range v.s.Plan {
		if p.Step >= i {
			break
		}
		at = p.At
	}
	return at
}

// ovenNext is the last sentence that behindOven made and what it was made of.
type ovenNext struct {
	on         bool
	set        temp.C
	next, said string
}

// behindOven puts what the person must do next behind what the oven is to be set to. The sentence
// is made anew only where one of them changed.
func (v *View) behindOven(next string) string {
	o := ovenNext{on: v.s.OvenOn, set: v.s.OvenSet, next: next, said: v.oven.said}
	if o != v.oven || o.said == "" {
		o.said = v.ovenSet() + next
		v.oven = o
	}
	return o.said
}

// ovenSet says what the person's own oven is to be set to now, as the beginning of a sentence.
func (v *View) ovenSet() string {
	if !v.s.OvenOn {
		return "oven off; then: "
	}
	return "oven set to " + v.s.OvenSet.Text(v.s.Info.TempUnit(), 0) + "; then: "
}
