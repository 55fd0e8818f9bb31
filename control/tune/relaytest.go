package tune

import "math"

// Guards of a relay test that was recorded. Twice what the state machine Relay asks of its own
// swings, because a record may be anyone's; except wholeShare (reference study).
const (
	evenLength  = 0.1  // relative difference of two periods
	evenHeight  = 0.2  // relative difference of two amplitudes
	wanderShare = 0.05 // of a swing's height that the drift before it must come to; ours
	wholeShare  = 0.05 // of the duty's moves that must be left over for a static gain
)

// swing is one whole period of a relay test: samples from..to of the record, the duty high
// until off.
type swing struct{ from, off, to int }

// RelayTest identifies from a record in which the duty stays at one level and then switches
// between one above and one below it, for at least two whole periods after the first switch.
// The error is a *Refusal.
func RelayTest(r Record) (Found, error) {
	r, ls, err := r.relayPart()
	if err != nil {
		return Found{}, err
	}
	if err := r.check(); err != nil {
		return Found{}, err
	}
	f := Found{Test: "relay test"}
	f.Sigma, f.LSB = r.Noise()
	up := 1 // the first stretch of more heat: what falls before it was told to
	if ls[1].duty < ls[0].duty {
		up = 2
	}
	if err := r[ls[up].first:].checkDoor(f.Sigma, doorRelay); err != nil {
		return Found{}, err
	}
	u0 := ls[0].duty
	hi, lo := max(ls[1].duty, ls[2].duty)-u0, u0-min(ls[1].duty, ls[2].duty)
	swings := r.swings(ls)
	if len(swings) < 2 {
		return Found{}, refuse(TooShort, "the relay test has %d whole periods; 2 are needed",
			len(swings))
	}
	if err := f.even(r, swings); err != nil {
		return Found{}, err
	}
	k, hasK := r.staticGain(ls[1].first, swings, u0)
	guess := r.cycleGuess(swings, k, hasK, hi, lo)
	f.Checks = guess[1:]
	first := guess[len(guess)-1].Model
	// A wander that is not there would take the place of T, which swings tell badly as it is.
	_, top, bottom := r.extremes(swings[len(swings)-1])
	base := r[:ls[1].first+1]
	_, drift, se := line(base, f.Sigma)
	span := r[len(r)-1].T - r[0].T
	wanders := len(base) >= minSamples/3 && math.Abs(drift) > 2*se &&
		math.Abs(drift)*span > wanderShare*(top-bottom)
	if err := f.identify(newCourse(r, u0, wanders), first, 2*(top-bottom)); err != nil {
		return Found{}, err
	}
	return f, nil
}

// relayPart cuts a record to its first level and the two that alternate after it.
func (r Record) relayPart() (Record, []level, error) {
	if len(r) < minSamples {
		return nil, nil, r.check()
	}
	ls := r.levels()
	if len(ls) < 3 {
		return nil, nil, refuse(NoTest,
			"a relay test switches the duty to and fro; this record has %d moves", len(ls)-1)
	}
	u0, a, b := ls[0].duty, ls[1].duty, ls[2].duty
	if !(min(a, b) < u0 && u0 < max(a, b)) {
		return nil, nil, refuse(NoTest,
			"a relay test switches between a duty above and one below the first one")
	}
	n := len(ls)
	for i := 3; i < len(ls); i++ {
		if math.Abs(ls[i].duty-ls[i-2].duty) > sameDuty {
			n = i
			break
		}
	}
	if n < len(ls) {
		r = r[:ls[n].first]
	}
	return r, ls[:n], nil
}

// swings gives the whole periods from the second switch on: the first stretch began at rest.
func (r Record) swings(ls []level) []swing {
	var out []swing
	for i := 2; i+2 < len(ls); i++ {
		if ls[i].duty > ls[i+1].duty {
			out = append(out, swing{ls[i].first, ls[i+1].first, ls[i+2].first})
		}
	}
	return out
}

// extremes gives the length of a period, s, and its extremes, °C, each the mean over a thirtieth
// of the period so that noise counts less.
func (r Record) extremes(s swing) (length, up, down float64) {
	up, down = math.Inf(-1), math.Inf(1)
	n := min(max(3, (s.to-s.from)/30), s.to-s.from)
	sum := 0.0
	for i := s.from; i < s.to; i++ {
		sum += r[i].Y
		if i >= s.from+n {
			sum -= r[i-n].Y
		}
		if i >= s.from+n-1 {
			up, down = max(up, sum/float64(n)), min(down, sum/float64(n))
		}
	}
	return r[s.to].T - r[s.from].T, up, down
}

// even refuses swings that are too small or do not repeat.
func (f *Found) even(r Record, swings []swing) error {
	p0, up0, down0 := r.extremes(swings[len(swings)-2])
	p1, up1, down1 := r.extremes(swings[len(swings)-1])
	a0, a1 := up0-down0, up1-down1
	switch {
	case a1 < minRise:
		return refuse(TooSmall, "the reading swings by %.1f °C; at least %.0f °C are needed", a1,
			minRise)
	case f.LSB > 2*f.Sigma && a1 < 6*f.LSB:
		return refuse(Coarse, "the reading swings by %.1f °C and is rounded to %.2f °C", a1, f.LSB)
	case a1 < 6*f.Sigma:
		return refuse(Noisy, "the reading swings by %.1f °C and its noise is %.2f °C", a1, f.Sigma)
	case math.Abs(p1-p0) > evenLength*p0:
		return refuse(NotPeriodic, "the last two periods took %.0f s and %.0f s", p0, p1)
	case math.Abs(a1-a0) > evenHeight*a0+2*f.Sigma:
		return refuse(NotPeriodic, "the last two swings were %.1f °C and %.1f °C high", a0, a1)
	case math.Abs(up1+down1-up0-down0)/2 > a1/4:
		return refuse(Wanders, "the middle of the swings moved by %.1f °C in a period",
			math.Abs(up1+down1-up0-down0)/2)
	}
	return nil
}

// staticGain is the integral of the reading over that of the duty, each from where it was at
// rest, over whole periods (Shen, Wu and Yu 1996; formula read in a code). It is off where the
// oven still drifts. false where the duty's moves nearly cancel.
func (r Record) staticGain(first int, swings []swing, u0 float64) (k float64, ok bool) {
	y0, _, _ := line(r[:first+1], 0)
	sy, su, moved := 0.0, 0.0, 0.0
	for i := swings[0].from; i < swings[len(swings)-1].to; i++ {
		h := r[i+1].T - r[i].T
		sy += h * ((r[i].Y+r[i+1].Y)/2 - y0)
		su += h * (r[i].Duty - u0)
		moved += h * math.Abs(r[i].Duty-u0)
	}
	return sy / su, math.Abs(su) > wholeShare*moved && sy/su > 0
}

// cycleGuess makes models of the mean swing: by both formulas if a static gain is known, and a
// rough one by the slope otherwise; the last is the one to start from.
func (r Record) cycleGuess(swings []swing, k float64, hasK bool, hi, lo float64) []Check {
	on, off, amplitude, eps := 0.0, 0.0, 0.0, 0.0
	n := float64(len(swings))
	for _, s := range swings {
		on += (r[s.off].T - r[s.from].T) / n
		off += (r[s.to].T - r[s.off].T) / n
		_, up, down := r.extremes(s)
		amplitude += (up - down) / 2 / n
		eps += (r[s.off].Y - r[s.from].Y) / 2 / n
	}
	rough := Model{Kind: First, L: (on + off) / 6, T: 4 * (on + off)}
	out := []Check{{"length of the swings", rough}}
	if !hasK {
		return out
	}
	eps = max(0, eps)
	if _, m, ok := NormalDelay(k, on, off, hi, lo, eps); ok {
		out = append(out, Check{"normalised delay", m})
	}
	if m, ok := FromCycle(k, on, off, hi, lo, eps); ok {
		out = append(out, Check{"exact swing", m})
	}
	return out
}
