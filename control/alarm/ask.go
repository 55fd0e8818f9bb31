package alarm

import (
	"errors"
	"strings"
	"time"
)

// MostShelf is the longest time an alarm can be shelved for; after it the alarm comes back by
// itself. Our choice.
const MostShelf = 30 * time.Minute

// Why an alarm was not hidden or brought back.
var (
	ErrUnknown    = errors.New("alarm: no alarm has this code")
	ErrNotHidable = errors.New("alarm: this alarm cannot be hidden")
	ErrReason     = errors.New("alarm: hiding an alarm needs a reason")
	ErrUntil      = errors.New("alarm: an alarm is shelved for more than nothing, at most 30 minutes")
	ErrNotNow     = errors.New("alarm: the alarm is not in a state for this")
)

// Acknowledge says that a person has seen every alarm that waits for it.
func Acknowledge(t Table, states []State) []Change {
	var out []Change
	for i := range t {
		out = states[i].apply(&t[i], ack, 0, out)
	}
	return out
}

// Reset lets go of every latch that was acknowledged and whose condition has gone: Step has seen
// it go, and it has not come back in conditions, which has the length of the table.
func Reset(t Table, states []State, conditions []bool) []Change {
	var out []Change
	for i := range t {
		if !conditions[i] {
			out = states[i].apply(&t[i], reset, 0, out)
		}
	}
	return out
}

// Silence stops the noise of the alarms that stand unacknowledged. Their states stay; a new
// occurrence sounds again.
func Silence(states []State) {
	for i := range states {
		if states[i].Letter == B {
			states[i].Silenced = true
		}
	}
}

// Shelve hides an alarm from now until a time at most MostShelf ahead, for a reason. It gives
// ErrUnknown, ErrNotHidable, ErrReason, ErrUntil or ErrNotNow if it did not.
func Shelve(t Table, states []State, code string, now, until time.Duration, reason string) (
	Change, error) {
	if until <= now || until-now > MostShelf {
		return Change{}, ErrUntil
	}
	if strings.TrimSpace(reason) == "" {
		return Change{}, ErrReason
	}
	c, s, err := one(t, states, code, shelve, now)
	if err == nil {
		s.Until, s.Reason = until, reason
	}
	return c, err
}

// Unshelve brings a shelved alarm back at now. It gives ErrUnknown or ErrNotNow if it did not.
func Unshelve(t Table, states []State, code string, now time.Duration) (Change, error) {
	c, _, err := one(t, states, code, unshelve, now)
	return c, err
}

// Suppress hides an alarm where the program knows that it has no meaning. It gives ErrUnknown,
// ErrNotHidable or ErrNotNow if it did not.
func Suppress(t Table, states []State, code string) (Change, error) {
	c, _, err := one(t, states, code, suppress, 0)
	return c, err
}

// Unsuppress brings a suppressed alarm back at now. It gives ErrUnknown or ErrNotNow if it did
// not.
func Unsuppress(t Table, states []State, code string, now time.Duration) (Change, error) {
	c, _, err := one(t, states, code, unsuppress, now)
	return c, err
}

// Remove takes an alarm out of service, for a reason. It gives ErrUnknown, ErrNotHidable,
// ErrReason or ErrNotNow if it did not.
func Remove(t Table, states []State, code, reason string) (Change, error) {
	if strings.TrimSpace(reason) == "" {
		return Change{}, ErrReason
	}
	c, s, err := one(t, states, code, remove, 0)
	if err == nil {
		s.Reason = reason
	}
	return c, err
}

// Return brings an alarm back into service at now. It gives ErrUnknown or ErrNotNow if it did
// not.
func Return(t Table, states []State, code string, now time.Duration) (Change, error) {
	c, _, err := one(t, states, code, giveBack, now)
	return c, err
}

// one lets an event happen to one alarm.
func one(t Table, states []State, code string, ev event, now time.Duration) (
	Change, *State, error) {
	i := t.Index(code)
	if i < 0 {
		return Change{}, nil, ErrUnknown
	}
	hides := ev == shelve || ev == suppress || ev == remove
	if hides && !t[i].canHide() {
		return Change{}, nil, ErrNotHidable
	}
	from := states[i].Letter
	if t[i].next(from, ev, states[i].Active) == from {
		return Change{}, nil, ErrNotNow
	}
	states[i].apply(&t[i], ev, now, nil)
	return Change{Code: code, From: from, To: states[i].Letter}, &states[i], nil
}
