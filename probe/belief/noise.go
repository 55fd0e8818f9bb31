package belief

import "math"

// lively learns how lively a channel's numbers are, so that a chip that repeats itself honestly
// is not called frozen. It bounds the chance that a reading falls on one given code, wherever
// between two codes the temperature may come to rest.
//
// Two neighbouring codes together cover every place that one code can have. If a reading falls
// on those two with chance q, four in a row do with q⁴ or more, whatever the noise looks like;
// so q is at most the fourth root of the share of fours that stay within one code of each
// other. Differences between neighbours in time do not see a slow drift; and a board that
// prints each conversion twice raises the share by itself. A chip quieter than half its step
// never leaves its two codes: q is 1, and no count of equal codes says anything about it.
type lively struct {
	step   float64    // °C from one code to the next, as of the last window; 0 not known
	least  float64    // the smallest change in this window
	recent [4]float64 // the last readings, a ring
	filled int
	low    float64
	high   float64
	n      int     // readings in this window
	close  int     // fours in it that stay within one code
	bits   float64 // -ln q, of the quietest window so far
	known  bool
}

const (
	// noiseWindow is a minute at four readings a second: enough that a share of a fifth is
	// known within a third of itself.
	noiseWindow = 240
	// stepWindow is what the first look takes, which only learns the step.
	stepWindow = 40
	// noiseSpread is the most that a window may span, °C: 3 °C a minute is a twentieth of a
	// chip's step from one reading to the next. With more the channel was not steady.
	noiseSpread = 3
	// leastStep is the smallest change taken for a code, °C: a decoded word moves by a
	// thousandth when only its cold junction does.
	leastStep = 0.02
)

// add takes a reading; changed says that the word is another one than before. A window is
// counted only once the word has changed after it, so that a frozen word teaches nothing.
func (k *lively) add(v float64, changed bool) {
	size := noiseWindow
	if k.step == 0 {
		size = stepWindow
	}
	if k.n >= size {
		if !changed {
			return
		}
		k.endWindow()
	}
	if k.n == 0 {
		k.low, k.high, k.least = v, v, 0
	}
	if k.filled > 0 {
		d := math.Abs(v - k.recent[(k.filled-1)%4])
		if d >= leastStep && (k.least == 0 || d < k.least) {
			k.least = d
		}
	}
	k.recent[k.filled%4] = v
	k.filled++
	if k.filled == 8 {
		k.filled = 4
	}
	k.low, k.high = min(k.low, v), max(k.high, v)
	k.n++
	if k.filled >= 4 && spread(k.recent) <= 1.5*k.step {
		k.close++
	}
	if k.high-k.low > noiseSpread {
		k.n, k.close = 0, 0
	}
}

// endWindow ends a window. The share is taken two standard deviations above the one counted, and
// of all windows the quietest stands.
func (k *lively) endWindow() {
	if k.step > 0 {
		c := float64(k.close)
		share := min(1, (c+2*math.Sqrt(c)+3)/float64(k.n))
		bits := -math.Log(share) / 4
		if !k.known || bits < k.bits {
			k.bits, k.known = bits, true
		}
	}
	if k.least > 0 {
		k.step = k.least
	}
	k.n, k.close = 0, 0
}

// restart forgets the window under way, as after a fault or a gap.
func (k *lively) restart() { k.n, k.close, k.filled = 0, 0, 0 }

func spread(a [4]float64) float64 {
	return max(a[0], a[1], a[2], a[3]) - min(a[0], a[1], a[2], a[3])
}
