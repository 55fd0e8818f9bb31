package control

import (
	"slices"
	"strings"
	"time"

	"strawline/control/alarm"
	"strawline/probe/temp"
	"strawline/profiles"
	"strawline/profiles/steel"
)

// Record is one line of a run file behind its head: a sample or an event, never both.
type Record struct {
	Sample *Sample
	Event  *Event
}

// Past is ten seconds of a run's past as a chart needs it.
type Past struct {
	At       time.Duration // start of the ten seconds, on the run's clock
	Has      bool          // at least one good reading
	Min, Max temp.C
	HasSet   bool
	Set      temp.C
}

// View folds a run's records into the Snapshot that a screen shows. The engine keeps one and a
// replay keeps one, so that both show the same.
type View struct {
	s       Snapshot
	table   alarm.Table
	planned time.Duration   // when the plan was last drawn
	ahead   []profiles.Step // room for the steps that it is drawn from
	oven    ovenNext
	stale   bool    // the plan must be drawn again
	rate    float64 // heating seen in this ramp, °C/s; 0 not known yet
	rampT0  temp.C  // temperature when the present ramp began
	rampHas bool
	dose    dosing
	fit     steel.Fit     // of the modelled blade
	seen    bool          // a sample was seen
	last    time.Duration // when
}

// planEvery is how often the plan ahead is drawn again when nothing else changed.
const planEvery = 10 * time.Second

// NewView starts at the beginning of the run that info describes.
func NewView(info Info) *View {
	v := &View{table: alarm.First(), stale: true, dose: newDosing(&info)}
	v.s = Snapshot{Info: &info, Wall: info.Start, Phase: PhaseRunning,
		Steps: slices.Clone(info.Profile.Steps), Link: "closed"}
	v.s.Gains = info.Gains
	v.s.Credits = make([]time.Duration, len(v.s.Steps))
	for i, role := range info.Shop.Channels {
		v.s.Channels = append(v.s.Channels, Channel{Number: i + 1, Role: role, Fault: "no reading"})
	}
	return v
}

// Clone gives a view that can go on by itself from the same point.
func (v *View) Clone() *View {
	c := *v
	c.s, c.ahead = v.Snapshot(), nil
	return &c
}

// Snapshot gives what the records so far show. It shares nothing that changes later.
func (v *View) Snapshot() Snapshot {
	s := v.s
	s.Channels = slices.Clone(s.Channels)
	s.Credits = slices.Clone(s.Credits)
	s.Alarms = slices.Clone(s.Alarms)
	s.Hidden = slices.Clone(s.Hidden)
	s.Plan = slices.Clone(s.Plan) // its room is used again
	return s                      // Steps and Latches are replaced, never changed
}

// Apply takes the next record.
func (v *View) Apply(r Record) {
	if r.Event != nil {
		v.event(r.Event)
	}
	if r.Sample != nil {
		v.sample(r.Sample)
	}
}

func (v *View) clock(t time.Duration) {
	v.s.T, v.s.Wall = t, v.s.Info.Start.Add(t)
}

func (v *View) sample(sm *Sample) {
	s := &v.s
	v.clock(sm.T)
	for i := range s.Channels {
		c := &s.Channels[i]
		c.Good = i < len(sm.Temp) && sm.Temp[i] != nil
		if c.Good {
			c.Temp, c.Fault = temp.C(*sm.Temp[i]), ""
		} else if c.Fault == "" {
			c.Fault = "no reading"
		}
	}
	lead := s.Lead()
	s.HasTemp = lead < len(s.Channels) && s.Channels[lead].Good
	if s.HasTemp {
		s.Temp = s.Channels[lead].Temp
	}
	s.HasSet = sm.Set != nil
	if s.HasSet {
		s.Set = temp.C(*sm.Set)
	} else {
		s.Law = ""
	}
	s.HasBlade = sm.Blade != nil
	if s.HasBlade {
		s.Blade = temp.C(*sm.Blade)
	}
	if s.Test == TestSwinging && sm.Duty != s.Duty {
		s.TestMoves++
	}
	s.Duty = sm.Duty
	if sm.Soak != nil && s.Step < len(s.Steps) {
		s.SoakDone = seconds(*sm.Soak)
		s.Credits[s.Step] = s.SoakDone
		s.SoakLeft = max(0, s.Steps[s.Step].For-s.SoakDone)
	}
	if s.Soak == SoakOver && v.seen {
		s.SoakOver += sm.T - v.last
	}
	v.seen, v.last = true, sm.T
	v.dose.sample(s, sm)
	v.fits(sm)
	if s.Stay != 0 && sm.T >= s.Stay {
		s.Stay = 0
	}
	v.heating(sm.T)
	if v.stale || sm.T-v.planned >= planEvery {
		v.plan()
	}
}

// heating learns the rate of the present ramp, for the plan alone.
func (v *View) heating(t time.Duration) {
	s := &v.s
	if !s.HasTemp || s.Step >= len(s.Steps) || s.Steps[s.Step].Kind != profiles.Ramp {
		v.rampHas = false
		return
	}
	if !v.rampHas {
		v.rampHas, v.rampT0 = true, s.Temp
	}
	rise, span := float64(s.Temp-v.rampT0), (t - s.StepT).Seconds()
	if rise > 20 && span > 30 { // enough of a rise to mean something; our choice
		v.rate = rise / span
	}
}

// event takes what happened. Each kind changes only what its comment in event.go says.
func (v *View) event(e *Event) {
	s := &v.s
	v.clock(e.T)
	v.doseEvent(e)
	v.stale = v.stale || e.Kind != EvSoak && e.Kind != EvAlarm
	switch e.Kind {
	case EvStart:
		s.Started = true
	case EvStep:
		v.step(e)
	case EvSet:
		s.OvenOn = e.TempC != nil
		if s.OvenOn {
			s.OvenSet = temp.C(*e.TempC)
		}
	case EvSoak:
		s.Soak = Soak(e.Word)
	case EvSoaked:
		s.Soak = SoakNone
	case EvDoubt:
		s.Doubt, s.Law = e.Text, ""
		s.Doubts++
	case EvClear:
		s.Doubt = ""
	case EvTrip:
		s.Phase, s.Why, s.Doubt, s.Law = PhaseTripped, e.Text, "", ""
		v.unshelved()
	case EvGoOn:
		s.Phase, s.Why = PhaseRunning, ""
	case EvAlarm:
		v.alarm(e)
	case EvAsk:
		v.asked(e)
	case EvProbe:
		if e.Chan != nil && *e.Chan >= 1 && *e.Chan <= len(s.Channels) && e.Word != "good" {
			s.Channels[*e.Chan-1].Fault = e.Word
		}
	case EvLink:
		s.Link = e.Word
	case EvLatch:
		s.Latches = nil
		if e.Word != "none" && e.Word != "" {
			s.Latches = strings.Split(e.Word, ", ")
		}
	case EvGap:
		s.Gaps++
		if e.SpanS != nil {
			s.Gap += seconds(*e.SpanS)
		}
	case EvEdit:
		v.edit(e)
	case EvEnd:
		s.Phase, s.Why, s.Doubt, s.Law = PhaseEnded, e.Text, "", ""
		s.Stay, s.Undo, s.Soak = 0, "", SoakNone
		v.unshelved()
	case EvClosed:
		s.Phase = PhaseClosed
	default:
		v.loop(e)
	}
	v.next()
}

// asked takes an ask that was carried out or refused. What follows from it comes as an event of
// its own, but for what a wait's answer says of the blade.
func (v *View) asked(e *Event) {
	s := &v.s
	switch {
	case e.Ask == nil:
	case e.Word == "refused":
		s.Refusals++
		s.Refused = string(e.Ask.Kind) + ": " + e.Text
	case e.Ask.Kind == AskConfirm && s.Step < len(s.Steps):
		s.BladeIn = inAfter(s.BladeIn, s.Steps[s.Step].Load)
	}
}

// loop takes what happened to the law, its gains and the tuning test.
func (v *View) loop(e *Event) {
	s := &v.s
	switch e.Kind {
	case EvLaw:
		s.Law = e.Word
	case EvGains:
		if e.Gains != nil {
			s.Gains = *e.Gains
		}
		s.Undo = "gains"
		if e.Word == "undo" {
			s.Undo = ""
		}
	case EvDuty:
		s.ByHand = 0
		if e.DutyPM != nil && e.SpanS != nil {
			s.ByHand = e.T + seconds(*e.SpanS)
		}
	case EvTest:
		s.Test, s.TestText, s.Law = e.Word, e.Text, "" // the law says anew what it does
	case EvUnlike:
		s.Unlike = e.Text
	}
}

func (v *View) step(e *Event) {
	s := &v.s
	if e.Step == nil || *e.Step < 0 || *e.Step >= len(s.Steps) {
		return
	}
	s.Step, s.StepT = *e.Step, e.T
	if e.Word == "again" { // none of its soak counts
		s.Credits[s.Step] = 0
	}
	s.Soak, s.SoakDone, s.SoakLeft, s.SoakOver = SoakNone, 0, 0, 0
	if st := s.Steps[s.Step]; st.Kind == profiles.Soak {
		s.Soak, s.SoakDone = SoakBefore, s.Credits[s.Step]
		s.SoakLeft = max(0, st.For-s.SoakDone)
	}
	if e.Word != "undo" {
		s.Stay, s.Undo = 0, ""
	}
	if e.Word == "skip" {
		s.Undo = "skip"
	}
	v.rampHas = false
}

func (v *View) edit(e *Event) {
	s := &v.s
	s.Undo = e.Word
	if e.Word == "undo" {
		s.Undo = ""
	}
	if e.Code == "stay" {
		s.Stay = 0
		if e.SpanS != nil && *e.SpanS > 0 {
			s.Stay = e.T + seconds(*e.SpanS)
		}
		return
	}
	if e.Step == nil || *e.Step < 0 || *e.Step >= len(s.Steps) {
		return
	}
	s.Steps = slices.Clone(s.Steps)
	st := &s.Steps[*e.Step]
	if e.SpanS != nil {
		st.For = seconds(*e.SpanS)
	}
	if e.TempC != nil {
		st.To = temp.C(*e.TempC)
	}
	if *e.Step == s.Step && st.Kind == profiles.Soak {
		s.SoakLeft = max(0, st.For-s.SoakDone)
	}
}

func seconds(f float64) time.Duration {
	return time.Duration(f*1000+0.5) * time.Millisecond
}
