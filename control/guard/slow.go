package guard

import "math"

// What is settled: the setpoint stood and the reading was within 10 °C of it for ten minutes,
// with no door. There the share that comes is steady to 0.01 in five minutes and ten (measured
// on 200 ovens, σ = 0.3). The mains at -10 % make 0.81 of it. A reading 5 °C off makes 5 parts in
// 178 more or less at 200 °C, 0.028. Thresholds: 8 of those 100ths for the mains, 15 thousandths
// for the wander, each for so many marks in a row. Expected false alarms: the share's noise is
// below 0.002, so that 0.015 are 7 σ; four mains in a hundred that come slowly are taken for a
// wander, and none can tell which.
const (
	settledIn   = 10.0 // °C
	settledFor  = 60   // marks
	mainsMarks  = 30   // 5 min
	mainsOff    = 0.08 // of the share
	mainsKeep   = 0.03 // up to this the reference follows
	mainsFollow = 0.02 // of the way a mark
	mainsRests  = 60   // marks after which what is, is the reference
	mainsTimes  = 3
	wanderMarks = 60 // 10 min
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
	ref     float64
	away    int
}

func (st *State) slows(cfg Config, in Input) {
	s := &st.slow
	if st.marked == s.marked || !cfg.Model.known() {
		return
	}
	s.marked = st.marked
	near := in.HasSet && in.Set == s.set && math.Abs(st.mean(0)-in.Set) < settledIn &&
		st.fall.quiet(st.at, doorLong)
	s.settled, s.set = run(s.settled, near), in.Set
	if s.settled < settledFor {
		*s = slow{marked: s.marked, set: s.set, settled: s.settled}
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
	}
	if math.Abs(s.base) > 0 && s.off > 0 {
		s.ref, s.away = 0, 0
	}
	if share, ok := st.share(wanderMarks, 1); ok {
		if s.ref == 0 && s.off == 0 {
			s.ref = share
		}
		s.away = run(s.away, s.ref > 0 && math.Abs(share/s.ref-1) > wanderOff)
		st.found.set(Wander, s.away >= wanderTimes)
	}
}

// A word that stands still in a soak. Whether a quiet chip may repeat itself is not known from
// its noise, so it is judged by what it did: ten minutes that are four times longer than any
// repetition so far, of at least ten minutes of heat. Expected false alarms: if repetitions
// end like a coin's, one that is four times the longest of n has a chance of about n^-3; with
// 200 changes seen, which is least, 1.25e-7 for each ten minutes, one in 1.3e6 h.
const (
	stillFor    = 590.0 // s
	stillTimes  = 4.0
	stillChange = 200 // changes of the word seen before
)

type still struct {
	known   bool
	raw     uint32
	same    float64 // s
	longest float64
	changes int
}

func (w *still) watch(in Input, h, duty float64) bool {
	switch {
	case !w.known || in.Raw != w.raw:
		w.longest = max(w.longest, w.same)
		w.changes++
		w.known, w.raw, w.same = true, in.Raw, 0
	case duty > 0 || w.same > stillFor:
		w.same += h
	}
	return w.same > stillFor && w.changes > stillChange && w.same > stillTimes*w.longest
}
