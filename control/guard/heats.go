package guard

// Heat that nobody sent. Our figures: a third of the heater over 40 s, from the
// time on that the model lets what was sent before run out. A shorted switch gives all of it;
// what the model gets wrong of a heat-up gives up to 0.22 of the duty, measured on 200 ovens
// within ±50 % of A and B, and is fading when this looks. Noise: the difference of two means of
// 2 s at 4 readings a second has σ/2, 0.15 °C at σ = 0.3, against a threshold of 0.3 · slope ·
// 40 s, 1.2 °C on an oven of a slope of 0.1 °C/s: 8 σ, 6e-16 a second, in zeroTimes of them;
// 3,600 an hour make 2e-12 an hour, one in 4e11 h. Doors are what matters: see fall.go.
const (
	zeroShare  = 0.3
	zeroWindow = 40 // s
	zeroTimes  = 5  // s in a row
	zeroQuick  = 10 // s, the window far above the setpoint
	zeroSigmas = 3.0
	zeroFar    = 7.0
	zeroAny    = 0.45 // at any duty up to zeroSent: at more, a heater that does well gives as much
	zeroSent   = 0.5
	zeroLate   = 90.0 // s at duty 0, or the dead time, before the first is judged
	zeroFades  = 0.6  // of what came unsent in the window before: it goes away by itself
)

// Heat that does not come. Our figures: less than 0.3 of what was sent in a minute, where the
// heat-ups of 200 ovens showed 0.76 or more, 0.68 with mains 10 % low, and half the heater gives
// 0.4 or more. Noise: at least 2 °C and 9 σ must have been sent, so that a share is known to
// σ/2 / 9 σ = 0.056; from 0.68 down to 0.3 are 6.8 σ, 5e-12 a second, in fourteen seconds in a row:
// below 1e-7 an hour. What is left are doors that show too little to be taken for one.
//
// Weak heat has three ways, each measured on clean ovens and on ovens at half their power:
//   - Two minutes of half the duty or more from rest, a hundred seconds of which bring less than
//     0.65: half the heater brings 0.60 or less, the whole one 0.79 or more, and mains 10 % low
//     0.65 in one of 10,000 runs of 4 h. What comes is in proportion to the duty, so that one
//     share does for all.
//   - Nineteen minutes in which the heat was never away, and the last two and a half of them below
//     0.53: half the heater brings 0.52 or less, a sound one that heats thick walls with low mains
//     less than 0.53 in one of 10,000 runs of 4 h. A cool-down in it would count for its loss,
//     which the model gives badly.
//   - In a soak that was settled for five minutes, less than 0.63 of what came then, for ten.
//
// A cold blade and a door that hardly shows can take a third of the heat for some minutes, and the
// walls half of it in a heat-up: that is why only a rested oven is judged within two minutes. In
// the midst of a heat-up half the heater is told by its twenty minutes: the walls' own share
// falls as fast as that within two (tried: no window tells them apart). 88,000 clean hours of ovens
// within ±50 % of A and B (our bench, seeds 60001 to 60040, 70001 to 70300 and 80001 to 80100) gave
// no false alarm of weak heat, and one false trip of all that this package trips on: heat at zero.
// The rule of the word that stands still changed behind the first 68,000.
const (
	noneShare  = 0.3
	noneWindow = 60 // s
	noneTimes  = 14 // s in a row: a door that hardly shows is over sooner
	noneLeast  = 2.0
	noneLost   = 0.6  // of what the oven loses: below that it is cooling, and faster than the model
	noneIdle   = 20.0 // s at duty 0 after which nothing is asked for
	noneLit    = 70.0 // s behind them: a door as the heat begins hardly shows on a cold oven
	noneSigmas = 9
	weakShare  = 0.65
	weakSigmas = 12
	weakDuty   = 0.5
	weakWindow = 100 // s at weakDuty or more
	weakHard   = 108 // s, with the second it takes to be sure
	weakTimes  = 8
	weakFirst  = 130 // s, after which a door or a blade may have come and weakMarks are asked
	weakRest   = 0.2 // of a hundred seconds of the heater in the 20 min before, at most
	weakMarks  = 114 // at less
	weakLast   = 15
	longShare  = 0.53
	soakMarks  = 60
	soakShare  = 0.63 // of what came in the settled soak
	soakBack   = 0.75 // what is kept of it never follows to less
	soakFollow = 0.01 // of the way a mark
	weakKeep   = 0.65
)

// Without a model, our choices: a rise of 3 °C in each of three 50 s in a row at duty 0, and
// less than 2 °C in 4 min of full duty below 100 °C. Any oven of use here does better than the
// latter, 0.025 °C/s; the former needs a heat that lasts 150 s, which no door gives: its recovery
// is over in two or three lags of a probe. Noise as above, 20 σ.
const (
	blindRise  = 3.0
	blindMarks = 5
	blindLate  = 60.0  // s at duty 0 of which none is judged
	blindFull  = 240.0 // s
	blindBelow = 100.0 // °C
	blindLeast = 2.0
)

// heats judges the comparison of heats.
func (st *State) heats(cfg Config, in Input, sigma float64) {
	m := cfg.Model
	if !m.known() {
		st.blind()
		return
	}
	st.zero = run(st.zero, st.unsent(m, in, sigma))
	if st.zero >= zeroTimes || st.zero > 0 && in.HasSet && st.mean(0) > in.Set+zeroFar {
		st.found.set(HeatAtZero, true)
	} else if st.zero == 0 && (st.idle == 0 || st.secs > zeroWindow+1 && !st.rises(m, 0.05)) {
		st.found.set(HeatAtZero, false)
	}
	least := max(noneLeast, noneSigmas*sigma)
	if st.secs > noneWindow+1 {
		sent, came := st.heat(noneWindow)
		lost := st.ago(0).kept - st.ago(noneWindow).kept
		is := sent >= least && sent > noneLost*lost && came < noneShare*sent &&
			st.lit > noneLit && st.fall.quiet(st.at, doorShadow)
		st.none = run(st.none, is)
		st.found.set(NoHeat, st.none >= noneTimes || st.found.Has(NoHeat) && came < 0.5*sent)
	}
	least = max(noneLeast, weakSigmas*sigma)
	weak := false
	if st.much >= weakHard && st.much < weakFirst && st.secs > weakWindow+1 && st.rested(m) {
		sent, came := st.heat(weakWindow)
		weak = sent >= least && came < weakShare*sent && st.fall.quiet(st.at, doorShadow)
	}
	st.half = run(st.half, weak)
	keeps := false
	if last, ok := st.share(weakLast, least); ok && st.fall.quiet(st.at, doorLong) {
		share, ok := st.share(weakMarks, 3*least)
		weak = ok && st.lit > weakMarks*markSecs && max(share, last) < longShare
		keeps = last < weakKeep
		if b := min(1, st.slow.trusted); b > 0 { // walls that cool give more than the heater
			share, ok := st.share(soakMarks, 3*least)
			weak = weak || ok && max(share, last) < soakShare*b
			keeps = keeps || last < weakKeep*b
		}
	} else {
		keeps, weak = true, false
	}
	st.found.set(WeakHeat, st.half >= weakTimes || weak || keeps && st.found.Has(WeakHeat))
}

// rested says that hardly any heat was sent before the full duty began, as far as it is known.
func (st *State) rested(m Model) bool {
	n := min(st.marked-1, marks-8)
	if n <= 0 {
		return true
	}
	from := st.ago(min(int(st.much), blocks-1, st.secs-1))
	return from.sent-st.mark[(st.marked-1-n)%marks].sent <= weakRest*m.Slope*weakWindow
}

// unsent says that heat comes that nobody sends.
func (st *State) unsent(m Model, in Input, sigma float64) bool {
	if st.secs <= zeroWindow+1 {
		return false
	}
	if !st.fall.quiet(st.at, doorLong) { // the walls give back what the door took
		late := st.idle > max(m.Dead, zeroLate) && st.mean(0) > st.fall.before
		return late && st.excess(m, zeroWindow) > zeroShare && !st.fades()
	}
	if in.HasSet && st.mean(0) > in.Set+zeroFar {
		sent, came := st.heat(zeroQuick)
		return came-sent > max(zeroShare*m.Slope*zeroQuick, zeroSigmas*sigma)
	}
	x := st.excess(m, zeroWindow)
	sent, _ := st.heat(zeroWindow)
	return x > zeroAny && sent < zeroSent*m.Slope*zeroWindow ||
		x > zeroShare && st.idle > min(m.Dead, zeroLate)
}

// excess gives what came beyond what was sent, as a share of the heater.
func (st *State) excess(m Model, window int) float64 {
	sent, came := st.heat(window)
	return (came - sent) / (m.Slope * float64(window))
}

// fades says that what comes unsent is going away, as the heat that the walls and the element
// give back after a door does; a switch that is stuck gives the same all the time.
func (st *State) fades() bool {
	if st.secs <= 2*zeroWindow+2 {
		return false
	}
	sent, came := st.heat(zeroWindow)
	before, all := st.heat(2 * zeroWindow)
	return came-sent < zeroFades*(all-before-(came-sent))
}

func (st *State) rises(m Model, share float64) bool { return st.excess(m, zeroWindow) > share }

// blind judges an oven without a model.
func (st *State) blind() {
	y := func(n int) float64 { return st.mark[(st.marked-1-n)%marks].y }
	if st.idle == 0 {
		st.found.set(HeatAtZero, false)
	} else if st.idle > blindLate+3*blindMarks*markSecs && st.marked > 3*blindMarks {
		rise := min(y(0)-y(blindMarks), y(blindMarks)-y(2*blindMarks),
			y(2*blindMarks)-y(3*blindMarks))
		st.found.set(HeatAtZero, rise > blindRise)
	}
	none := false
	if n := int(blindFull) / markSecs; st.hard > blindFull && st.marked > n {
		none = y(0) < blindBelow && y(0)-y(n) < blindLeast
	}
	st.found.set(NoHeat, none)
}
