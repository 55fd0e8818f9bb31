// Package guard looks for what goes wrong with an oven: a switch that is stuck on, a heater that
// gives nothing or half, a probe that fell out, a lead that touches itself, an opened door, a
// warm board, a sag of the mains, a holding duty that wanders. It is arithmetic: a Config, a
// State and an Input give Findings; time comes in as data, no clock is asked.
//
// All that asks for the oven's own measure compares heat with heat. What was sent is the slope
// of the oven's model times the duty, late by the model's dead time; what came is the rise of
// the reading and what the oven loses at that temperature, which the model's holding duty gives.
// Their ratio is the share of the heater that the reading shows.
//
// What can be judged without the oven's heat is not here: fault bits, impossible and jumping
// readings, reversed leads and a word that stands still while heating are probe/belief's; the
// limit, silence, restarts, sleep and clocks are package control's. Rows lists them all.
package guard

import (
	"math"
	"time"
)

// Model is how the oven answers its heater, as a test found it. The zero Model is none: then
// only what needs none is judged, and heat at duty 0 and no heat by figures for any oven.
type Model struct {
	Slope  float64 // °C/s that the whole duty begins with; above 0
	Dead   float64 // s, apparent dead time with the shorter lag; above 0
	Time   float64 // s, the long time constant; 0 not known
	Hold   float64 // duty, 0 to 1, that held HoldAt; 0 not known
	HoldAt float64 // °C
}

// known says that the model carries the comparison of heats.
func (m Model) known() bool {
	return m.Slope > 0 && m.Dead > 0 && !math.IsInf(m.Slope+m.Dead, 0) &&
		(m.Hold > 0 || m.Time > 0)
}

// loss is the duty that balances what the oven loses at y, straight from the room to HoldAt.
func (m Model) loss(y, room float64) float64 {
	switch {
	case m.Hold > 0 && m.HoldAt > room+1:
		return m.Hold * (y - room) / (m.HoldAt - room)
	case m.Time > 0:
		return (y - room) / (m.Slope * m.Time)
	}
	return 0
}

// Config is what an oven is judged by.
type Config struct {
	Model Model
	Sigma float64 // °C, standard deviation of one reading as it was learnt; 0 not known
}

// Input is one reading and what the heater was told.
type Input struct {
	At      time.Duration // of the reading; never earlier than the one before
	Good    bool          // it is believed; else only time passes
	Hot     float64       // °C, without lone outliers, else not filtered; only if Good
	Read    float64       // °C, as the chip said it; only if Good
	Raw     uint32        // the chip's word
	Cold    float64       // °C, cold junction; only if HasCold
	HasCold bool
	Duty    float64 // 0 to 1, as commanded since the last reading
	Set     float64 // °C; only if HasSet
	HasSet  bool
	Room    float64 // °C
}

// block is one second: its mean reading, and the heats up to its end.
type block struct {
	y          float64 // °C
	sent, kept float64 // °C, since the guard began: heat sent, and heat lost again
}

const (
	blocks   = 128 // s that are kept by the second
	marks    = 512 // the same by markSecs
	markSecs = 10
	// mostApart is how far apart two readings may be; after more the guard begins again. It
	// covers a doubt's three readings. Our choice.
	mostApart = 3 * time.Second
	idleDuty  = 0.02 // up to this the duty counts as 0: a per-mille rounding and a little
	hardDuty  = 0.9  // from this it counts as full
)

// State is what is known of one oven. The zero State knows nothing.
type State struct {
	begun      bool
	at, cut    time.Duration // of the last reading, and of the block's beginning
	room       float64
	u1, u2     float64 // the duty, late
	sent, kept float64
	sum        float64
	count      int
	secs       int // blocks so far since it began
	ring       [blocks]block
	mark       [marks]block
	marked     int
	idle, hard float64 // s, the duty was 0 or full in a row
	much       float64 // s, it was weakDuty or more in a row
	lit        float64 // s since the duty was last 0 for as long as noneIdle
	noise      noise
	fall       fall
	zero       int // blocks in a row with heat that nobody sent
	none, half int
	slow       slow
	still      still
	warm       int
	found      Findings
}

// Step takes one reading and gives what stands now. It allocates nothing.
func Step(cfg Config, st *State, in Input) Findings {
	h := (in.At - st.at).Seconds()
	if !in.Good || math.IsNaN(in.Hot+in.Duty+in.Room) {
		return st.found &^ fromHeat // blind: what the heat says is not known
	}
	if !st.begun || h > mostApart.Seconds() || h < 0 {
		st.begin(in)
		return st.found
	}
	st.at = in.At
	duty := min(1, max(0, in.Duty))
	m := cfg.Model
	if m.known() { // two lags of half the dead time each stand for it
		a := -math.Expm1(-2 * h / m.Dead)
		st.u1 += (duty - st.u1) * a
		st.u2 += (st.u1 - st.u2) * a
		st.sent += h * m.Slope * st.u2
		st.kept += h * m.Slope * m.loss(in.Hot, in.Room)
	}
	st.idle, st.hard = held(st.idle, h, duty <= idleDuty), held(st.hard, h, duty >= hardDuty)
	st.much = held(st.much, h, duty >= weakDuty)
	st.lit = held(st.lit, h, st.idle < noneIdle)
	st.found.set(Frozen, st.still.watch(in, h, duty))
	st.noise.add(in.Hot)
	st.sum += in.Hot
	st.count++
	if in.At-st.cut < time.Second {
		return st.found
	}
	st.second(cfg, in)
	return st.found
}

// second ends a block and judges it.
func (st *State) second(cfg Config, in Input) {
	b := block{y: st.sum / float64(st.count), sent: st.sent, kept: st.kept}
	n := st.count
	st.sum, st.count, st.cut = 0, 0, in.At
	st.ring[st.secs%blocks] = b
	st.secs++
	st.room = in.Room
	if st.secs%markSecs == 0 {
		b.y = st.mean(0)
		st.mark[st.marked%marks] = b
		st.marked++
	}
	sigma := max(cfg.Sigma, st.noise.sigma())
	st.falls(cfg, in, sigma, n)
	st.heats(cfg, in, sigma)
	st.slows(cfg, in)
	st.warm = run(st.warm, in.HasCold && in.Cold > boardWarm)
	if st.warm == 0 && !(in.HasCold && in.Cold > boardWarm-boardBack) {
		st.found.set(BoardWarm, false)
	} else if st.warm >= boardTimes {
		st.found.set(BoardWarm, true)
	}
}

// begin starts anew, as after a gap: what is known of the noise and of the word stays.
func (st *State) begin(in Input) {
	duty := min(1, max(0, in.Duty))
	*st = State{begun: true, at: in.At, cut: in.At, noise: st.noise, still: st.still,
		u1: duty, u2: duty, room: in.Room, found: st.found & (1 << BoardWarm)}
	st.still.same = 0
}

// ago gives the block so many seconds before the newest.
func (st *State) ago(s int) *block { return &st.ring[(st.secs-1-s)%blocks] }

// mean gives the mean reading of that block and the one before.
func (st *State) mean(s int) float64 { return (st.ago(s).y + st.ago(s+1).y) / 2 }

// heat gives what was sent and what came in the last so many seconds, °C; blocks less 2 at most.
func (st *State) heat(s int) (sent, came float64) {
	a, b := st.ago(s), st.ago(0)
	return b.sent - a.sent, st.mean(0) - st.mean(s) + b.kept - a.kept
}

// share gives what came of what was sent in the last so many marks; false if there are not so
// many or too little was sent to tell.
func (st *State) share(n int, least float64) (float64, bool) {
	if st.marked <= n {
		return 0, false
	}
	a, b := &st.mark[(st.marked-1-n)%marks], &st.mark[(st.marked-1)%marks]
	sent := b.sent - a.sent
	return (b.y - a.y + b.kept - a.kept) / sent, sent >= least
}

// held counts on while it holds.
func held(so, h float64, is bool) float64 {
	if is {
		return so + h
	}
	return 0
}

// run counts in a row.
func run(n int, is bool) int {
	if is {
		return n + 1
	}
	return 0
}

// noise learns the standard deviation of one reading from second differences, which no ramp of
// an oven shows: their variance is six times that of white noise.
type noise struct {
	last, before float64
	n            int
	sum          float64
	known        float64 // variance of the last whole minute, °C²
}

const noiseCount = 240

func (k *noise) add(v float64) {
	if k.n >= 2 {
		d := v - 2*k.last + k.before
		k.sum += min(d*d, 36) // a jump is not noise
	}
	k.before, k.last = k.last, v
	k.n++
	if k.n == noiseCount {
		k.known = k.sum / (6 * (noiseCount - 2))
		k.n, k.sum = 0, 0
	}
}

// sigma is never below the rounding of a chip's quarter degrees, 0.25 °C / √12.
func (k *noise) sigma() float64 { return math.Sqrt(max(k.known, 0.0052)) }
