package tui

import (
	"fmt"
	"math"
	"strings"
	"time"

	"strawline/control"
	"strawline/control/alarm"
	"strawline/probe/temp"
	"strawline/profiles"
)

// whole writes a temperature in whole degrees with its unit.
func whole(c temp.C, u temp.Unit) string { return c.Text(u, 0) }

// watch writes a span as a clock would: 1:02:03, 12:34 or 0:09. Below an hour it is minutes
// and seconds.
func watch(d time.Duration) string {
	s := int(max(0, d).Round(time.Second) / time.Second)
	if s >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
	}
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// spoken writes a span in words: "3 h 12 min", "12 min", "40 s".
func spoken(d time.Duration) string {
	d = max(0, d)
	if d < time.Minute {
		return fmt.Sprintf("%d s", int(d.Round(time.Second)/time.Second))
	}
	m := int(d.Round(time.Minute) / time.Minute)
	switch {
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}

// when writes an instant of the run by the wall clock, with the day if it is another one.
func when(s control.Snapshot, at time.Duration) string {
	w := s.Wall.Add(at - s.T)
	y, m, d := s.Wall.Date()
	today := time.Date(y, m, d, 0, 0, 0, 0, s.Wall.Location())
	switch days := int(math.Floor(w.Sub(today).Hours() / 24)); days {
	case 0:
		return w.Format("15:04")
	case 1:
		return w.Format("15:04") + " tomorrow"
	default:
		return w.Format("15:04 Mon 2 Jan")
	}
}

// stepWords names a step: "ramp to 400 °F", "soak 2 h", "wait".
func stepWords(st profiles.Step, u temp.Unit) string {
	switch st.Kind {
	case profiles.Ramp:
		return "ramp to " + whole(st.To, u)
	case profiles.Soak:
		return "soak " + spoken(st.For)
	case profiles.Cool:
		return "cool to " + whole(st.To, u)
	}
	return st.Kind.String()
}

// here gives the step that the run is in; false if it is in none.
func here(s control.Snapshot) (profiles.Step, bool) {
	if s.Step < 0 || s.Step >= len(s.Steps) || s.Phase == control.PhaseClosed {
		return profiles.Step{}, false
	}
	return s.Steps[s.Step], true
}

// waiting tells whether the run stands at a wait that a person must answer.
func waiting(s control.Snapshot) bool {
	st, ok := here(s)
	return ok && st.Kind == profiles.Wait && s.Phase == control.PhaseRunning
}

// alarmStates has a word for each letter of the ISA-18.2 state diagram; those of the table
// this house works from.
func alarmState(letter string) string {
	switch letter {
	case "B":
		return "new"
	case "C":
		return "acknowledged"
	case "D":
		return "gone, not acknowledged"
	case "E":
		return "gone, latched"
	case "F":
		return "acknowledged, latched"
	case "G":
		return "shelved"
	case "H":
		return "suppressed"
	case "I":
		return "out of service"
	}
	return ""
}

// standing gives the alarm that the digits shout: the newest of high priority that is there
// or latched, or else the newest other; nil if none is. A trip gives way to its cause, which
// says what to do at the oven.
func standing(s control.Snapshot) *control.Alarm {
	var found *control.Alarm
	weight := func(a *control.Alarm) int {
		switch {
		case !a.High:
			return 1
		case a.Code == alarm.Tripped:
			return 2
		}
		return 3
	}
	for i := range s.Alarms {
		a := &s.Alarms[i]
		if !strings.Contains("BCE", a.State) || a.State == "" {
			continue
		}
		if found == nil || weight(a) > weight(found) {
			found = a
		}
	}
	return found
}

// shout is the word that stands beside the digits, and how: why there is no reading, the
// alarm, the trip, the doubt; "" when all is well.
func shout(s control.Snapshot, quiet time.Duration) (string, style) {
	if quiet > 0 {
		return "NO NEWS FOR " + strings.ToUpper(spoken(quiet)), alarmed
	}
	if a := standing(s); a != nil {
		k := warned
		if a.High {
			k = alarmed
		}
		return strings.ToUpper(a.Word), k
	}
	switch {
	case s.Phase == control.PhaseTripped:
		return "TRIPPED", alarmed
	case !s.HasTemp:
		return "NO READING", warned
	case s.Doubt != "":
		return "HEAT AWAY", warned
	}
	return "", plain
}

// fault says why there is no reading on the control channel.
func fault(s control.Snapshot) string {
	if i := s.Lead(); i < len(s.Channels) && s.Channels[i].Fault != "" {
		return s.Channels[i].Fault
	}
	return "no reading"
}

// dutyWords says what was commanded, never what the element does.
func dutyWords(s control.Snapshot) string {
	if s.Info != nil && s.Info.Shop.NoHeater {
		return "you hold the heat"
	}
	if s.Phase != control.PhaseRunning || s.Doubt != "" {
		switch {
		case s.Duty != 0:
		case s.Link != "up" && s.Link != "" && s.Phase != control.PhaseClosed:
			return "off wanted, board not reached"
		default:
			return "off commanded"
		}
	}
	if s.ByHand > s.T {
		return fmt.Sprintf("%.1f %% BY HAND, %s left", float64(s.Duty)/10, watch(s.ByHand-s.T))
	}
	return fmt.Sprintf("%.1f %% commanded", float64(s.Duty)/10)
}
