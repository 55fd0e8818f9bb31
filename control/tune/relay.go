package tune

import "math"

// Relay is the relay test as a state machine: it holds a duty until the oven is steady, then
// switches between one above and one below it as the reading crosses the middle, until two
// swings are alike, and puts the duty back. Fill in the plan and call Step with every reading;
// the record to hand to RelayTest is what went in and came out.
type Relay struct {
	Hold  float64 // duty that holds the oven where it is, above 0 and below 1
	Slope float64 // °C/s for the whole duty, as a cold start tells it; about is enough
	Lag   float64 // s, apparent dead time; about is enough
	Sigma float64 // noise of one reading, standard deviation, °C
	LSB   float64 // step that readings are rounded to, °C; 0 for none
	Limit float64 // °C; the test ends above it
	// Window is what the board spreads the duty over, s; 0 for none. The duty moves only at whole
	// windows from the first Step, so that each move waits equally long for the board's window:
	// a window's worth of a move more or less would weigh as much as the swing itself.
	Window float64

	began, last   float64 // s
	first         float64 // s, of the first Step
	windows       float64 // whole ones since then
	open          bool    // a new window: the duty may move
	state         relayState
	why           string
	blocks        [steadyBlocks]float64 // means of the steady stretch, a ring
	blockAt       [steadyBlocks]float64
	filled        int
	sum, sumN     float64
	sumFrom       float64
	middle        float64 // °C, where the oven was steady
	up, down      float64 // duties
	eps, expected float64 // °C; s, length of a period
	smooth        float64 // the reading, lightly filtered, °C
	on            bool
	switched      float64 // s
	risen         float64 // when the duty last went up, s
	periods       int
	top, bottom   float64             // extremes since then, °C
	length, tall  float64             // of the period before
	fall          [fallBlocks]float64 // the smoothed reading of the last seconds, a ring
	fallAt        [fallBlocks]float64
	fallen        int // how many of them there were
}

type relayState uint8

const (
	relayNew relayState = iota
	relaySteady
	relaySwing
	relayDone
)

// Guards of the test, from the reference study unless they are called ours.
const (
	steadySlope  = 0.01 // °C/s that the reading may move before the test
	steadyLags   = 8.0  // apparent dead times that it must have been so
	patienceLags = 60.0 // and how long to wait for it at most; ours
	steadyBlocks = 32
	relayRatio   = 2.0 // of the step up to the step down
	relayHeight  = 5.0 // °C that the step down alone would move the oven in one lag
	relayMost    = 0.8 // of the holding duty that the step down may take; 0.35 at most
	relayPeriods = 6.0 // expected periods that the test may take
	relaySlack   = 1.1 // dead time beyond the lag that the expected period allows for; ours
	relayLength  = 0.05
	relayTall    = 0.10
	relayWhole   = 3    // whole periods at least, so that a fit has something to go by; ours
	relayTop     = 0.97 // duty that the step up leaves room to; ours
	fallBlocks   = 16
)

// Why a relay test ended.
const (
	WhyGood     = "two swings were alike: the test is done"
	WhyPlan     = "the plan makes no test"
	WhyReading  = "there was no usable reading"
	WhyLimit    = "the reading passed the limit of the test"
	WhyDoor     = "the reading fell as if the door was opened"
	WhyUnsteady = "the oven did not become steady"
	WhyLong     = "the swings took too long or did not repeat"
)

// Step takes one reading (°C) at a time (s, later than the one before) and gives the duty from
// then on. done is true from the step on that ends the test; why says how it ended, in words,
// WhyGood if well. Afterwards the duty is Hold, except after a limit or where there is no
// reading: then it is 0. It allocates nothing.
func (r *Relay) Step(now, reading float64) (duty float64, done bool, why string) {
	if r.state == relayDone {
		return r.rest(), true, r.why
	}
	if r.state == relayNew {
		if !r.plan() {
			return r.end(WhyPlan)
		}
		r.state, r.began, r.last = relaySteady, now, now-1e-9
		r.first, r.smooth, r.sumFrom = now, reading, now
	}
	if !finite(reading) || !(now > r.last) {
		return r.end(WhyReading)
	}
	if reading > r.Limit {
		return r.end(WhyLimit)
	}
	// A tenth of a lag smooths the switching and delays it little.
	r.smooth += -math.Expm1(-(now-r.last)/(r.Lag/10)) * (reading - r.smooth)
	r.last, r.open = now, true
	if r.Window > 0 {
		whole := math.Floor((now-r.first)/r.Window + 1e-6)
		r.open = whole > r.windows
		r.windows = whole
	}
	if r.fell(now) {
		return r.end(WhyDoor)
	}
	if r.state == relaySteady {
		return r.wait(now, reading)
	}
	return r.swing(now)
}

// plan works out the duties and the hysteresis; false if they make no test.
func (r *Relay) plan() bool {
	ok := r.Hold > 0 && r.Hold < 1 && positive(r.Slope) && positive(r.Lag) && r.Sigma >= 0 &&
		r.LSB >= 0 && r.Window >= 0 && finite(r.Sigma+r.LSB+r.Limit+r.Window)
	if !ok {
		return false
	}
	down := min(relayMost*r.Hold, 0.35, relayHeight/(r.Slope*r.Lag))
	up := min(relayRatio*down, relayTop-r.Hold)
	down = min(down, up/1.5) // unlike steps, or the test cannot tell T from L
	if up < minStep {
		return false
	}
	// A board takes whole per mille.
	r.up, r.down = math.Round(1000*(r.Hold+up))/1000, math.Round(1000*(r.Hold-down))/1000
	r.eps = max(3*r.Sigma, 2*r.LSB, 0.1)
	about, err := RelayCycle(Model{Kind: Integrating, Kv: r.Slope, L: relaySlack * r.Lag},
		up, down, r.eps)
	r.expected = about.Period()
	return err == nil
}

// rest is the duty after the test.
func (r *Relay) rest() float64 {
	if r.why == WhyGood || r.why == WhyDoor || r.why == WhyUnsteady || r.why == WhyLong {
		return r.Hold
	}
	return 0
}

func (r *Relay) end(why string) (float64, bool, string) {
	r.state, r.why = relayDone, why
	return r.rest(), true, why
}

// wait holds the duty until the reading has been steady.
func (r *Relay) wait(now, reading float64) (float64, bool, string) {
	r.sum += reading
	r.sumN++
	if span := now - r.sumFrom; span >= steadyLags*r.Lag/steadyBlocks {
		at := r.filled % steadyBlocks
		r.blocks[at], r.blockAt[at] = r.sum/r.sumN, r.sumFrom+span/2
		r.filled++
		r.sum, r.sumN, r.sumFrom = 0, 0, now
	}
	if r.filled >= steadyBlocks && r.open {
		mid, slope, at := straight(r.blockAt[:], r.blocks[:])
		if math.Abs(slope) < steadySlope {
			r.state, r.middle = relaySwing, mid+slope*(now-at)
			r.on, r.switched, r.risen, r.began = true, now, now, now
			r.top, r.bottom = r.middle, r.middle
			return r.up, false, ""
		}
	}
	if now-r.began > patienceLags*r.Lag {
		return r.end(WhyUnsteady)
	}
	return r.Hold, false, ""
}

// swing switches the duty and looks whether two swings were alike.
func (r *Relay) swing(now float64) (float64, bool, string) {
	r.top, r.bottom = max(r.top, r.smooth), min(r.bottom, r.smooth)
	switch {
	case r.open && r.on && r.smooth > r.middle+r.eps:
		r.on, r.switched = false, now
	case r.open && !r.on && r.smooth < r.middle-r.eps:
		r.on, r.switched = true, now
		length, tall := now-r.risen, r.top-r.bottom
		r.periods++
		alike := math.Abs(length-r.length) <= relayLength*r.length &&
			math.Abs(tall-r.tall) <= relayTall*r.tall
		// The first period began at rest and is like no other.
		if r.periods >= relayWhole+1 && alike {
			return r.end(WhyGood)
		}
		r.length, r.tall, r.risen = length, tall, now
		r.top, r.bottom = r.smooth, r.smooth
	}
	if now-r.began > relayPeriods*r.expected || now-r.switched > 2*r.expected {
		return r.end(WhyLong)
	}
	if r.on {
		return r.up, false, ""
	}
	return r.down, false, ""
}

// fell sees a fall of the smoothed reading as only a door makes it.
func (r *Relay) fell(now float64) bool {
	if r.fallen == 0 || now-r.fallAt[(r.fallen-1)%fallBlocks] >= doorTime/(fallBlocks-1) {
		r.fall[r.fallen%fallBlocks], r.fallAt[r.fallen%fallBlocks] = r.smooth, now
		r.fallen++
	}
	for i := range min(r.fallen, fallBlocks) {
		if now-r.fallAt[i] <= doorTime+1e-9 && r.fall[i]-r.smooth > max(doorFall, 10*r.Sigma) {
			return true
		}
	}
	return false
}
