package alarm

// Letter is a state of ISA-18.2. The zero Letter is A, normal.
type Letter uint8

// The states.
const (
	A Letter = iota // normal
	B               // stands, not acknowledged
	C               // stands, acknowledged
	D               // gone, not acknowledged
	E               // gone but latched, not acknowledged
	F               // gone but latched, acknowledged
	G               // shelved by a person for a time
	H               // suppressed by the program where it has no meaning
	I               // out of service
)

// letters is how many states there are.
const letters = I + 1

// String gives the letter.
func (l Letter) String() string {
	if l >= letters {
		return "?"
	}
	return "ABCDEFGHI"[l : l+1]
}

// Stands reports whether the alarm is in front of a person: B to F.
func (l Letter) Stands() bool { return l >= B && l <= F }

// event is what can happen to an alarm.
type event uint8

const (
	condTrue event = iota
	condFalse
	ack
	reset
	realarm
	shelve
	unshelve
	shelfExpired
	suppress
	unsuppress
	remove
	giveBack
	events // how many there are
)

// next gives the state after an event; the same state where the event does nothing. cond is
// the condition as it is after its delays.
func (d *Declaration) next(l Letter, ev event, cond bool) Letter {
	switch ev {
	case condTrue:
		return d.rises(l)
	case condFalse:
		return d.falls(l)
	case ack:
		return acknowledged(l)
	case reset:
		if l == F {
			return A
		}
	case realarm:
		if l == C && d.NeedsAck {
			return B
		}
	case shelve:
		return d.hide(l, G)
	case suppress:
		return d.hide(l, H)
	case remove:
		return d.hide(l, I)
	case unshelve, shelfExpired:
		return back(l, G, cond)
	case unsuppress:
		return back(l, H, cond)
	case giveBack:
		return back(l, I, cond)
	}
	return l
}

func (d *Declaration) rises(l Letter) Letter {
	switch l {
	case A:
		if !d.NeedsAck {
			return C
		}
		return B
	case D, E, F: // a new occurrence announces again
		return B
	}
	return l
}

func (d *Declaration) falls(l Letter) Letter {
	switch {
	case l == B && d.Latching:
		return E
	case l == B:
		return D
	case l == C && d.Latching:
		return F
	case l == C:
		return A
	}
	return l
}

func acknowledged(l Letter) Letter {
	switch l {
	case B:
		return C
	case D:
		return A
	case E:
		return F
	}
	return l
}

// hide goes to G, H or I from any state before it in the alphabet.
func (d *Declaration) hide(l, to Letter) Letter {
	if l < to && d.canHide() {
		return to
	}
	return l
}

// back comes from a hidden state as if the alarm were new.
func back(l, from Letter, cond bool) Letter {
	switch {
	case l != from:
		return l
	case cond:
		return B
	}
	return A
}
