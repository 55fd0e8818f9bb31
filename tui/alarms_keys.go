package tui

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"strawline/control"
	"strawline/control/alarm"
	"strawline/profiles"
)

// alarmBindings are the keys of the page of alarms, those that matter most first.
var alarmBindings = []binding{
	{"a", "a", "acknowledge", "I have seen the alarms"},
	{"p", "p", "shelve", "hide the chosen alarm for a time and a reason; again to bring it back"},
	{"h", "h", "heat off", "heat off at once"},
	{"esc", "esc", "back", "back to the run"},
	{"up", "↑↓", "which", "the alarm above or below"},
	{"enter", "enter", "more", "the whole explanation, and back to the list"},
	{"s", "s", "silence", "silence the alarms that stand"},
	{"r", "r", "reset", "clear latches whose cause is gone"},
}

// alarmKeys is the bottom line of the page.
func alarmKeys(sh *sheet, y int, a *listed, s control.Snapshot, l Look) {
	if typingKeys(sh, y, l) {
		return
	}
	_, noAck := askAcknowledge(s)
	x := 0
	for _, b := range alarmBindings {
		switch {
		case b.key == "h" && l.W < 60, // no room: the way back is before it, and its key works
			b.key == "p" && (l.Replay != nil || !a.Hidable && a.hidden == nil),
			strings.Contains("srh", b.key) && l.Replay != nil,
			b.key == "a" && (noAck != nil || l.Replay != nil),
			b.key == "s" && len(s.Alarms) == 0, b.key == "r" && len(s.Alarms) == 0:
			continue
		case b.key == "p" && a.hidden != nil:
			b.word = "unshelve"
		case b.key == "enter" && l.Pick.Alone:
			b.word = "list"
		case b.key == "up" && l.Pick.Alone:
			b.word = "scroll"
		}
		n := len([]rune(b.show)) + 1 + len([]rune(b.word))
		if x+n > l.W {
			return
		}
		x = sh.text(sh.text(x, y, strong, b.show)+1, y, faint, b.word) + 2
	}
}

// alarmKey takes a key that has to do with the page of alarms; false leaves it to the run.
func (m *Model) alarmKey(name string) bool {
	if m.s.Info == nil {
		return false
	}
	if name == "i" {
		m.flip(AlarmList)
		m.look.Pick = AlarmPick{}
		return true
	}
	if m.look.Page != AlarmList {
		return false
	}
	p := &m.look.Pick
	list, at := picked(m.s, m.look)
	switch name {
	case "up", "down":
		step := 1
		if name == "up" {
			step = -1
		}
		if p.Alone {
			m.scrollAlarm(&list[at], step)
			break
		}
		p.Code = list[max(0, min(at+step, len(list)-1))].Code
	case "enter":
		p.Code, p.Alone, p.Scroll = list[at].Code, !p.Alone, 0
	case "esc":
		if !p.Alone {
			return false
		}
		p.Alone = false
	case "p":
		if m.o.Replay != nil {
			m.tell("what has been is not shelved any more")
			break
		}
		p.Code = list[at].Code // whatever rises meanwhile
		m.shelfKey(&list[at])
	default:
		return false
	}
	return true
}

// scrollAlarm moves an explanation that does not fit.
func (m *Model) scrollAlarm(a *listed, step int) {
	room := m.look.H - 3 - alarmsTop(newSheet(m.look.W, m.look.H), m.s, m.look)
	last := max(0, len(explained(a, m.s, m.look))-room)
	m.look.Pick.Scroll = max(0, min(m.look.Pick.Scroll+step, last))
}

// shelfKey begins to shelve an alarm, or asks whether a shelved one is to come back.
func (m *Model) shelfKey(a *listed) {
	if a.hidden != nil {
		m.q = &question{ask: control.Ask{Kind: control.AskUnshelve, By: "screen", Code: a.Code},
			text: "take " + a.Word + " off the shelf: it may sound again  y/n", moot: basis(m.s)}
		return
	}
	if err := canShelve(a.Code, m.s); err != nil {
		m.tell(err.Error())
		return
	}
	m.typing, m.typed = shelfField, ""
}

// canShelve says why an alarm cannot be shelved now.
func canShelve(code string, s control.Snapshot) error {
	t := alarm.First()
	i := t.Index(code)
	switch {
	case i < 0:
		return errors.New("this alarm is not known")
	case !t[i].Hidable:
		return errors.New(t[i].Word + " " + shelving(&t[i]))
	case s.Phase != control.PhaseRunning:
		return errors.New("not while " + string(s.Phase))
	case hiddenAt(s, code) != nil:
		return errors.New(t[i].Word + " is shelved already")
	}
	return nil
}

// askShelve reads for how long an alarm is to be shelved, and why: "10m the door is open".
func askShelve(typed, code string, s control.Snapshot) (*question, error) {
	span, why, _ := strings.Cut(strings.TrimSpace(typed), " ")
	unit, rest, _ := strings.Cut(strings.TrimSpace(why), " ")
	if strings.Trim(span, "0123456789") == "" && (unit == "m" || unit == "min") { // 10 min why
		span, why = span+unit, rest
	}
	d, err := profiles.ParseSpan(strings.TrimSuffix(strings.ToLower(span), "in"))
	why = strings.TrimSpace(why)
	switch {
	case err != nil:
		return nil, err
	case d <= 0 || d > alarm.MostShelf:
		return nil, fmt.Errorf("%s is no time for a shelf: %s at most", spoken(d),
			spoken(alarm.MostShelf))
	case why == "":
		return nil, errors.New("it needs a reason: write it as 10m the door is open")
	case utf8.RuneCountInString(why) > control.MostReason:
		return nil, fmt.Errorf("a reason has at most %d letters", control.MostReason)
	}
	return &question{ask: control.Ask{Kind: control.AskShelve, By: "screen", Code: code,
			Seconds: d.Seconds(), Text: why}, moot: basis(s),
			text: fmt.Sprintf("shelve %s for %s, %s: no sound, not among the alarms until %s; "+
				"heat and trips as ever  y/n", alarmName(code), spoken(d), why, when(s, s.T+d))},
		canShelve(code, s)
}
