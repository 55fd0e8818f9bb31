package tui

import (
	"fmt"
	"strings"
	"time"

	"strawline/control"
	"strawline/probe/temp"
)

// testWords says what a tuning test is doing and why, in two sentences, the shorter first.
func testWords(s control.Snapshot, u temp.Unit) (doing, why string) {
	at := temp.C(s.Info.Test.TargetC).Text(u, 0)
	switch s.Test {
	case control.TestSteady:
		if strings.Contains(s.TestText, "holds it") { // the holding duty is known and is given alone
			return "waiting until it rests at " + at, s.TestText
		}
		return "staying at " + at + " until the heat that holds it is known",
			"from what holds it the heat can then go up and down by as much"
	case control.TestSwinging:
		n := (s.TestMoves + 1) / 2
		return fmt.Sprintf("swing %d: the heat goes up and down", n),
			"how high and how late the reading swings tells how the oven answers"
	case control.TestDone:
		return "done: " + s.TestText, "t shows the gains to choose from"
	case control.TestRefused:
		return "no gains: " + s.TestText, "nothing was changed; the run file has it all"
	}
	return "heating up to " + at, "how soon and how fast the reading rises tells how the oven answers"
}

// testLeft is the longest that the test may still take; 0 when it is over.
func testLeft(s control.Snapshot) time.Duration {
	if s.Test == control.TestDone || s.Test == control.TestRefused ||
		s.Phase != control.PhaseRunning {
		return 0
	}
	return max(0, time.Duration(s.Info.Test.MostS*float64(time.Second))-s.T)
}

// testPanel stands where another run says when it is ready.
func testPanel(sh *sheet, y, rows int, s control.Snapshot, l Look) {
	label := 8
	if l.W < 60 {
		label = 6
	}
	if s.Phase == control.PhaseTripped { // the way out of it matters more
		ready(sh, y, rows, s, l)
		return
	}
	doing, why := testWords(s, l.Unit)
	sh.text(1, y, faint, "test")
	room := l.W - 1 - label
	lines := folded(doing, room)
	n := min(len(lines), rows)
	for i := range n {
		sh.fit(1+label, y+i, room, strong, lines[i])
	}
	if n < rows && l.W >= 60 { // a narrow screen has no room for the reason
		sh.text(1, y+n, faint, "why")
		sh.fit(1+label, y+n, room, plain, why)
	}
}

// tunedText is what a test came to, in folded lines: the choice first, or everything.
func tunedText(l Look) []string {
	u, v := l.Unit, l.Tuned.Verdict
	var long []string
	if l.Page == Table {
		long = append(VerdictLines(v, u), TableLines(l.Tuned.Rules, u)...)
	} else {
		long = append(long, "The oven: "+modelFigures(v.Model, u)+", from a "+v.Test+".", "",
			"recommended: "+tunedGains(v.Best.Gains, u), "  "+because(v.Best), "",
			"bolder: "+tunedGains(v.Bolder.Gains, u), "  "+because(v.Bolder), "",
			"calmer: "+tunedGains(v.Calmer.Gains, u), "  "+because(v.Calmer), "",
			"Nothing is kept yet: when you leave, the program says how.")
	}
	var out []string
	for _, t := range long {
		indent := strings.Repeat(" ", len(t)-len(strings.TrimLeft(t, " ")))
		if t == "" {
			out = append(out, "")
			continue
		}
		for i, f := range folded(strings.TrimSpace(t), max(10, l.W-4-len(indent))) {
			if i > 0 && indent == "" {
				f = "  " + f
			}
			out = append(out, indent+f)
		}
	}
	return out
}

// tunedPage shows what a tuning test came to; what does not fit is a key press away.
func tunedPage(sh *sheet, s control.Snapshot, l Look) {
	head(sh, 0, s, l)
	lines, rows := tunedText(l), l.H-3
	from := min(l.Scroll, max(0, len(lines)-rows))
	for i := range min(rows, len(lines)-from) {
		k := plain
		for _, word := range []string{"recommended", "bolder", "calmer", "warning"} {
			if strings.HasPrefix(strings.TrimSpace(lines[from+i]), word) {
				k = strong
			}
		}
		sh.fit(1, 1+i, l.W-1, k, lines[from+i])
	}
	foot := "t all  / help  esc back"
	if l.Page == Table {
		foot = "t short  / help  esc back"
	}
	if rest := len(lines) - from - rows; rest > 0 {
		foot = fmt.Sprintf("↓ %d more  %s", rest, foot)
	} else if from > 0 {
		foot = "↑ back up  " + foot
	}
	if l.Say != "" {
		say(sh, l.H-2, l)
	}
	sh.fit(0, l.H-1, l.W, faint, foot)
}
