package tui

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"strawline/control"
)

// loopBindings are the keys of the gains page, those that matter most first.
var loopBindings = []binding{
	{"esc", "esc", "back", "back to the run, nothing changed"},
	{"c", "c", "take", "ask for the next gains"},
	{"up", "↑↓", "which", "the figure above or below"},
	{"right", "←→", "less, more", "a tenth less or more"},
	{"1", "1", "recommended", "the gains that the model recommends"},
	{"2", "2", "bolder", "faster, with less left for an oven that changes"},
	{"3", "3", "calmer", "slower"},
	{"0", "0", "as now", "as they are"},
	{"u", "u", "undo", "take back the last change that was taken"},
	{"w", "w", "all rules", "every rule and what the model makes of it; again for the chart"},
	{"h", "h", "heat off", "heat off at once"},
}

// openLoop shows the gains page with the gains of now.
func (m *Model) openLoop() {
	if m.look.Page == LoopGains {
		m.look.Page = Dashboard
		return
	}
	m.look.Page = LoopGains
	m.loop = Loop{Next: m.s.Gains}
	m.loop.work(m.s)
}

// loopKey takes a key on the gains page; false leaves it to the run.
func (m *Model) loopKey(name string) bool {
	l := &m.loop
	if m.o.Replay != nil && name != "w" {
		return false
	}
	switch name {
	case "up":
		l.Row = (l.Row + 3) % 4
	case "down":
		l.Row = (l.Row + 1) % 4
	case "right", "+", "=":
		l.turn(true)
	case "left", "-":
		l.turn(false)
	case "1", "2", "3":
		if !l.offer(int(name[0] - '1')) {
			m.tell("without a model there is nothing to offer")
		}
	case "0":
		l.Next = m.s.Gains
	case "w":
		l.Table = !l.Table
	case "c", "enter":
		m.put(askGains(l, m.s, m.look))
	default:
		return false
	}
	l.work(m.s)
	return true
}

// askGains makes the question of the next gains.
func askGains(l *Loop, s control.Snapshot, look Look) (*question, error) {
	if l.Next == s.Gains {
		return nil, errors.New("these are the gains of now")
	}
	if s.Info.Shop.Contactor != nil {
		return nil, errors.New("a contactor goes by its deadband: it has no gains")
	}
	g := l.Next
	r := gainRows(g, look.Unit)
	text := fmt.Sprintf("gains become Kp %s, Ti %s, Td %s, weight %s", r[0], r[1], r[2], r[3])
	if l.Why == "" && !l.Will.report.Margins.Stable {
		text = "BY THE MODEL IT WILL SWING: " + text
	}
	return &question{ask: control.Ask{Kind: control.AskGains, By: "screen", Gains: &g},
		text: text + "; u takes them back  y/n", moot: basis(s)}, running(s)
}

// askDuty reads a duty by hand: "20% 5m", or "0" to give it back.
func askDuty(typed string, s control.Snapshot) (*question, error) {
	q := &question{ask: control.Ask{Kind: control.AskDuty, By: "screen"}, moot: basis(s)}
	t := strings.Fields(strings.ToLower(strings.ReplaceAll(typed, "%", " ")))
	if len(t) == 3 && t[1] == "for" {
		t = []string{t[0], t[2]}
	}
	if len(t) != 2 {
		return nil, fmt.Errorf("%q is not a duty and a time: write it as 20%% 5m", typed)
	}
	duty, err := strconv.ParseFloat(t[0], 64)
	if err != nil || !(duty >= 0 && duty <= 100) {
		return nil, fmt.Errorf("%q is no duty from 0 to 100 %%", t[0])
	}
	d, err := time.ParseDuration(strings.TrimSuffix(t[1], "in"))
	if err != nil || d <= 0 || d > control.HandAtMost {
		return nil, fmt.Errorf("%q is no time up to %s", t[1], spoken(control.HandAtMost))
	}
	q.ask.DutyPM, q.ask.Seconds = int(duty*10+0.5), d.Seconds()
	q.text = fmt.Sprintf("duty by hand: %.1f %% for %s, then the law has it again; "+
		"limits as ever  y/n", float64(q.ask.DutyPM)/10, spoken(d))
	return q, running(s)
}

// backDuty gives a duty by hand back.
func backDuty(s control.Snapshot) *question {
	return &question{ask: control.Ask{Kind: control.AskDuty, By: "screen"},
		text: "the law takes the duty again  y/n", moot: basis(s)}
}
