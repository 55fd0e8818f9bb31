package tui

import (
	"strconv"
	"strings"

	"strawline/control"
	"strawline/probe/temp"
)

// doseWords says what the blade has had and what hardness that leaves, in one line; "" before
// there is a temper to speak of.
func doseWords(s control.Snapshot, u temp.Unit) string {
	o := &s.Dose
	equal := o.Equal(u)
	if equal == "" {
		return ""
	}
	text := equal + " · " + o.Hardness()
	if c := o.CostWords(); c != "" {
		text += " · " + strings.TrimPrefix(c, "the last ")
	}
	if o.By == control.DoseAir { // what claims least comes first
		return "by the air: " + text
	}
	return text + " · by " + o.By
}

// doseLines are the rows of the dose: one while the run goes on; the verdict when it has ended,
// and how to keep a measured hardness beside it.
func doseLines(s control.Snapshot, l Look) []string {
	if s.Info.Test != nil { // nothing is tempered
		return nil
	}
	over := s.Phase == control.PhaseEnded || s.Phase == control.PhaseClosed
	if !over || s.Dose.Verdict == "" {
		if text := doseWords(s, l.Unit); text != "" && !over {
			return []string{text}
		}
		return nil
	}
	lines := folded(s.Dose.Verdict, l.W-9)
	if m := s.Dose.Measured; m > 0 {
		lines = append(lines, "measured: "+strconv.FormatFloat(m, 'f', -1, 64)+" HRC")
	} else if s.Dose.P > 0 && s.Phase == control.PhaseEnded && l.Replay == nil {
		lines = append(lines, "measured it? n, then: hardness 60.5HRC")
	}
	return lines
}

// doseRows draws them.
func doseRows(sh *sheet, y int, lines []string, l Look) {
	if len(lines) > 0 {
		sh.text(1, y, faint, "dose")
	}
	for i, line := range lines {
		sh.fit(9, y+i, l.W-9, plain, line)
	}
}

// doseShort is the one line of a narrow screen: the blade and the band of its hardness.
func doseShort(s control.Snapshot, l Look) string {
	var parts []string
	if s.HasBlade {
		parts = append(parts, "modelled blade "+strings.ReplaceAll(s.Blade.Text(l.Unit, 0), " ", ""))
	}
	if e := s.Dose.Ends(); e != "" {
		parts = append(parts, e+" HRC")
	}
	return strings.Join(parts, " · ")
}

// folded breaks a text into lines of at most w cells, between words.
func folded(text string, w int) []string {
	var lines []string
	line := ""
	const kept = "\x00°" // a figure keeps its unit
	for _, word := range strings.Fields(strings.ReplaceAll(text, " °", kept)) {
		word = strings.ReplaceAll(word, kept, " °")
		if line != "" && len([]rune(line))+1+len([]rune(word)) > w {
			lines, line = append(lines, line), ""
		}
		line = strings.TrimSpace(line + " " + word)
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
