package alarm

import "time"

// State is one alarm at one time. The zero State is a normal alarm.
type State struct {
	Letter   Letter
	Since    time.Duration // when it was last raised; announcing again does not change it
	Silenced bool          // its noise was stopped, which is not an acknowledgement
	Active   bool          // its condition, after the delays
	Until    time.Duration // shelved until; only in G
	Reason   string        // why a person hid it; only in G and I

	turning  bool          // the condition differs from Active
	turnedAt time.Duration // since when
	stood    bool          // Step has seen it in C
	stoodAt  time.Duration // when first
}

// Change is one alarm going from one state to another.
type Change struct {
	Code     string
	From, To Letter
}

// Step takes the conditions at now, each the plain truth without a delay, and gives what
// changed, nil if nothing. states and conditions have the length and order of the table, or
// Step panics. now never runs backwards. While an alarm that another depends on is active,
// the other rests: its condition is not known, so that it neither rises nor falls.
func Step(t Table, states []State, now time.Duration, conditions []bool) []Change {
	var out []Change
	for i := range t {
		d, s := &t[i], &states[i]
		if t.rests(i, states) {
			s.turning = false
		} else if s.settle(d, now, conditions[i]) {
			ev := condFalse
			if s.Active {
				ev = condTrue
			}
			out = s.apply(d, ev, now, out)
		}
		if s.Letter == G && now >= s.Until {
			out = s.apply(d, shelfExpired, now, out)
		}
		if s.Letter != C || d.Realarm <= 0 {
			continue
		}
		if !s.stood {
			s.stood, s.stoodAt = true, now
		} else if now-s.stoodAt >= d.Realarm {
			out = s.apply(d, realarm, now, out)
		}
	}
	return out
}

// rests reports whether something that row i depends on is active. An alarm that latches
// never rests.
func (t Table) rests(i int, states []State) bool {
	if t[i].Latching {
		return false
	}
	for _, code := range t[i].DependsOn {
		if at := t.Index(code); at >= 0 && states[at].Active {
			return true
		}
	}
	return false
}

// settle takes the plain condition and reports whether the delayed one turned.
func (s *State) settle(d *Declaration, now time.Duration, condition bool) bool {
	if condition == s.Active {
		s.turning = false
		return false
	}
	if !s.turning {
		s.turning, s.turnedAt = true, now
	}
	delay := d.OnDelay
	if s.Active {
		delay = d.OffDelay
	}
	if now-s.turnedAt < delay {
		return false
	}
	s.Active, s.turning = condition, false
	return true
}

// apply lets an event happen and adds the change, if there is one, to out.
func (s *State) apply(d *Declaration, ev event, now time.Duration, out []Change) []Change {
	from := s.Letter
	to := d.next(from, ev, s.Active)
	if to == from {
		return out
	}
	s.Letter, s.stood = to, false
	if to == B {
		s.Silenced = false
	}
	if to == B && ev != realarm || from == A && to == C {
		s.Since = now
	}
	if to != G {
		s.Until = 0
	}
	if to != G && to != I {
		s.Reason = ""
	}
	return append(out, Change{Code: d.Code, From: from, To: to})
}

// Sounding reports whether there is an alarm to make a noise for: unacknowledged, standing and
// not silenced.
func Sounding(states []State) bool {
	for i := range states {
		if states[i].Letter == B && !states[i].Silenced {
			return true
		}
	}
	return false
}
