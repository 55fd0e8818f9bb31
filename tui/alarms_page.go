package tui

import (
	"fmt"
	"slices"
	"strings"

	"strawline/control"
	"strawline/control/alarm"
)

// AlarmPick is what the page of alarms shows besides the Snapshot.
type AlarmPick struct {
	Code   string // of the chosen alarm; "" for the first
	Alone  bool   // its explanation alone, without the list
	Scroll int    // lines of it that are above the screen
}

// listed is one alarm of the table as it is now.
type listed struct {
	alarm.Declaration
	now    *control.Alarm  // nil if there is nothing to tell
	hidden *control.Hidden // nil if it is not hidden
}

// stands says that a person must not miss it: it is there, or latched and not acknowledged.
func (a *listed) stands() bool { return a.now != nil && strings.Contains("BCE", a.now.State) }

// listAlarms gives every alarm of the table: those that stand first, then those that are gone and
// not yet done with, then those that are hidden, then the others in the order of the table.
func listAlarms(s control.Snapshot) []listed {
	table := alarm.First()
	find := func(code string) alarm.Declaration {
		if i := table.Index(code); i >= 0 {
			return table[i]
		}
		return alarm.Declaration{Code: code}
	}
	var out []listed
	first := standing(s) // whose word stands large
	for turn := range 3 {
		for i := range s.Alarms {
			a := &s.Alarms[i]
			l := listed{Declaration: find(a.Code), now: a}
			if l.Word == "" { // a table of another version
				l.Word, l.Cause, l.Do, l.High = strings.ToUpper(a.Word), a.Text, a.Do, a.High
			}
			its := 2
			if a == first {
				its = 0
			} else if l.stands() {
				its = 1
			}
			if its == turn {
				out = append(out, l)
			}
		}
	}
	for i := range s.Hidden {
		h := &s.Hidden[i]
		l := listed{Declaration: find(h.Code), hidden: h}
		if l.Word == "" {
			l.Word = h.Word
		}
		out = append(out, l)
	}
	for _, d := range table {
		if !slices.ContainsFunc(out, func(l listed) bool { return l.Code == d.Code }) {
			out = append(out, listed{Declaration: d})
		}
	}
	return out
}

// picked gives the list and the place in it of the chosen alarm.
func picked(s control.Snapshot, l Look) ([]listed, int) {
	list := listAlarms(s)
	return list, max(0, slices.IndexFunc(list, func(a listed) bool { return a.Code == l.Pick.Code }))
}

// state says in words what the alarm does.
func (a *listed) state() string {
	switch {
	case a.hidden != nil:
		return alarmState(a.hidden.State)
	case a.now == nil:
		return "normal"
	case a.now.Silent && a.now.State == "B":
		return "new, silenced"
	}
	return alarmState(a.now.State)
}

// since says since when it is raised, or how long it is still hidden.
func (a *listed) since(s control.Snapshot) string {
	switch {
	case a.hidden != nil && a.hidden.Until > 0:
		return spoken(a.hidden.Until-s.T) + " left"
	case a.now != nil:
		return when(s, a.now.Since) + ", for " + spoken(s.T-a.now.Since)
	}
	return ""
}

func (a *listed) priority() string {
	if a.High {
		return "high"
	}
	return "low"
}

// worthLine is how many rows must be left under the explanation for the line of the run.
const worthLine = 10

// alarmsPage lists all alarms and explains the chosen one.
func alarmsPage(sh *sheet, s control.Snapshot, l Look) {
	y := alarmsTop(sh, s, l)
	bottom := l.H - 2
	list, at := picked(s, l)
	text := explained(&list[at], s, l)
	if l.Pick.Alone {
		mark(sh, y, &list[at], false, s, l)
		y++
		from := min(l.Pick.Scroll, max(0, len(text)-(bottom-y)))
		for i, line := range text[from:min(len(text), from+bottom-y)] {
			line.draw(sh, y+i, l)
		}
	} else {
		y = alarmRows(sh, y, bottom-y-below(bottom-y, len(list), len(text), l), list, at, s, l)
		if bottom-y > len(text) {
			y++ // air
		}
		text = text[:min(len(text), bottom-y)]
		for i, line := range text {
			line.draw(sh, y+i, l)
		}
		y += len(text) + 1
		if bottom-y >= worthLine && l.Line != nil {
			drawLine(sh, y, l.Line(l.W, bottom-y))
		}
	}
	say(sh, l.H-2, l)
	alarmKeys(sh, l.H-1, &list[at], s, l)
}

// below is how many of so many rows the explanation gets.
func below(rows, alarms, text int, l Look) int {
	least := 4 // of a narrow screen; the rest of the explanation is a key press away
	if l.H >= 20 {
		least = 6
	}
	return min(text, max(least, rows-alarms-1))
}

// alarmsTop draws what must not be missed while one reads, the reading and the word of what is
// abnormal, and gives the row behind it.
func alarmsTop(sh *sheet, s control.Snapshot, l Look) int {
	head(sh, 0, s, l)
	y := 1
	word, k := shout(s, l.Quiet)
	var others []string // that stand besides the one whose word is at the top
	for i, a := range listAlarms(s) {
		if (i > 0 || l.Quiet > 0) && a.stands() {
			others = append(others, a.Word)
		}
	}
	more := fmt.Sprintf("+%d more", len(others))
	if l.W >= 110 && l.H >= 36 {
		n := rowsOf(l.W, l.H)
		right := temperature(sh, 2, n.digits, s, l)
		plates(sh, right+3, 2, n.digits+1, s, l)
		y = 2 + n.digits + 2
		if len(others) > 0 {
			sh.fit(1, y-1, l.W-1, strong, more+": "+strings.Join(others, ", "))
		}
	} else if word == "" {
		sh.fit(1, y, l.W-1, plain, readingWords(s, l))
		y++
	} else {
		m := " !! "
		if k == warned {
			m = " ! "
		}
		x := sh.fit(0, y, l.W, k, m+word+" ") + 1
		if len(others) > 0 {
			x = sh.fit(x, y, l.W-x, strong, more) + 1
		}
		sh.fit(x, y, l.W-x, plain, readingWords(s, l))
		y++
		if l.H >= 24 {
			rows := bigWord(word, l.W-2, 4)
			sh.rows(1, y, plain, rows)
			y += len(rows)
		}
	}
	if len(s.Hidden) > 0 {
		shelfRow(sh, y, s, l)
		y++
	}
	return y
}

// alarmRows draws as many of the alarms as there are rows for, the chosen one among them, and
// gives the row behind them.
func alarmRows(sh *sheet, y, rows int, list []listed, at int, s control.Snapshot, l Look) int {
	if l.W >= 80 {
		sh.text(4, y, faint, fmt.Sprintf("%d alarms", len(list)))
		sh.text(18, y, faint, "state")
		sh.text(43, y, faint, "since")
		sh.text(66, y, faint, "priority")
		y, rows = y+1, rows-1
	}
	rows = min(rows, len(list))
	from := max(0, min(at-rows/2, len(list)-rows))
	for i := range rows {
		mark(sh, y+i, &list[from+i], from+i == at, s, l)
	}
	if from > 0 {
		sh.text(l.W-2, y, strong, "↑")
	}
	if from+rows < len(list) {
		sh.text(l.W-2, y+rows-1, strong, "↓")
	}
	return y + rows
}

// mark draws the row of one alarm.
func mark(sh *sheet, y int, a *listed, chosen bool, s control.Snapshot, l Look) {
	if chosen {
		sh.text(0, y, strong, "→")
	}
	word := " " + a.Word + " "
	k := plain
	switch {
	case a.stands() && a.High:
		sh.text(1, y, alarmed, "!!")
		k = alarmed
	case a.stands():
		sh.text(1, y, warned, " !")
		k = warned
	case a.now == nil && a.hidden == nil && !chosen:
		k = faint
	}
	sh.fit(3, y, min(14, l.W-3), k, word)
	if k != faint {
		k = plain
	}
	if l.W < 80 {
		sh.fit(18, y, l.W-18-3, k, a.state())
		return
	}
	sh.fit(18, y, 24, k, a.state())
	sh.fit(43, y, 22, k, a.since(s))
	sh.fit(66, y, 8, k, a.priority())
}

// explanation is one row of an explanation.
type explanation struct {
	label, text string
	k           style
}

// labelled is how many columns a label takes.
const labelled = 11

func (e *explanation) draw(sh *sheet, y int, l Look) {
	if l.W < 80 {
		x := 1
		if e.label != "" {
			x = sh.text(1, y, faint, e.label+":") + 1
		}
		sh.fit(x, y, l.W-x, e.k, e.text)
		return
	}
	sh.text(4, y, faint, e.label)
	sh.fit(4+labelled, y, l.W-5-labelled, e.k, e.text)
}

// explained says of an alarm all that the table and the guard's list of faults say, in rows.
func explained(a *listed, s control.Snapshot, l Look) []explanation {
	var out []explanation
	w := min(110, l.W-5-labelled)
	add := func(label, text string, k style) {
		room := w
		if l.W < 80 {
			room = l.W - 2
			text = label + ": " + text
		}
		for i, line := range folded(text, room) {
			e := explanation{label, line, k}
			if l.W < 80 {
				e.text = strings.TrimPrefix(line, label+": ")
			}
			if i > 0 {
				e.label = ""
			}
			out = append(out, e)
		}
	}
	if l.W < 80 && !l.Pick.Alone { // first what a narrow screen has no columns for
		since := a.since(s)
		if since == "" {
			since = a.state()
		} else if a.now != nil {
			since = "since " + since
		}
		out = append(out, explanation{"", since + " · priority " + a.priority(), plain})
	}
	if l.W < 80 && !l.Pick.Alone {
		add("do", a.Do, strong)
		return out
	}
	if a.now != nil && a.now.Text != a.Cause {
		add("now", a.now.Text, strong)
	}
	if a.now != nil && a.Code == alarm.Tripped && s.Phase == control.PhaseTripped {
		add("why", s.Why, strong) // which its text says to read
	}
	if h := a.hidden; h != nil {
		text := h.Reason
		if h.Until > 0 {
			text = "until " + when(s, h.Until) + ": " + h.Reason
		}
		add(alarmState(h.State), text, strong)
	}
	add("cause", a.Cause, plain)
	add("if left", a.Consequence, plain)
	add("do", a.Do, strong)
	add("delays", delays(&a.Declaration), plain)
	add("ends", ends(&a.Declaration), plain)
	add("shelving", shelving(&a.Declaration), plain)
	var only []string
	for _, d := range control.Detects(a.Code) {
		add("seen", d.What+", within "+d.Within, plain)
		if d.Only != "" && !slices.Contains(only, d.Only) {
			only = append(only, d.Only)
		}
	}
	for _, o := range only {
		add("hardware", o, plain)
	}
	return out
}

// delays says how late an alarm comes and goes, when it comes again and when it rests.
func delays(d *alarm.Declaration) string {
	text := "none"
	if d.OnDelay > 0 || d.OffDelay > 0 {
		text = "on-delay " + spoken(d.OnDelay) + ", off-delay " + spoken(d.OffDelay)
	}
	if d.Realarm > 0 {
		text += "; announces again every " + spoken(d.Realarm)
	}
	var words []string
	for _, code := range d.DependsOn {
		words = append(words, alarmName(code))
	}
	if len(words) > 0 {
		text += "; rests while " + strings.Join(words, " or ") + " stands"
	}
	return text
}

// ends says what it takes for an alarm to leave the screen.
func ends(d *alarm.Declaration) string {
	switch {
	case d.Latching:
		return "latches: stays until its cause has gone, you have acknowledged it and reset it"
	case d.NeedsAck:
		return "stays until its cause has gone and you have acknowledged it"
	}
	return "goes with its cause"
}

// shelving says whether an alarm may be shelved, and why not.
func shelving(d *alarm.Declaration) string {
	switch {
	case d.Hidable:
		return "can be shelved for up to " + spoken(alarm.MostShelf)
	case d.Latching:
		return "cannot be shelved: it latches"
	case d.High:
		return "cannot be shelved: heat or steel is at stake"
	}
	return "cannot be shelved"
}
