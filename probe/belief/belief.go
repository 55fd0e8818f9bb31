// Package belief decides whether a reading can be believed, and filters those that can. It
// is arithmetic: a Config, a State of one channel and an Input give the next State and a
// Verdict; time comes in as data, no clock is asked.
//
// The gates, in this order: the chip's fault bits; a value that cannot be; a cold junction that
// is too warm; the same word where it must have changed (frozen); leads the wrong way round; a
// jump. What passes goes through a median test against
// single outliers (Hampel) and an exponential filter by the measured interval. A reading that
// does not pass leaves the filter as it was. Zero values fail on the safe side: a zero
// Config believes nothing.
package belief

import (
	"math"
	"time"

	"strawline/probe"
	"strawline/probe/temp"
)

// Why a channel cannot be believed; a chip's fault has its own word (probe.Fault.String).
const (
	WhyNone       = "no reading" // none has come yet
	WhyImpossible = "impossible" // not finite, or outside the channel's range
	WhyFrozen     = "frozen"     // the same word while heating, where it must have changed
	WhyReversed   = "falls when heated: leads reversed"
	WhyJump       = "jump"  // too far from what was believed, and not yet persistent
	WhyStale      = "stale" // too old
)

// Config is what a channel is judged by. Default has values for an oven's air channel.
type Config struct {
	Lowest, Highest temp.C        // range of what can be, °C
	Stale           time.Duration // a reading older than this is not believed
	Jump            temp.Delta    // °C from one reading to the next that is not believed at once
	Persist         int           // readings in a row after which a jump is real; at least 1
	FrozenDuty      float64       // 0 to 1: a word is suspected only while the duty is above this
	Frozen          time.Duration // how long an unchanged word is believed in a rising heat
	Window          int           // readings of the median test, 1 (none) to MaxWindow
	Floor           temp.Delta    // °C: least scale of the median test
	Tf              time.Duration // time constant of the exponential filter; 0 none
}

// MaxWindow is the largest window of the median test.
const MaxWindow = 7

// Outlier is how many robust standard deviations from the median a value may stand: the
// usual three (Pearson, 1999).
const Outlier = 3

// toSigma makes a standard deviation of a median absolute deviation for Gaussian noise.
const toSigma = 1.4826

// Default gives the values for a type K channel in an oven's air at four readings a second.
func Default() Config {
	return Config{
		// Colder than any shop, warmer than any hand-built oven; type K ends at 1372 °C.
		Lowest: -40, Highest: 1300,
		// Six missing readings; the house's rule for any duty above 0.
		Stale: 1500 * time.Millisecond,
		// An opened door moves the probe of the reference oven by 4.4 °C a second, which is
		// 1.1 °C a reading. A real step shows itself by lasting.
		Jump: 5, Persist: 3,
		// Our thresholds: a temperature that rose by 3 °C a minute must show four codes in the
		// next. A chip quieter than half its own step can truly repeat a word in an oven that
		// stands still, so neither time alone nor little duty is ground for suspicion.
		FrozenDuty: 0.2, Frozen: time.Minute,
		// Five readings forgive two outliers and delay a real step by two readings, 0.5 s.
		// The floor keeps a quiet quantised signal (all deviations 0) from refusing every
		// change: it is above 0.25 °C / √12 = 0.072 °C, the rounding noise of the chip.
		Window: 5, Floor: 0.1,
		// A tenth of the 20 to 30 s dead time of an oven, which the loop hardly notices; the
		// standard deviation of white noise falls to about a quarter.
		Tf: 2 * time.Second,
	}
}

// State is what is known of one channel. The zero State knows nothing.
type State struct {
	has      bool          // any reading has come
	at       time.Duration // of the last reading, believed or not
	good     bool          // verdict of the last reading
	why      string
	began    bool          // filtered and clean have values
	goodAt   time.Duration // of the last believed reading
	prev     temp.C        // last believed reading as it came
	clean    temp.C        // the same after the median test
	filtered temp.C
	window   [MaxWindow]temp.C // believed readings as they came, a ring
	count    int
	next     int
	pending  temp.C // last reading of a jump
	jumps    int    // readings of the jump so far
	still    still
	trend    trend
	heat     heat
	junction junction
}

// Input is one reading and what the heater was doing.
type Input struct {
	Reading probe.Reading
	Duty    float64 // 0 to 1 as commanded since the last reading; 0 for a channel not heated
}

// Verdict says whether a channel can be believed.
type Verdict struct {
	Good     bool
	Why      string // "" if Good
	Filtered temp.C // °C; only if Good, else NaN, which no control law takes
	Clean    temp.C // the same without the filter, for a law that has its own; likewise
	Warn     string // what a person should know though it is Good; "" nothing
}

// Step judges one reading. It allocates nothing and does not change st.
func Step(cfg Config, st State, in Input) (State, Verdict) {
	r := in.Reading
	gap := time.Duration(0)
	if st.has {
		gap = max(0, r.At-st.at)
	}
	late := st.has && gap > max(cfg.Stale, markEvery)
	if late {
		st.trend = trend{}
	}
	st.still.watch(cfg, in, gap, st.trend.slope())
	st.heat.follow(in, st.began, st.filtered, gap)
	st.junction.follow(r, late)
	st.has, st.at = true, r.At
	switch {
	case r.Fault != probe.FaultNone:
		return st.refuse(r.Fault.String())
	case !(r.Hot >= cfg.Lowest && r.Hot <= cfg.Highest): // NaN too
		return st.refuse(WhyImpossible)
	case st.junction.hot:
		return st.refuse(WhyCold)
	case st.still.frozen:
		return st.refuse(WhyFrozen)
	}
	if st.jumped(cfg, r.Hot) {
		return st.refuse(WhyJump)
	}
	st.believe(cfg, r)
	if st.trend.add(r.At, st.clean) {
		st.heat.judge(r, &st.trend, st.filtered)
	}
	if st.heat.reversed {
		return st.refuse(WhyReversed)
	}
	return st, st.verdict()
}

// Age gives the verdict as of now: that of the last reading, or that it is stale.
func Age(cfg Config, st State, now time.Duration) Verdict {
	switch {
	case !st.has:
		return unbelieved(WhyNone)
	case st.good && !(now-st.at <= cfg.Stale):
		return unbelieved(WhyStale)
	}
	return st.verdict()
}

func (st *State) verdict() Verdict {
	if !st.good {
		return unbelieved(st.why)
	}
	return Verdict{Good: true, Filtered: st.filtered, Clean: st.clean, Warn: st.junction.warn()}
}

func unbelieved(why string) Verdict {
	nan := temp.C(math.NaN())
	return Verdict{Why: why, Filtered: nan, Clean: nan}
}

// refuse keeps the filter as it is. Only a jump may count towards its own persistence.
func (st State) refuse(why string) (State, Verdict) {
	st.good, st.why = false, why
	if why != WhyJump {
		st.jumps = 0
	}
	return st, st.verdict()
}

// jumped reports whether v is too far both from the last believed reading and from its
// cleaned value; a jump that has persisted restarts the filter where it leads.
func (st *State) jumped(cfg Config, v temp.C) bool {
	near := func(o temp.C) bool { return math.Abs(float64(v.Sub(o))) <= float64(cfg.Jump) }
	if !st.began || near(st.clean) || near(st.prev) {
		st.jumps = 0
		return false
	}
	if st.jumps > 0 && !near(st.pending) {
		st.jumps = 0
	}
	st.jumps++
	st.pending = v
	if st.jumps < cfg.Persist {
		return true
	}
	st.began, st.jumps = false, 0
	return false
}

// believe takes the reading into the median test and the filter.
func (st *State) believe(cfg Config, r probe.Reading) {
	st.good, st.why = true, ""
	size := min(max(cfg.Window, 1), MaxWindow)
	h := max(0, r.At-st.goodAt)
	if !st.began || h > cfg.Stale {
		st.count, st.next = 0, 0
	}
	st.window[st.next] = r.Hot
	st.next = (st.next + 1) % size
	st.count = min(st.count+1, size)
	st.prev = r.Hot
	st.clean = hampel(st.window[:st.count], r.Hot, cfg.Floor)
	if !st.began {
		st.filtered = st.clean
	} else {
		st.filtered += temp.C(alpha(h, cfg.Tf) * float64(st.clean-st.filtered))
	}
	st.began, st.goodAt = true, r.At
}

// alpha is the share of the way that the filter goes in an interval h: 1 - exp(-h/Tf). For
// white noise at a constant interval the variance falls to alpha/(2-alpha).
func alpha(h, tf time.Duration) float64 {
	if tf <= 0 {
		return 1
	}
	return -math.Expm1(-h.Seconds() / tf.Seconds())
}

// hampel gives v, or the window's median if v stands too far from it.
func hampel(window []temp.C, v temp.C, floor temp.Delta) temp.C {
	var a [MaxWindow]float64
	n := len(window)
	for i, w := range window {
		a[i] = float64(w)
	}
	m := median(a[:n])
	for i, w := range window {
		a[i] = math.Abs(float64(w) - m)
	}
	scale := toSigma * max(median(a[:n]), float64(floor))
	if math.Abs(float64(v)-m) > Outlier*scale {
		return temp.C(m)
	}
	return v
}

// median sorts a, at most MaxWindow long, and gives its middle; of an even number the lower
// of the two in the middle, so that the median is always a value that was read.
func median(a []float64) float64 {
	for i := 1; i < len(a); i++ {
		for j := i; j > 0 && a[j] < a[j-1]; j-- {
			a[j], a[j-1] = a[j-1], a[j]
		}
	}
	return a[(len(a)-1)/2]
}
