package tui

import (
	"fmt"
	"slices"
	"strings"

	"strawline/control"
)

// alarms lists the alarms, newest first, each with its word, cause, what to do and age, and under
// them those that are hidden.
func alarms(sh *sheet, y, h int, s control.Snapshot, l Look) {
	if len(s.Hidden) > 0 {
		h--
		defer func() { shelfRow(sh, y, s, l) }()
	}
	if len(s.Alarms) == 0 {
		sh.text(1, y, faint, "no alarms")
		y++
		return
	}
	first, other := 1, 1 // rows of the first alarm and of each other
	if l.W >= 80 && h >= 2 {
		first = 2
	}
	if l.W >= 80 && h >= 2*len(s.Alarms) {
		other = 2
	}
	hidden := max(0, len(s.Alarms)-1-max(0, h-first)/other)
	list := s.Alarms
	if a := standing(s); a != nil && hidden > 0 { // what stands must not be hidden by what is gone
		list = append([]control.Alarm{*a}, slices.DeleteFunc(slices.Clone(list),
			func(b control.Alarm) bool { return b.Code == a.Code })...)
	}
	rows := first
	for i, a := range list[:len(list)-hidden] {
		if i > 0 {
			rows = other
		}
		more := 0
		if i == 0 {
			more = hidden
		}
		alarmRow(sh, y, rows, a, more, s, l)
		y += rows
	}
}

// alarmRow writes one alarm into one row, or into two of which the second says what to do.
func alarmRow(sh *sheet, y, rows int, a control.Alarm, more int, s control.Snapshot, l Look) {
	mark, k := "! ", warned
	if a.High {
		mark, k = "!! ", alarmed
	}
	if !strings.Contains("BCE", a.State) {
		k = plain
	}
	x := sh.fit(0, y, l.W, k, " "+mark+strings.ToUpper(a.Word)+" ") + 1
	if more > 0 {
		x = sh.fit(x, y, l.W-x, strong, fmt.Sprintf("+%d more", more)) + 1
	}
	state := alarmState(a.State)
	if a.Silent && a.State == "B" {
		state = "silenced"
	}
	text := a.Text + ": " + a.Do + " · " + state
	switch {
	case rows == 2:
		text = a.Text + " · " + state + " · for " + spoken(max(0, s.T-a.Since))
		sh.fit(4, y+1, l.W-4, plain, "do: "+a.Do)
	case l.W < 60:
		text = a.Do
	}
	sh.fit(x, y, l.W-x, plain, text)
}
