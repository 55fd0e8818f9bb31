package tui

import (
	"fmt"
	"strings"
	"time"

	"strawline/control"
	"strawline/control/alarm"
	"strawline/probe/temp"
)

// Line turns an event into one line of text for pipes, logs and screen readers: the time in
// the run, words, and figures with their units, without colour or cursor movement. It depends
// on nothing but its arguments, so that a live run and its replay print the same. The line of
// the start says SIMULATED first if the run is.
func Line(e control.Event, info *control.Info, u temp.Unit) string {
	t := e.T.Round(time.Second)
	s := fmt.Sprintf("%02d:%02d:%02d ", int(t.Hours()), int(t.Minutes())%60, int(t.Seconds())%60)
	if e.Kind == control.EvStart && info != nil && info.Simulated {
		s = "SIMULATED " + s
	}
	return s + clean(strings.TrimSpace(lineWords(e, info, u)))
}

// stepNumber counts the event's step, with its cycle; "" if it has none.
func stepNumber(e control.Event, info *control.Info) string {
	if e.Step == nil || info == nil {
		return ""
	}
	n := fmt.Sprintf("step %d of %d", *e.Step+1, len(info.Profile.Steps))
	if *e.Step >= 0 && *e.Step < len(info.Profile.Steps) {
		if c := info.Profile.Steps[*e.Step].Cycle; c > 0 {
			n += fmt.Sprintf(", cycle %d", c)
		}
	}
	return n
}

func lineWords(e control.Event, info *control.Info, u temp.Unit) string {
	step := stepNumber(e, info)
	switch e.Kind {
	case control.EvStart:
		if info == nil {
			return "start"
		}
		proof, _ := info.ProofWords(info.Start)
		return join("start: "+info.Profile.Name+" on "+info.Shop.Oven,
			info.Start.Format(time.RFC3339), gainsWords(info), "room "+degrees(e, u), proof, e.Text)
	case control.EvStep:
		if e.Text != "" { // as the step is now; the head has it as it was at the start
			e.Text = ": " + e.Text
		}
		return join(step+e.Text, paren(e.Word))
	case control.EvSoak:
		return join("soak "+e.Word, step, span(e), e.Text)
	case control.EvSoaked:
		return join("soak done", step, credited(e), e.Text)
	case control.EvSet:
		if e.TempC == nil {
			return join("turn your oven off", step)
		}
		return join("set your oven to "+degrees(e, u), step)
	case control.EvWait:
		return join("your turn: "+e.Text, step)
	case control.EvDoubt:
		return "doubt, heat away: " + e.Text
	case control.EvClear:
		return join("doubt is over", e.Text)
	case control.EvTrip:
		if e.Word == control.Unreached {
			return "trip, off wanted, the board is not reached: " + e.Text
		}
		return "trip, heat off commanded: " + e.Text
	case control.EvAlarm:
		return alarmLine(e)
	case control.EvAsk:
		return askLine(e, u)
	case control.EvLink, control.EvLatch, control.EvProbe:
		return changeLine(e)
	case control.EvGap:
		return join("gap without a good reading", span(e), e.Text)
	case control.EvEdit:
		return join("changed: "+strings.TrimSpace(e.Code+" "+e.Word), step, span(e), degrees(e, u),
			e.Text)
	case control.EvReminder:
		return join("reminder: the run has ended and nobody has answered", e.Text)
	case control.EvDose:
		return join("dose", e.Text)
	case control.EvEnd:
		return join("end: "+e.Word+", "+info.Off(), e.Text, e.Left(u))
	case control.EvClosed:
		if e.Word == "stopped" {
			return join("closed", e.Text)
		}
		return join("closed: the end was answered", e.Text)
	case control.EvLost:
		return "records lost: " + e.Text
	}
	if s := loopLine(e, u); s != "" {
		return s
	}
	return join(string(e.Kind), step, e.Code, e.Word, span(e), degrees(e, u), e.Text)
}

func changeLine(e control.Event) string {
	switch e.Kind {
	case control.EvProbe:
		n := ""
		if e.Chan != nil {
			n = fmt.Sprintf(" %d", *e.Chan)
		}
		return join("channel"+n+": "+e.Word, e.Text)
	case control.EvLatch:
		return join("board latches: "+e.Word, e.Text)
	}
	return join("link "+e.Word, e.Text)
}

// alarmName gives the word of an alarm; its code where the table has none.
func alarmName(code string) string {
	if t := alarm.First(); t.Index(code) >= 0 {
		return t[t.Index(code)].Word
	}
	return code
}

func alarmLine(e control.Event) string {
	if e.Code == "" {
		return join("alarms silenced", e.Text)
	}
	state := alarmState(e.Word)
	if e.Word == "A" {
		state = "over"
	}
	word, cause := alarmName(e.Code), ""
	if t := alarm.First(); t.Index(e.Code) >= 0 {
		cause = t[t.Index(e.Code)].Cause
	}
	if e.Word != "B" {
		cause = ""
	}
	if e.From != "" { // it was hidden: over is only that
		back := "alarm " + word + " no longer " + alarmState(e.From)
		if e.Word != "A" {
			return join(back+", "+state, cause, e.Text)
		}
		return join(back, e.Text)
	}
	how := ""
	if e.SpanS != nil {
		how = "for " + spoken(time.Duration(*e.SpanS*float64(time.Second)))
	}
	return join(strings.TrimSpace("alarm "+word+" "+state+" "+how), cause, e.Text)
}

// askLine says what was asked, by whom, and whether it was done.
func askLine(e control.Event, u temp.Unit) string {
	if e.Ask == nil {
		return join("asked", e.Word, e.Text)
	}
	a := *e.Ask
	what := "asked: " + string(a.Kind)
	if a.Code != "" {
		what += " " + alarmName(a.Code)
	}
	if a.Seconds > 0 {
		what += " " + spoken(time.Duration(a.Seconds*float64(time.Second)))
	}
	switch a.Kind {
	case control.AskSet:
		what += " " + temp.C(a.TempC).Text(u, 1)
	case control.AskGains:
		what += " " + gainsFigures(a.Gains, u)
	case control.AskDuty:
		what += fmt.Sprintf(" %.1f %%", float64(a.DutyPM)/10)
	}
	by := ""
	if a.By != "" {
		by = "by " + a.By
	}
	result := e.Word
	if e.Text != "" {
		result = strings.TrimSpace(result + " " + e.Text)
	}
	return join(what, a.Text, by, result)
}

func span(e control.Event) string {
	if e.SpanS == nil {
		return ""
	}
	return fmt.Sprintf("%.0f s", *e.SpanS)
}

func credited(e control.Event) string {
	if e.SpanS == nil {
		return ""
	}
	return span(e) + " in the band"
}

func degrees(e control.Event, u temp.Unit) string {
	if e.TempC == nil {
		return ""
	}
	return temp.C(*e.TempC).Text(u, 1)
}

func paren(word string) string {
	if word == "" {
		return ""
	}
	return "(" + word + ")"
}

// join puts the parts that are not empty behind one another.
func join(parts ...string) string {
	var out []string
	for _, p := range parts {
		if p = strings.TrimSpace(p); p != "" && !strings.HasSuffix(p, ":") && p != "room" {
			out = append(out, p)
		}
	}
	return strings.Join(out, "; ")
}

// clean takes line ends and other control characters out of a line: notes come from people.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 || r == '\u2028' || r == '\u2029' {
			return ' '
		}
		return r
	}, s)
}

func gainsWords(info *control.Info) string {
	if info.Gains.From == "" {
		return ""
	}
	text := "gains: " + info.Gains.From
	if b := info.Blade; b != nil && b.From != "" {
		text += "; blade's model: " + b.From
	}
	return text
}
