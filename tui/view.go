package tui

import (
	"time"

	"strawline/control"
	"strawline/probe/temp"
	"strawline/tui/chart"
)

// Page is which of the screens is shown.
type Page uint8

// The pages.
const (
	Dashboard Page = iota
	BigDigits
	Help
	LoopGains
	Verdict // what a tuning test came to: the gains to choose from
	Table   // the same with margins, predictions and every rule
	// AlarmList is every alarm of the table, and the chosen one explained.
	AlarmList
)

// Look is everything besides the Snapshot that a screen depends on.
type Look struct {
	W, H      int
	Unit      temp.Unit
	Ink       Ink
	Page      Page
	Say       string // a question, what is being typed, or the answer to a key
	Asking    bool   // Say waits for an answer
	Transport string // "pseudo-terminal", "in-memory stream"; "" to say nothing
	Replay    *PlayState
	Loop      *Loop         // the gains page's; nil elsewhere
	Pick      AlarmPick     // what the page of alarms shows besides
	Tuned     *Tuned        // what the tuning test came to; nil before it is done
	Scroll    int           // lines of a long page that are above the screen
	Quiet     time.Duration // how long a live run has said nothing; 0 while it speaks
	// Line draws the chart in so many cells; nil for none.
	Line func(w, h int) [][]chart.Cell
}

// View gives the whole screen: H lines, each exactly W cells wide. It depends on nothing but
// its arguments.
func View(s control.Snapshot, l Look) string {
	sh := newSheet(l.W, l.H)
	ink := l.Ink
	if s.HasTemp && l.Quiet == 0 {
		_, _, hex := steelColour(s.Temp, l.Unit)
		ink = ink.withStrip(hex)
	}
	switch {
	case s.Info == nil:
		sh.text(0, 0, plain, "waiting for the run")
		say(sh, l.H-1, l)
	case l.W < 40 || l.H < 12:
		tiny(sh, s, l)
	case l.Page == Help:
		help(sh, s, l)
	case l.Page == AlarmList:
		alarmsPage(sh, s, l)
	case l.Page == LoopGains:
		loopPage(sh, s, l)
	case l.Page == BigDigits:
		big(sh, s, l)
	case l.Tuned != nil && (l.Page == Verdict || l.Page == Table):
		tunedPage(sh, s, l)
	default:
		dashboard(sh, s, l)
	}
	return sh.string(ink)
}

// plan of a dashboard: how many rows each part gets; the line gets what is left.
type rowsFor struct {
	digits, detail, strip, ready, alarms int
	leastLine                            int // fewer rows than these are not worth a chart
}

func rowsOf(w, h int) rowsFor {
	switch {
	case w >= 180 && h >= 55:
		return rowsFor{digits: 11, detail: 1, strip: 2, ready: 3, alarms: 7, leastLine: 5}
	case w >= 110 && h >= 36:
		return rowsFor{digits: 7, detail: 1, strip: 2, ready: 2, alarms: 4, leastLine: 5}
	case w >= 80 && h >= 24:
		return rowsFor{digits: 5, detail: 1, strip: 2, ready: 2, alarms: 2, leastLine: 5}
	case h >= 18:
		return rowsFor{digits: 4, strip: 2, ready: 2, alarms: 2, leastLine: 5}
	default:
		return rowsFor{digits: 4, ready: 2, alarms: 1, leastLine: 99}
	}
}

// dashboard lays the parts out from top to bottom.
func dashboard(sh *sheet, s control.Snapshot, l Look) {
	n := rowsOf(l.W, l.H)
	l.Page = Dashboard
	if len(s.Hidden) > 0 {
		n.alarms++
	}
	head(sh, 0, s, l)
	y := 1
	if l.H >= 36 {
		y++ // air under the top line
	}
	right := temperature(sh, y, n.digits, s, l)
	plates(sh, right+3, y, n.digits+1, s, l)
	y += n.digits + 1
	colourStrip(sh, y, right, s, l)
	y++
	if n.detail > 0 {
		details(sh, y, s, l)
		y++
	}
	bottom := l.H - 2 // what is said, and the keys
	var dose []string
	if l.W >= 80 && l.H >= 24 {
		dose = doseLines(s, l)
	}
	line := bottom - y - n.strip - n.ready - n.alarms - len(dose)
	if len(dose) > 1 && line < n.leastLine { // the verdict matters more than the steps behind
		line, n.strip = line+n.strip, 0
	}
	if line >= n.leastLine && l.Line != nil {
		drawLine(sh, y, l.Line(l.W, line))
		y += line
	}
	if n.strip > 0 {
		stepsStrip(sh, y, s, l)
		y += n.strip
	}
	if len(s.Hidden) > 0 && bottom-y-n.ready-len(dose) < 2 { // an alarm and what is hidden
		n.ready = 1
	}
	if s.Info.Test != nil {
		testPanel(sh, y, n.ready, s, l)
	} else {
		ready(sh, y, n.ready, s, l)
	}
	y += n.ready
	doseRows(sh, y, dose, l)
	y += len(dose)
	alarms(sh, y, bottom-y, s, l)
	say(sh, l.H-2, l)
	if l.H < 24 && l.Say == "" && l.Replay == nil {
		sh.fit(1, l.H-2, l.W-1, plain, doseShort(s, l))
	}
	keys(sh, l.H-1, s, l)
}

// tiny is for terminals below 40 by 12: words only, the most needed first.
func tiny(sh *sheet, s control.Snapshot, l Look) {
	t := "--- " + fault(s)
	if s.HasTemp && l.Quiet == 0 {
		t = whole(s.Temp, l.Unit)
	}
	x := 0
	if s.Info.Simulated {
		x = sh.text(x, 0, strong, "SIMULATED") + 1
	}
	if l.Replay != nil {
		x = sh.text(x, 0, strong, "REPLAY") + 1
	}
	sh.fit(x, 0, l.W-x, plain, t)
	word, k := shout(s, l.Quiet)
	if word == "" {
		word = "no alarms"
	} else {
		word = "!! " + word
	}
	sh.fit(0, 1, l.W, k, word)
	y := 2
	if names := ShelfNames(s); names != "" && l.H > 3 {
		sh.fit(0, y, l.W, strong, names)
		y++
	} else if names != "" {
		sh.fit(len([]rune(word)), 1, l.W-len([]rune(word)), strong, ", "+names)
	}
	if l.Say != "" {
		sh.fit(0, y, l.W, strong, answerable(l.Say, l.W))
	} else {
		sh.fit(0, y, l.W, plain, "left "+soakLeft(s)+"  "+dutyWords(s))
	}
	for i, p := range plateList(s, l) {
		if l.H > 7 && y+1+i >= l.H-1 { // the keys' line
			break
		}
		sh.fit(0, y+1+i, l.W, plain, p.label+" "+p.value)
	}
	if l.H > 7 {
		keys(sh, l.H-1, s, l)
	}
}
