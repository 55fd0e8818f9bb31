package belief

import (
	"math"
	"time"

	"strawline/probe"
	"strawline/probe/temp"
)

// A repeated word is frozen only where it must have changed. Four witnesses, each enough,
// each only while the duty is above Config.FrozenDuty:
//
//   - the noise learnt says that so many equal words have no chance (repeatBits);
//   - the temperature rose when the word last changed, the heat has not been reduced since, and
//     Config.Frozen has passed (stillRising);
//   - so much more heat than before has gone in that any oven must show it (extraHeat);
//   - the heater has been all but fully on for fullShows.
//
// A chip without noise in the middle of its step, in an oven that stands still at a duty of a
// quarter, has none of the four against it and may repeat itself for hours. What freezes there
// is found when the duty climbs.

// repeatBits is -ln of the chance below which a row of equal words is taken for a frozen one:
// 1e-9 an hour over the 14,400 places an hour where a row can begin, which is 30.3, half as
// much again, so that the noise may be a third less lively than it was learnt. Expected false
// alarms: one in 1e9 h of heating while the noise stays as it was learnt, far below the one in
// 20,000 h allowed. Our choice.
const repeatBits = 1.5 * 30.3

// What stillRising asks, our choices: a rise of 3 °C a minute, or of four of the channel's own
// changes in Config.Frozen; that time where the rise was 9 °C a minute or faster, and as much
// longer as it was slower; the last two changes of the word no further apart than riseSlows
// times what that rise needs for a step, for a rise that comes to an end gets slower first; and
// no more than a fraction of the heat taken away that would stop that rise. A full duty heats by
// less than fastest °C/s (reference oven A by 0.97), so a rise of s needs a duty of at least
// s/fastest above that which holds, and half of that is allowed to go. Expected false alarms:
// something other than the heater must halt the rise within half a minute and balance it to
// 0.25 °C a minute. Of 12,000 sags of the mains by up to half, simulated on ovens A and B at a
// constant duty with a chip without noise, one did (TestSagIsNotFrozen, seeds 10001 to 22000); that
// is less than 4.74 in 12,000 at 95 % confidence, and with one such sag in 10 h of heating less
// than one in 25,000 h.
const (
	leastRise   = 0.05 // °C/s
	quickRise   = 0.15 // °C/s
	riseSlows   = 2
	slowFrom    = 1500 * time.Millisecond // noise alone can hold a word for some readings
	leastCodes  = 4
	fastest     = 4 // °C/s at full duty
	riseAllowed = 1 / (2.0 * fastest)
)

// What extraHeat asks, our choices. Any oven of use here heats by 0.025 °C/s at full duty
// (A: 0.97), so that 40 s of full duty more than what held are 1 °C, four codes, and shows it
// after a minute. What held is the highest mean duty lately, forgotten with a time constant of
// 15 min, in which an oven of this size settles; a sag of the mains or a cold room may ask
// extraIdle more. Expected false alarms: none while the heater heats, since a temperature that
// does not move asks for no more duty; in 500 simulated clean hours none. A heater that is
// not plugged in looks the same on a chip without noise, and this takes its heat away too.
const (
	extraNeeded = 40.0 // s of full duty
	extraShows  = time.Minute
	extraIdle   = 0.05
	dutyTf      = 15.0  // s, time constant of the mean duty
	dutyForget  = 900.0 // s
)

// What a full duty asks, our choices. An oven that stands still at full duty has reached the end
// of what it can, which is no tempering heat; a heater without current looks the same on a chip
// without noise. Either way the heat is to go. Expected false alarms: none below that end.
const (
	fullDuty  = 0.95
	fullShows = 3 * time.Minute
)

// nearCold is how near its cold junction a channel reads in an oven that is not warm.
const nearCold temp.Delta = 10

// still watches one channel for a word that does not change.
type still struct {
	known     bool // a word has come
	begun     bool // a good one
	raw       uint32
	hot, cold temp.C
	hasCold   bool
	count     int           // equal words in a row while heating
	same      time.Duration // how long
	full      time.Duration // what same was when the duty was last below fullDuty
	frozen    bool          // until the word changes
	duty      float64       // mean
	most      float64       // highest mean duty lately
	held      float64       // the same when the word last changed, or what it has sunk to since
	since     time.Duration // when that was, ago
	rise      float64       // °C/s then; 0 if it was slowing down
	step      float64       // °C, by which it last changed
	fell      bool          // the heat was reduced since
	extra     float64       // s of full duty beyond what held
	owing     time.Duration // since when that should show
	hotNoise  lively
	coldNoise lively
}

// watch judges whether the word may still be what it was. slope is the channel's, °C/s.
func (w *still) watch(cfg Config, in Input, gap time.Duration, slope float64) {
	r := in.Reading
	changed := !w.known || r.Raw != w.raw || r.Hot != w.hot || r.Cold != w.cold
	w.since += gap
	w.heat(in, gap)
	w.learn(r, changed, gap > cfg.Stale)
	switch {
	case changed:
		w.restart()
		w.frozen, w.fell, w.held, w.rise = false, false, w.most, slope
		if d := math.Abs(float64(r.Hot.Sub(w.hot))); d >= leastStep {
			w.step = d
		}
		if s := w.since; s > slowFrom && s.Seconds()*w.rise > riseSlows*w.step {
			w.rise = 0
		}
		w.since = 0
	case gap > cfg.Stale || !(in.Duty > cfg.FrozenDuty):
		w.restart()
	default:
		w.count++
		w.same += gap
	}
	w.known, w.raw, w.hot, w.cold = true, r.Raw, r.Hot, r.Cold
	_, w.hasCold = coldOf(r)
	w.held = min(w.held, w.most)
	if w.duty < w.most-w.rise*riseAllowed {
		w.fell = true
	}
	if w.same > 0 {
		w.spend(gap)
	}
	if in.Duty < fullDuty {
		w.full = w.same
	}
	if w.unlikely() || w.stillRising(cfg) || w.owing >= extraShows || w.same-w.full >= fullShows {
		w.frozen = true
	}
}

func (w *still) restart() { w.count, w.same, w.full, w.extra, w.owing = 0, 0, 0, 0, 0 }

// heat follows the mean duty. What held an oven that was warm already is not known: it may
// have been anything.
func (w *still) heat(in Input, gap time.Duration) {
	r := in.Reading
	duty := 0.0
	if in.Duty > 0 { // not a number counts as none
		duty = min(in.Duty, 1)
	}
	if !w.begun && r.Good() {
		w.begun, w.duty, w.most = true, duty, duty
		if !isCold(r) {
			w.most = 1
		}
		return
	}
	h := gap.Seconds()
	w.duty += (duty - w.duty) * -math.Expm1(-h/dutyTf)
	w.most = max(w.duty, w.most+(w.duty-w.most)*-math.Expm1(-h/dutyForget))
}

func (w *still) learn(r probe.Reading, changed, broken bool) {
	if broken || !r.Good() {
		w.hotNoise.restart()
		w.coldNoise.restart()
	}
	if r.Good() {
		w.hotNoise.add(float64(r.Hot), changed)
		w.coldNoise.add(float64(r.Cold), changed)
	}
}

func (w *still) spend(gap time.Duration) {
	w.extra += gap.Seconds() * max(0, w.duty-w.held-extraIdle)
	if w.extra >= extraNeeded {
		w.owing += gap
	}
}

// unlikely asks the noise: the two junctions of a chip are measured apart from each other.
func (w *still) unlikely() bool {
	return float64(w.count)*(w.hotNoise.bits+w.coldNoise.bits) >= repeatBits
}

func (w *still) stillRising(cfg Config) bool {
	least := max(leastRise, leastCodes*w.step/cfg.Frozen.Seconds())
	if w.fell || w.rise < least {
		return false
	}
	return w.same.Seconds() >= cfg.Frozen.Seconds()*max(1, quickRise/w.rise)
}

// isCold says that the reading stands near its cold junction, or below 40 °C if it has none.
func isCold(r probe.Reading) bool {
	if c, ok := coldOf(r); ok {
		return math.Abs(float64(r.Hot.Sub(c))) <= float64(nearCold)
	}
	return r.Hot < 40
}

// coldOf gives the cold junction, if the reading has one.
func coldOf(r probe.Reading) (temp.C, bool) {
	return r.Cold, r.Good() && r.HasCold && !math.IsNaN(float64(r.Cold))
}
