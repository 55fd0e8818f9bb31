package tune

import (
	"errors"
	"math"
)

// relayMoves is how many moves of the duty make a stretch worth trying as a relay test: two
// whole periods after the first switch.
const relayMoves = 6

// Identify looks for a test in a whole run and gives what it found: a relay test if there is
// one, else a step test, else the cold start. The error joins the refusals of what was tried.
func Identify(r Record) (Found, error) {
	var refusals []error
	if part := r.findRelay(); part != nil {
		f, err := RelayTest(part)
		if err == nil {
			return f, nil
		}
		refusals = append(refusals, err)
	}
	if part := r.findStep(); part != nil {
		f, err := StepTest(part)
		if err == nil {
			return f, nil
		}
		refusals = append(refusals, err)
	}
	f, err := ColdStart(r)
	if err == nil {
		return f, nil
	}
	return Found{}, errors.Join(append(refusals, err)...)
}

// findRelay gives the stretch with the most switches between two duties around the one before;
// nil if there is none. The one before must have stayed for a while.
func (r Record) findRelay() Record {
	ls := r.levels()
	from, to, most := 0, 0, relayMoves-1
	for i := 0; i+2 < len(ls); i++ {
		a, b := ls[i+1].duty, ls[i+2].duty
		around := min(a, b) < ls[i].duty && ls[i].duty < max(a, b)
		if !around || math.Abs(a-b) < minStep || ls[i+1].first-ls[i].first < minSamples/3 {
			continue
		}
		n := i + 3
		for n < len(ls) && math.Abs(ls[n].duty-ls[n-2].duty) <= sameDuty {
			n++
		}
		if n-i-1 > most {
			from, to, most = i, n, n-i-1
		}
	}
	if most < relayMoves {
		return nil
	}
	if to < len(ls) {
		return r[ls[from].first:ls[to].first]
	}
	return r[ls[from].first:]
}

// findStep gives the two neighbouring stretches of one duty each, the first with heat, of which
// the shorter is longest; nil if there is none worth trying.
func (r Record) findStep() Record {
	ls := append(r.levels(), level{first: len(r)})
	best, longest := -1, minSamples/3
	for i := 0; i+2 < len(ls); i++ {
		before, after := ls[i+1].first-ls[i].first, ls[i+2].first-ls[i+1].first
		moved := math.Abs(ls[i+1].duty - ls[i].duty)
		if ls[i].duty > sameDuty && moved >= minStep && min(before, after) > longest {
			best, longest = i, min(before, after)
		}
	}
	if best < 0 {
		return nil
	}
	return r[ls[best].first:ls[best+2].first]
}
