package guard

import "math"

// What is settled: the setpoint stood and the reading was within 10 °C of it for ten minutes,
// with no door. There the share that comes is steady to 0.01 in five minutes (measured on 200
// ovens, σ = 0.3), but for the walls: for an hour or more they take less and less, and the share
// rises ever more slowly. The mains at -10 % make 0.81 of it, and 0.08 off tell them. A reading
// 5 °C off makes 5 parts in 178 more or less at 200 °C, 0.028. It is told by three looks of ten
// minutes, twenty minutes apart: what the last changed by more than the one before did, or the
// other way, must be above 0.015, for a minute; that takes 50 min of a settled soak. Expected false
// alarms: the noise of three such shares is below 0.003, so that 0.015 are 5 σ, 3e-7 in each of the
// three or so looks an hour that are not of the same readings: one in a million hours. A power that
// changes is told as the mains first and then as this, a fast wander as well: walls that give back
// look the same, and none can tell which.
const (
	settledIn   = 10.0 // °C
	settledFor  = 60   // marks
	mainsMarks  = 30   // 5 min
	mainsOff    = 0.08 // of the share
	mainsKeep   = 0.06 // up to this the reference follows
	mainsFollow = 0.02 // of the way a mark
	mainsRests  = 60   // marks after which what is, is the reference
	mainsTimes  = 3
	wanderMarks = 60  // 10 min
	wanderApart = 120 // 20 min
	wanderOff   = 0.015
	wanderTimes = 6
)

// slow follows a settled soak by its marks.
type slow struct {
	marked  int
	set     float64
	settled int // marks in a row
	base    float64
	off     int // marks that the mains are off
	away    int
	trusted float64 // the share of a settled soak at this setpoint; 0 none
}

func (st *State) slows(cfg Config, in Input) {
	s := &st.slow
	if st.marked == s.marked || !cfg.Model.known() {
		return
	}
	s.marked = st.marked
	near := in.HasSet && in.Set == s.set && math.Abs(st.mean(0)-in.Set) < settledIn &&
		st.fall.quiet(st.at, doorLong)
	if in.Set != s.set || !in.HasSet || st.idle >= noneIdle {
		s.trusted = 0
	}
	s.settled, s.set = run(s.settled, near), in.Set
	if s.settled < settledFor {
		if share, ok := st.share(mainsMarks, 1); ok && s.settled >= mainsMarks {
			s.trusted = max(s.trusted, share) // before what comes in the first minutes is mixed in
		}
		*s = slow{marked: s.marked, set: s.set, settled: s.settled, trusted: s.trusted}
		st.found.set(Mains, false)
		st.found.set(Wander, false)
		return
	}
	if share, ok := st.share(mainsMarks, 1); ok {
		if s.base == 0 {
			s.base = share
		}
		d := share/s.base - 1
		if math.Abs(d) < mainsKeep {
			s.base += mainsFollow * (share - s.base)
		}
		s.off = run(s.off, math.Abs(d) > mainsOff)
		st.found.set(Mains, s.off >= mainsTimes)
		if s.off >= mainsRests {
			s.base, s.off = share, 0
		}
		if s.off == 0 && s.base > soakBack*s.trusted {
			s.trusted = max(s.base, s.trusted+soakFollow*(s.base-s.trusted))
		}
	}
	s.away = run(s.away, s.settled > wanderMarks+2*wanderApart && s.off == 0 &&
		math.Abs(st.wanders()) > wanderOff)
	st.found.set(Wander, s.away >= wanderTimes)
}

// wanders gives by how much more the share changed in the last twenty minutes than it did in the
// twenty before, as walls that fill never do; relative.
func (st *State) wanders() float64 {
	look := func(ago int) float64 {
		a := &st.mark[(st.marked-1-ago-wanderMarks)%marks]
		b := &st.mark[(st.marked-1-ago)%marks]
		return (b.y - a.y + b.kept - a.kept) / (b.sent - a.sent)
	}
	c, b, a := look(0), look(wanderApart), look(2*wanderApart)
	now, was := (c-b)/b, (b-a)/b
	switch {
	case now*was < 0:
		return now
	case math.Abs(now) < math.Abs(was):
		return 0
	}
	return now - was
}

// A word that stands still in a soak. Whether a quiet chip may repeat itself is not known from
// how often its word changes: on the edge between two words the least noise does that, and in
// the middle of one it does nothing. So it is judged by what it did: ten minutes that are four
// times longer than any repetition so far, of at least ten minutes of heat. Expected false alarms:
// if repetitions end like a coin's, one that is four times the longest of n has a chance of about
// n^-3; with 200 changes seen, which is least, 1.25e-7 for each ten minutes, one in 1.3e6 h. That
// holds for a chip whose noise is wider than its step, which then leaves even the middle of a
// word: one whose readings went two steps there and back within two seconds, ten times. Less noise
// never does, not on a ramp either, and such a chip is not judged: it may say the same for as long
// as a soak is still. In 64 whole runs (seeds 7201 to 7208) chips of noise ±0.1 °C or none had
// none of them at their longest repetitions, and those of ±0.2 °C 22 or more (nine runs of seeds
// 7051 to 7100).
const (
	stillFor    = 590.0 // s
	stillTimes  = 4.0
	stillLess   = 0.8  // of a step is another, and less only what a curve or a correction makes of it
	stillJump   = 1.5  // steps at least there and as many back: two of each
	stillJumps  = 10   // of them seen before: a door may give one or two
	stillLast   = 8    // readings in which one is looked for
	stillChange = 200  // changes of the word seen before
	stillHot    = 30.0 // °C above the room: what is hot and not heated cools, and shows it
)

type still struct {
	known   bool
	raw     uint32
	same    float64 // s
	longest float64
	changes int
	last    [stillLast]float64 // °C, the chip's latest readings
	n       int                // how many came since the last jump
	cold    float64            // °C
	step    float64            // °C, the least by which two readings in a row differed; 0 none yet
	jumps   int
}

func (w *still) watch(in Input, h, duty float64) bool {
	// A cold junction that changes moves the reading a little: that is no step.
	size := math.Abs(in.Read - w.last[(w.n+stillLast-1)%stillLast])
	if w.n > 0 && size > 0 && (!in.HasCold || in.Cold == w.cold) &&
		(w.step == 0 || size < stillLess*w.step) {
		w.step, w.n, w.jumps = size, 0, 0
	}
	w.cold = in.Cold
	w.last[w.n%stillLast] = in.Read
	w.n++
	if w.jumped() {
		w.jumps++
		w.n = 0
	}
	switch {
	case !w.known || in.Raw != w.raw:
		w.longest = max(w.longest, w.same)
		w.changes++
		w.known, w.raw, w.same = true, in.Raw, 0
	case duty > 0 || in.Hot-in.Room > stillHot || w.same > stillFor:
		w.same += h
	}
	return w.jumps >= stillJumps && w.same > stillFor && w.changes > stillChange &&
		w.same > stillTimes*w.longest
}

// jumped says that the readings went two steps up and down again, or down and up.
func (w *still) jumped() bool {
	if w.step == 0 || w.n < 3 {
		return false
	}
	least, now := stillJump*w.step, w.last[(w.n-1)%stillLast]
	first := max(0, w.n-stillLast)
	low, high := w.last[first%stillLast], w.last[first%stillLast]
	for i := first; i < w.n; i++ {
		v := w.last[i%stillLast]
		if v-low > least && v-now > least || high-v > least && now-v > least {
			return true
		}
		low, high = min(low, v), max(high, v)
	}
	return false
}
