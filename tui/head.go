package tui

import (
	"fmt"
	"strings"
	"time"

	"strawline/control"
)

// head is the one line of what and where. What does not fit is left out from the end, but
// never SIMULATED and REPLAY, which stand first.
func head(sh *sheet, y int, s control.Snapshot, l Look) {
	x := 0
	if s.Info.Simulated {
		x = sh.text(x, y, strong, "SIMULATED") + 2
	}
	if l.Replay != nil {
		x = sh.text(x, y, strong, "REPLAY") + 2
	}
	clock := s.Wall.Format("15:04:05")
	if l.W < 60 {
		clock = s.Wall.Format("15:04")
	}
	if names := ShelfNames(s); names != "" && l.Page != Dashboard && l.Page != BigDigits &&
		l.Page != AlarmList { // those have a line for it
		if l.W < 60 && l.Replay != nil { // no room for both
			clock = ""
		}
		x = sh.fit(x, y, l.W-x-len(clock)-2, strong, names) + 2
	}
	step := fmt.Sprintf("step %d of %d", s.Step+1, len(s.Steps))
	if l.W < 60 {
		step = fmt.Sprintf("%d/%d", s.Step+1, len(s.Steps))
	}
	if st, ok := here(s); ok && l.W >= 80 {
		step += ", " + stepWords(st, l.Unit)
		if st.Cycle > 0 {
			step += fmt.Sprintf(", cycle %d", st.Cycle)
		}
	}
	link := "link " + s.Link
	if l.Transport != "" && l.W >= 110 {
		link += " (" + l.Transport + ")"
	}
	name := s.Info.Profile.Name
	if l.W >= 120 && s.Info.Profile.Title != "" {
		name = s.Info.Profile.Title
	}
	if l.W >= 150 && s.Info.Shop.Oven != "" {
		link = s.Info.Shop.Oven + "  " + link
	}
	tail := clock + "  " + link
	if l.W < 80 && (s.Link == "up" || l.W-x < 30) {
		tail = clock
	}
	room := l.W - x - len([]rune(tail)) - 2
	rest := name + "  " + step
	if len([]rune(rest)) > room { // the step says more than the name
		rest = shorten(name, max(0, room-len([]rune(step))-2)) + "  " + step
	}
	sh.fit(x, y, room, plain, strings.TrimSpace(rest))
	sh.text(l.W-len([]rune(tail)), y, plain, tail)
}

// details is one line of what a person may want to know but need not watch.
func details(sh *sheet, y int, s control.Snapshot, l Look) {
	var parts []string
	if s.Stay > s.T {
		parts = append(parts, "staying here for "+spoken(s.Stay-s.T)+" more")
	}
	if !s.HasTemp || s.Doubt != "" {
		if s.Doubt != "" {
			parts = append(parts, "heat is away: "+s.Doubt)
		}
	}
	if s.Unlike != "" {
		parts = append(parts, s.Unlike)
	}
	if s.Phase != control.PhaseRunning && s.Why != "" {
		parts = append(parts, string(s.Phase)+": "+s.Why)
	}
	if len(s.Latches) > 0 {
		parts = append(parts, "board latches: "+strings.Join(s.Latches, ", "))
	}
	proof, due := s.Info.ProofWords(s.Wall)
	if due {
		parts = append(parts, proof)
	}
	if s.SoakOver > 0 {
		parts = append(parts, "over the band "+watch(s.SoakOver))
	}
	if s.Gaps > 0 {
		parts = append(parts, fmt.Sprintf("gaps %d, %s", s.Gaps, watch(s.Gap)))
	}
	if s.Doubts > 0 {
		parts = append(parts, fmt.Sprintf("doubts %d", s.Doubts))
	}
	for i, c := range s.Channels {
		if i == s.Lead() || c.Role == "" {
			continue
		}
		v := c.Fault
		if c.Good {
			v = whole(c.Temp, l.Unit)
		}
		parts = append(parts, c.Role+" "+v)
	}
	if proof != "" && !due {
		parts = append(parts, proof)
	}
	if s.Info.Gains.From != "" && !s.Info.Shop.NoHeater {
		if s.Law != "" && s.Phase == control.PhaseRunning {
			parts = append(parts, "law: "+s.Law)
		}
		from := s.Gains.From
		if from == "" {
			from = s.Info.Gains.From
		}
		parts = append(parts, "gains: "+from)
	}
	if b := s.Info.Blade; b != nil && b.From != "" {
		parts = append(parts, "blade's model: "+b.From)
	}
	k := faint
	if due && s.Info.Shop.Proofs.Failed() {
		k = strong
	}
	sh.fit(1, y, l.W-1, k, strings.Join(parts, " · "))
}

// answerable cuts a question that is too long before its y/n, and what is being typed in front.
func answerable(t string, w int) string {
	const how = "y/n"
	if r := []rune(t); len(r) > w && w > 1 && strings.HasSuffix(t, typedEnd) {
		return "…" + string(r[len(r)-w+1:])
	}
	if len([]rune(t)) <= w || !strings.HasSuffix(t, how) {
		return t
	}
	return shorten(strings.TrimSuffix(t, how), w-len(how)-1) + " " + how
}

// say is the line of a question, of the answer to a key, or of the replay's state.
func say(sh *sheet, y int, l Look) {
	switch {
	case l.Say != "" && l.Asking:
		sh.fit(0, y, l.W, strong, answerable("? "+l.Say, l.W))
	case l.Say != "":
		sh.fit(0, y, l.W, plain, "  "+l.Say)
	case l.Replay != nil:
		p := l.Replay
		word := "paused"
		if p.Playing {
			word = "playing"
		}
		sh.fit(0, y, l.W, plain, fmt.Sprintf("  %s %gx  %s of %s  file time %s", word, p.Speed,
			watch(p.At), watch(p.Length), p.Wall.Format(time.DateTime)))
	}
}
