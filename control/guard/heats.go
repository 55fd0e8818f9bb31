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
	zeroAny    = 0.45 // at any duty
	zeroLate   = 90.0 // s at duty 0, or the dead time, before the first is judged
	zeroBefore = 4.0  // °C above where the reading was before a door opened
)

// Heat that does not come. Our figures: less than a quarter of what was sent in a minute, where
// the heat-ups of 200 ovens showed 0.76 or more and half the heater gives 0.4 or more; and less
// than 0.65 for half of it, where mains 10 % low at the least healthy of those ovens give 0.68.
// Noise: at least 2 °C and 12 σ must have been sent, so that a share is known to σ/2 / 12 σ =
// 0.04; from 0.68 down to 0.25 are 10 σ, in ten seconds in a row: below 1e-20 an hour. Weak heat
// asks for twice as long and three times the heat: 0.014, 2 σ between 0.68 and 0.65 only with
// mains at their lowest on the worst oven, in 20 seconds in a row, else 8 σ: 6e-16 a second,
// one in 4e11 h. A cold blade and a door that hardly shows can take a third of the
// heat for some minutes: that is why only the first two minutes of full duty are judged alone.
// Measured by .ci/long guard: 3 of these alarms in 2,000 clean hours (seeds 1001 to 1020), in
// heat-ups far from the model's one slope, which is one in 667 h: more than the rule allows for an
// alarm, and the reason why it does not take the heat away.
const (
	noneShare  = 0.25
	noneWindow = 60 // s
	noneTimes  = 10 // s in a row
	noneLeast  = 2.0
	noneLost   = 0.6  // of what the oven loses: below that it is cooling, and faster than the model
	noneIdle   = 20.0 // s at duty 0 after which nothing is asked for
	noneSigmas = 12
	weakShare  = 0.65
	weakWindow = 100 // s at full duty
	weakHard   = 108 // s, with the second it takes to be sure
	weakTimes  = 8
	weakFirst  = 130 // s, after which a door or a blade may have come and weakMarks are asked
	weakMarks  = 90  // at less
	longShare  = 0.58
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
			st.idle < noneIdle && st.fall.quiet(st.at, doorShadow)
		st.none = run(st.none, is)
		st.found.set(NoHeat, st.none >= noneTimes || st.found.Has(NoHeat) && came < 0.5*sent)
	}
	weak := false
	if st.hard >= weakHard && st.hard < weakFirst && st.secs > weakWindow+1 {
		sent, came := st.heat(weakWindow)
		weak = sent >= least && came < weakShare*sent && st.fall.quiet(st.at, doorShadow)
	}
	st.half = run(st.half, weak)
	share, ok := st.share(weakMarks, 3*least)
	long := ok && share < longShare && st.fall.quiet(st.at, doorLong)
	keeps := st.found.Has(WeakHeat) && (!ok || share < weakShare+0.1)
	st.found.set(WeakHeat, st.half >= weakTimes || long || keeps)
}

// unsent says that heat comes that nobody sends.
func (st *State) unsent(m Model, in Input, sigma float64) bool {
	if st.secs <= zeroWindow+1 {
		return false
	}
	if !st.fall.quiet(st.at, doorLong) { // the walls give back what the door took
		late := st.idle > max(m.Dead, zeroLate) && st.mean(0) > st.fall.before
		return late && st.excess(m, zeroWindow) > zeroShare
	}
	if in.HasSet && st.mean(0) > in.Set+zeroFar {
		sent, came := st.heat(zeroQuick)
		return came-sent > max(zeroShare*m.Slope*zeroQuick, zeroSigmas*sigma)
	}
	x := st.excess(m, zeroWindow)
	return x > zeroAny || x > zeroShare && st.idle > min(m.Dead, zeroLate)
}

// excess gives what came beyond what was sent, as a share of the heater.
func (st *State) excess(m Model, window int) float64 {
	sent, came := st.heat(window)
	return (came - sent) / (m.Slope * float64(window))
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
