package tui

import (
	"fmt"
	"strings"

	"strawline/control"
	"strawline/probe/temp"
	"strawline/profiles"
)

// stepsStrip shows the steps side by side: done █, the present one filling up, ahead ░.
func stepsStrip(sh *sheet, y int, s control.Snapshot, l Look) {
	n := len(s.Steps)
	if n == 0 {
		return
	}
	w := min(24, (l.W-1)/n)
	for _, st := range s.Steps { // a label that is cut might show a wrong number
		w = max(w, len([]rune(stripWords(st, l.Unit)))+1)
	}
	shown := min(n, (l.W-1)/w)
	first := min(max(0, s.Step-shown/2), n-shown)
	over := s.Phase == control.PhaseEnded || s.Phase == control.PhaseClosed
	for i := range shown {
		k := first + i
		x, st := 1+i*w, s.Steps[k]
		mark, label := '░', faint
		switch {
		case k < s.Step || k == s.Step && over && k == n-1:
			mark, label = '█', plain
		case k == s.Step:
			mark, label = '▒', strong
		}
		full := 0
		if k == s.Step && st.Kind == profiles.Soak && st.For > 0 {
			full = int(float64(w-1) * min(1, float64(s.SoakDone)/float64(st.For)))
		}
		for j := range w - 1 {
			m := mark
			if k == s.Step && j < full {
				m = '█'
			}
			sh.put(x+j, y, m, label)
		}
		text := stripWords(st, l.Unit)
		if k == s.Step && !over {
			text = "▲" + text
			if len([]rune(text)) > w-1 {
				text = strings.ReplaceAll(text, " ", "")
			}
		}
		sh.fit(x, y+1, w-1, label, text)
	}
	if first > 0 {
		sh.put(0, y, '<', plain)
	}
	if first+shown < n {
		sh.put(l.W-1, y, '>', plain)
	}
}

func stripWords(st profiles.Step, u temp.Unit) string {
	switch st.Kind {
	case profiles.Ramp:
		return fmt.Sprintf("ramp %.0f", st.To.In(u))
	case profiles.Cool:
		return fmt.Sprintf("cool %.0f", st.To.In(u))
	case profiles.Soak:
		return "soak " + strings.ReplaceAll(strings.ReplaceAll(spoken(st.For), " h", "h"), " min", "m")
	}
	return st.Kind.String()
}
