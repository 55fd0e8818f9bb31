package tui

import (
	"strings"

	"strawline/control"
	"strawline/tui/digits"
)

type plate struct {
	label, value string
	k            style
}

// soakLeft writes the soak countdown; a dash outside a soak.
func soakLeft(s control.Snapshot) string {
	if s.Soak == control.SoakNone {
		return "–"
	}
	return watch(s.SoakLeft)
}

// soakWord says what the soak clock does.
func soakWord(s control.Snapshot) string {
	switch s.Soak {
	case control.SoakBefore:
		return "not yet in the band"
	case control.SoakCounting:
		return "counting"
	case control.SoakPaused:
		return "paused"
	case control.SoakOver:
		return "over, not credited"
	}
	return ""
}

func plateList(s control.Snapshot, l Look) []plate {
	set, drift := "–", "–"
	if s.HasSet {
		set = s.Set.Text(l.Unit, 0)
		if s.HasTemp && l.Quiet == 0 {
			drift = s.Temp.Sub(s.Set).Text(l.Unit, 1)
		}
	}
	if s.Info.Test != nil {
		left := "–"
		if d := testLeft(s); d > 0 {
			left = watch(d)
		}
		return []plate{{"set", set, plain}, {"drift", drift, plain}, {"at most", left, plain},
			{"duty", dutyWords(s), plain}}
	}
	return []plate{{"set", set, plain}, {"drift", drift, plain},
		{"soak left", strings.TrimSpace(soakLeft(s) + " " + soakWord(s)), plain},
		{"duty", dutyWords(s), plain}}
}

// short fits a plate into a narrow screen; a value that is still too long goes without its
// label, which it then says itself.
func (p plate) short(s control.Snapshot, room int) plate {
	p.label = strings.TrimPrefix(p.label, "soak ")
	p.value = strings.ReplaceAll(p.value, " °", "°")
	if p.value != "off commanded" {
		p.value = strings.TrimSuffix(p.value, " commanded")
	}
	if p.label == "at most" {
		p.label = "most"
	} else if p.label == "left" {
		p.value = soakLeft(s)
		if s.Soak == control.SoakPaused || s.Soak == control.SoakOver {
			p.value += " " + string(s.Soak)
		}
	}
	if p.value == "you hold the heat" {
		p.value = "heat by hand"
	}
	if len([]rune(p.value)) > room {
		p.label = ""
	}
	return p
}

// plates writes the four numbers beside the big one, and under or over them the word of what
// is abnormal. Where there is room the soak countdown, or the alarm's word, stands large.
func plates(sh *sheet, x, y, h int, s control.Snapshot, l Look) {
	word, k := shout(s, l.Quiet)
	if word != "" {
		mark := "!! "
		if k == warned {
			mark = "! "
		}
		if l.W >= 60 {
			mark, word = " "+mark, word+" "
		}
		sh.fit(x, y, l.W-x, k, mark+word)
	} else if waiting(s) {
		sh.fit(x, y, l.W-x, strong, "YOUR TURN")
	} else if s.Phase == control.PhaseEnded || s.Phase == control.PhaseClosed {
		sh.fit(x, y, l.W-x, strong, "ENDED")
	}
	step, label := 1, 11
	if l.W < 60 {
		label = 6
	}
	if h >= 12 {
		step = 2
	}
	for i, p := range plateList(s, l) {
		row := y + 1 + i*step
		if label == 6 {
			p = p.short(s, l.W-x-label)
		}
		at := x
		if p.label != "" {
			sh.text(x, row, faint, p.label)
			at += label
		}
		sh.fit(at, row, l.W-at, p.k, p.value)
	}
	if s.HasBlade && h >= 6 && l.W >= 80 && 1+4*step < h {
		sh.text(x, y+1+4*step, faint, "modelled blade")
		sh.text(x+label+5, y+1+4*step, plain, s.Blade.Text(l.Unit, 0))
	}
	far := x + label + 32
	if l.W-far < 12 {
		return
	}
	if word != "" {
		sh.rows(far, y, plain, bigWord(word, l.W-far, h))
	} else if s.Info.Test != nil {
		if d := testLeft(s); d > 0 {
			sh.text(far, y, faint, "left at most")
			sh.rows(far, y+1, plain, digits.Figure(watch(d), l.W-far, h-1))
		}
	} else if s.Soak != control.SoakNone {
		sh.text(far, y, faint, "soak left")
		rows := digits.Figure(watch(s.SoakLeft), l.W-far, h-1)
		sh.rows(far, y+1, plain, rows)
	}
}

// bigWord draws a word of alarm large, its words one under the other if they are too wide.
func bigWord(word string, w, h int) []string {
	word = strings.Join(strings.Fields(letters(word)), " ")
	if rows := digits.Word(word, w, h); rows != nil {
		return rows
	}
	parts := strings.Fields(word)
	var out []string
	for _, p := range parts {
		rows := digits.Word(p, w, h/len(parts))
		if rows == nil {
			return nil
		}
		out = append(out, rows...)
	}
	return out
}

// letters keeps what digits.Word can draw.
func letters(t string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == ' ' || r == '-' {
			return r
		}
		return ' '
	}, strings.ToUpper(t))
}
