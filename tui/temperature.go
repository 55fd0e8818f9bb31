package tui

import (
	"strings"

	"strawline/control"
	"strawline/tui/digits"
)

// temperature draws the big digits and gives the column behind them. Without a good reading
// they are dashes; while an alarm stands they are turned inside out.
func temperature(sh *sheet, y, h int, s control.Snapshot, l Look) int {
	rows := digits.Figure(figure(s, l), l.W-1, h)
	if standing(s) != nil || s.Phase == control.PhaseTripped || l.Quiet > 0 {
		rows = digits.Invert(rows)
	} else {
		y++ // the place that an inverted field needs above
	}
	if len(rows) == 0 {
		return 0
	}
	sh.rows(1, y, plain, rows)
	return 1 + len([]rune(rows[0]))
}

// figure is what the big digits show. A narrow screen leaves the unit to the plates.
func figure(s control.Snapshot, l Look) string {
	if !s.HasTemp || l.Quiet > 0 {
		return "---"
	}
	text := strings.ReplaceAll(whole(s.Temp, l.Unit), " ", "")
	if l.W < 60 {
		text = strings.TrimRight(text, "FC")
	}
	return text
}

// colourStrip is the thin strip under the digits, with the name of its colour.
func colourStrip(sh *sheet, y, w int, s control.Snapshot, l Look) {
	if !s.HasTemp || l.Quiet > 0 {
		sh.fit(1, y, l.W-1, plain, "no good reading: "+fault(s))
		return
	}
	name, note, hex := steelColour(s.Temp, l.Unit)
	gap := 3
	if l.W < 80 { // the name matters more than the strip's length
		w, gap = 9, 1
		note = "by the air"
	}
	for x := 1; x < w; x++ {
		if hex != "" {
			sh.put(x, y, '▄', strip)
		} else {
			sh.put(x, y, '▁', faint)
		}
	}
	x := sh.fit(w+gap, y, l.W-w-gap, plain, name)
	sh.fit(x, y, l.W-x, faint, ", "+note)
}
