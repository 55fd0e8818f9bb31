package guard

import (
	"math"
	"time"
)

// A fall as by a door: in 3 s by more than three times what the oven loses by itself, and by
// more than doorSigmas of the noise. The difference of two means of 2 s has the standard
// deviation σ √(1/n + 1/n) of n readings each: at 6 σ 1e-9 a second, 3.6e-6 an hour, one in
// 280,000 h. The drop of the reading of oven A is 4.4 °C/s. A door that shows less, as behind a
// slow probe, is seen by two means of 4 s each, 8 s apart: the noise is smaller by √2, and what
// the oven loses by itself counts for 8 s.
const (
	doorSigmas = 6.0
	slowFall   = 8   // s
	doorLeast  = 0.8 // °C in 3 s
	doorOwn    = 3.0
	doorBlind  = 3.0 // °C in 3 s where no model tells what the oven loses by itself
	doorOver   = 1.0 // °C above its lowest: the fall is over
)

// Shadows of a door: how long what came is not held against what was sent.
const (
	doorShadow = 150 * time.Second
	doorLong   = 10 * time.Minute
)

// A lead that touches itself shows the place where it does, at once. In 3 s a bare bead of a lag
// of 10 s, half of oven A's, goes a quarter of the way to the room: half of the way is no
// probe. Noise: half of 40 °C, more than 60 σ.
const (
	leadShare = 0.5
	leadLeast = 40.0 // °C above the cold junction before
)

// A fallen-out probe goes to the room by its own lag: after 140 s with the slowest lag here,
// 67 s, an eighth of the way is left. An oven whose door stands open keeps the probe above a
// quarter, since its walls radiate. A door closed again shows at once. Noise: none to speak of.
// The time counts only while there is heat: an oven may cool with its door open. A door left open
// for 140 s of heat on an oven that has cooled as far is taken for it: our choice.
const (
	fellShare = 0.2
	fellAfter = 140 * time.Second
	fellLeast = 40.0
)

// fall follows the reading downwards.
type fall struct {
	open   bool
	since  time.Duration // when the last one began; only with ever
	ever   bool
	before float64 // °C, the reading then
	lowest float64
	short  int
}

// quiet says that no fall stands, and none began in the last span.
func (f *fall) quiet(now, span time.Duration) bool {
	return !f.ever || !f.open && now-f.since > span
}

func (st *State) falls(cfg Config, in Input, sigma float64, n int) {
	if st.secs < slowFall+8 {
		return
	}
	f := &st.fall
	drop := st.mean(3) - st.mean(0)
	own := doorBlind / doorOwn
	if cfg.Model.known() {
		own = 3 * cfg.Model.Slope * max(0, cfg.Model.loss(st.mean(3), in.Room))
	}
	least := max(doorLeast, doorSigmas*sigma/math.Sqrt(float64(n))) + doorOwn*own
	slow := st.mean(slowFall) + st.mean(slowFall+2) - st.mean(0) - st.mean(2)
	falls := drop > least || slow/2 > max(doorLeast, doorSigmas*sigma/math.Sqrt(float64(2*n)))+
		doorOwn*own*slowFall/3
	ambient := in.Room
	if in.HasCold {
		ambient = in.Cold
	}
	before := st.ago(4).y - ambient
	short := before > leadLeast && st.ago(0).y-ambient < leadShare*before
	f.short = run(f.short, short)
	if f.short >= 2 {
		st.found.set(LeadShort, true)
	}
	switch {
	case !f.open && falls:
		if b := max(st.mean(3), st.mean(slowFall)); !f.ever || st.at-f.since > doorLong || b > f.before {
			f.before = b
		}
		*f = fall{open: true, since: st.at, ever: true, before: f.before, lowest: st.mean(0),
			short: f.short}
	case f.open:
		f.lowest = min(f.lowest, st.mean(0))
		if st.idle >= noneIdle {
			f.since = st.at
		}
		if st.mean(0) > f.lowest+max(doorOver, doorSigmas*sigma/2) {
			f.open = false
			st.found.set(LeadShort, false)
			st.found.set(FellOut, false)
		}
	}
	st.found.set(Door, f.open)
	if f.open && st.at-f.since > fellAfter && f.before-in.Room > fellLeast &&
		st.mean(0)-in.Room < fellShare*(f.before-in.Room) {
		st.found.set(FellOut, true)
	}
}

// boardWarm is where a chip and its connector may part by a degree (the house's list of faults);
// three seconds in a row decide, and it must cool by boardBack. Expected false alarms: none from
// noise, which would have to be as large as what the board is away from 45 °C, three times.
const (
	boardWarm  = 45.0 // °C
	boardBack  = 2.0
	boardTimes = 3
)
