package control

import (
	"slices"

	"strawline/control/alarm"
)

// alarm folds an alarm's change into what a screen shows: what stands or was not acknowledged,
// and apart from it what is hidden.
func (v *View) alarm(e *Event) {
	s := &v.s
	if e.Code == "" { // silence
		for i := range s.Alarms {
			s.Alarms[i].Silent = true
		}
		return
	}
	since, silent := e.T, false
	if i := slices.IndexFunc(s.Alarms, func(a Alarm) bool { return a.Code == e.Code }); i >= 0 {
		if e.Word != "B" { // only a new occurrence has a new time
			since, silent = s.Alarms[i].Since, s.Alarms[i].Silent
		}
		s.Alarms = slices.Delete(slices.Clone(s.Alarms), i, i+1)
	}
	if i := slices.IndexFunc(s.Hidden, func(h Hidden) bool { return h.Code == e.Code }); i >= 0 {
		s.Hidden = slices.Delete(slices.Clone(s.Hidden), i, i+1)
	}
	at := v.table.Index(e.Code)
	if e.Word == "A" || at < 0 {
		return
	}
	d := &v.table[at]
	if hides(e.Word) {
		h := Hidden{Code: d.Code, Word: d.Word, State: e.Word, Reason: e.Text}
		if e.SpanS != nil {
			h.Until = e.T + seconds(*e.SpanS)
		}
		s.Hidden = slices.Insert(s.Hidden, 0, h)
		return
	}
	a := Alarm{Code: d.Code, Word: d.Word, Text: d.Cause, Do: d.Do, State: e.Word, High: d.High,
		Since: since, Silent: silent || e.Word == "C" || e.Word == "F"}
	if e.Text != "" && e.From == "" {
		a.Text = e.Text
	}
	s.Alarms = slices.Insert(s.Alarms, 0, a)
}

// unshelved forgets what was shelved: a trip and the end bring it back, also where the engine fails
// and cannot tell so.
func (v *View) unshelved() {
	v.s.Hidden = slices.DeleteFunc(slices.Clone(v.s.Hidden),
		func(h Hidden) bool { return h.State == alarm.G.String() })
}

// hides says whether a letter is that of a hidden state.
func hides(letter string) bool {
	return letter == alarm.G.String() || letter == alarm.H.String() || letter == alarm.I.String()
}
