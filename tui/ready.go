package tui

import (
	"strawline/control"
	"strawline/profiles"
)

// ready says when the run is ready by the wall clock, and what the person must do next; in one
// row only the latter.
func ready(sh *sheet, y, rows int, s control.Snapshot, l Look) {
	label := 8
	first, second := readyWords(s, l), nextWords(s, l)
	if l.W < 60 {
		label = 6
		if s.Phase == control.PhaseClosed {
			second = nextWords(s, l)
		} else if s.NextAt > s.T {
			second = when(s, s.NextAt) + ": " + s.Next
		} else {
			second = "now: " + s.Next
		}
	}
	if rows > 1 {
		sh.text(1, y, faint, "ready")
		sh.fit(1+label, y, l.W-1-label, plain, first)
		y++
	}
	sh.text(1, y, faint, "next")
	k := plain
	if s.NextAt <= s.T && s.Phase != control.PhaseClosed {
		k = strong
	}
	sh.fit(1+label, y, l.W-1-label, k, second)
}

// readyWords says when the run is ready; at its end, where there is room, how hot the oven still
// reads.
func readyWords(s control.Snapshot, l Look) string {
	switch {
	case s.Phase == control.PhaseEnded || s.Phase == control.PhaseClosed:
		hot := ""
		if s.HasTemp && s.Temp > control.StillHot && l.W >= 60 {
			hot = ", the oven still reads " + whole(s.Temp, l.Unit)
		}
		return "ended, " + s.Info.Off() + hot + ": " + s.Why
	case s.Phase == control.PhaseTripped:
		return "not known while tripped: " + s.Why
	case s.Ready <= s.T && soaked(s):
		return "every soak is done"
	case s.Ready <= s.T:
		return "not known yet"
	}
	return when(s, s.Ready) + ", in " + spoken(s.Ready-s.T)
}

// soaked tells whether no soak is left to do.
func soaked(s control.Snapshot) bool {
	for _, st := range s.Steps[min(max(0, s.Step), len(s.Steps)):] {
		if st.Kind == profiles.Soak {
			return false
		}
	}
	return true
}

func nextWords(s control.Snapshot, l Look) string {
	switch {
	case s.Next == "" && s.Phase == control.PhaseClosed:
		return "nothing more"
	case s.Next == "" || s.Phase == control.PhaseClosed:
		return s.Next
	}
	if s.NextAt > s.T {
		return when(s, s.NextAt) + ", in " + spoken(s.NextAt-s.T) + ": " + s.Next
	}
	switch {
	case l.Replay != nil: // no key answers what has been
	case waiting(s):
		return "now: " + s.Next + " (c when it is done)"
	case s.Phase == control.PhaseEnded:
		return "now: " + s.Next + " (c)"
	}
	if s.Phase == control.PhaseRunning && !waiting(s) {
		return s.Next
	}
	return "now: " + s.Next
}
