package tui

import (
	"strings"

	"strawline/control"
	"strawline/tui/digits"
)

// big fills the screen with the digits, and under them the soak countdown or the alarm's word.
func big(sh *sheet, s control.Snapshot, l Look) {
	head(sh, 0, s, l)
	h := l.H
	if len(s.Hidden) > 0 {
		h--
		shelfRow(sh, h-1, s, l)
	}
	low := max(3, (h-4)*3/10)
	top := h - 4 - low
	word, k := shout(s, l.Quiet)
	rows := digits.Figure(figure(s, l), l.W-4, top)
	if standing(s) != nil || s.Phase == control.PhaseTripped || l.Quiet > 0 {
		rows = digits.Invert(rows)
	}
	centre(sh, 1, top+1, rows)
	y := top + 2
	if !s.HasTemp {
		word, k = strings.ToUpper("no reading: "+fault(s)), warned
		if standing(s) != nil {
			k = alarmed
		}
	}
	label := "soak left"
	if s.Soak == control.SoakNone {
		label = nextWords(s, l)
	} else if w := soakWord(s); w != "" {
		label += " (" + w + ")"
	}
	if word != "" && s.Soak != control.SoakNone {
		label = "soak left " + watch(s.SoakLeft)
	}
	sh.fit(max(0, (l.W-len([]rune(label)))/2), y, l.W, plain, label)
	y++
	var under []string
	switch {
	case word != "":
		under = bigWord(word, l.W-2, low)
		if under == nil {
			text := " !! " + word + " !! "
			sh.fit(max(0, (l.W-len([]rune(text)))/2), y+low/2, l.W, k, text)
		}
	case s.Soak != control.SoakNone:
		under = digits.Figure(watch(s.SoakLeft), l.W-4, low)
	default:
		if st, ok := here(s); ok {
			under = digits.Word(letters(st.Kind.String()), l.W-4, low)
		}
	}
	centre(sh, y, low, under)
	if l.Say != "" {
		say(sh, l.H-1, l)
		return
	}
	keys(sh, l.H-1, s, l)
}

// centre puts drawn rows into the middle of h rows from y on.
func centre(sh *sheet, y, h int, rows []string) {
	if len(rows) == 0 {
		return
	}
	for i, row := range rows {
		sh.text(max(0, (sh.w-len([]rune(row)))/2), y+max(0, (h-len(rows))/2)+i, plain, row)
	}
}
