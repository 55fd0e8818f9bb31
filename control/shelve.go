package control

import (
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"strawline/control/alarm"
)

// MostReason is the longest reason for shelving an alarm, in letters: with the alarm's word and
// the time left it is to fit a line. Our choice.
const MostReason = 60

// leastShelf is the shortest time on the shelf. Our choice.
const leastShelf = time.Second

// shelve hides an alarm for a time, and nothing else: the alarm's condition is looked at as ever,
// and neither duty nor trips ask for an alarm's state.
func (e *Engine) shelve(a Ask) string {
	reason := strings.Join(strings.FieldsFunc(a.Text, func(r rune) bool {
		return unicode.IsSpace(r) || !unicode.IsPrint(r)
	}), " ")
	d := time.Duration(a.Seconds * float64(time.Second))
	switch {
	case e.phase != PhaseRunning:
		return "only while the run goes on"
	case !(a.Seconds >= leastShelf.Seconds() && a.Seconds <= alarm.MostShelf.Seconds()):
		return "shelve for 1 s to 30 min" // in seconds: a duration wraps
	case utf8.RuneCountInString(reason) > MostReason:
		return fmt.Sprintf("the reason has more than %d letters", MostReason)
	}
	c, err := alarm.Shelve(e.table, e.alarms, a.Code, e.now, e.now+d, reason)
	if err != nil {
		return e.shelfWords(a.Code, err)
	}
	e.emit(Event{Kind: EvAlarm, Code: c.Code, Word: c.To.String(), Text: reason,
		SpanS: ptr(round(d.Seconds(), 1000))})
	return ""
}

func (e *Engine) unshelve(code string) string {
	c, err := alarm.Unshelve(e.table, e.alarms, code, e.now)
	if errors.Is(err, alarm.ErrNotNow) {
		return e.table[e.table.Index(code)].Word + " is not shelved"
	}
	if err != nil {
		return e.shelfWords(code, err)
	}
	e.backs([]alarm.Change{c}, "a person took it off the shelf")
	return ""
}

// shelfWords says in one line why an alarm was not hidden.
func (e *Engine) shelfWords(code string, err error) string {
	i := e.table.Index(code)
	switch {
	case i < 0:
		return fmt.Sprintf("no alarm is called %q", code)
	case errors.Is(err, alarm.ErrNotHidable):
		return e.table[i].Word + " cannot be shelved"
	case errors.Is(err, alarm.ErrNotNow):
		return e.table[i].Word + " is shelved already"
	case errors.Is(err, alarm.ErrReason):
		return "shelving an alarm needs a reason"
	}
	return strings.TrimPrefix(err.Error(), "alarm: ")
}

// unshelveAll brings back what is shelved: a person chose to do without it for what the run was
// doing then, and that is over.
func (e *Engine) unshelveAll(why string) {
	for i := range e.alarms {
		if e.alarms[i].Letter != alarm.G {
			continue
		}
		if c, err := alarm.Unshelve(e.table, e.alarms, e.table[i].Code, e.now); err == nil {
			e.backs([]alarm.Change{c}, why)
		}
	}
}

// backs tells of alarms that changed; why is said of those that were hidden before.
func (e *Engine) backs(cs []alarm.Change, why string) {
	for _, c := range cs {
		ev := Event{Kind: EvAlarm, Code: c.Code, Word: c.To.String()}
		if hides(c.From.String()) {
			ev.From, ev.Text = c.From.String(), why
		}
		e.emit(ev)
	}
}
