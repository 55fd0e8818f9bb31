package lines

import "math"

const (
	// gateStep is how far from where it was a number is believed at once, in the unit that it
	// is printed in. One digit too many or too few before the decimal mark moves it by 9 at
	// least; what is left is for the heat, which may move by 2 a reading meanwhile.
	gateStep = 5
	// zeroStep is the same across zero, where a lost sign moves it by twice itself.
	zeroStep = 0.6
	// slopeMost is the change a reading up to which a steady steep ramp is believed at once.
	slopeMost = 50
	// agreeing is how many numbers in a row make a jump believed.
	agreeing = 3
)

// verdict is what a gate says of a number.
type verdict uint8

const (
	pass    verdict = iota // believed
	hold                   // not yet: keep it
	passAll                // believed, and the ones kept before it
)

// gate keeps the numbers of one channel from jumping unless the jump lasts.
type gate struct {
	last, prev float64
	n          int // believed so far, 2 at most
	held       [agreeing - 1]float64
	kept       int
}

// take judges v. It also gives how many of those kept before are now not believed: they are
// the oldest.
func (g *gate) take(v float64) (verdict, int) {
	if g.n > 0 && g.near(g.last, v) || g.n > 1 && g.onSlope(v) {
		lone := g.kept
		g.kept = 0
		g.believe(v)
		return pass, lone
	}
	lone := 0
	if g.kept > 0 && !g.follows(v) {
		lone, g.kept = g.kept, 0
	}
	if g.kept < agreeing-1 {
		g.held[g.kept] = v
		g.kept++
		return hold, lone
	}
	g.kept = 0
	g.n = 0
	g.believe(g.held[agreeing-2])
	g.believe(v)
	return passAll, 0
}

func (g *gate) believe(v float64) {
	g.prev, g.last = g.last, v
	g.n = min(g.n+1, 2)
}

func (g *gate) near(a, b float64) bool {
	step := gateStep
	if a < 0 != (b < 0) {
		return math.Abs(a-b) <= zeroStep
	}
	return math.Abs(a-b) < float64(step)
}

// onSlope tells whether v goes on as the last two did.
func (g *gate) onSlope(v float64) bool {
	slope := g.last - g.prev
	steep := math.Abs(slope) >= gateStep && math.Abs(slope) <= slopeMost
	return steep && g.near(g.last+slope, v) && v < 0 == (g.last < 0)
}

// follows tells whether v bears out the last number kept: it is near it, or goes on in its
// direction, away from where the channel was. Where nothing was yet, three make a slope.
func (g *gate) follows(v float64) bool {
	c := g.held[g.kept-1]
	switch {
	case g.n == 0 && g.kept > 1 && !g.near(g.held[0], c):
		return g.near(2*c-g.held[0], v)
	case g.near(c, v):
		return true
	case g.n > 0:
		return (c-g.last)*(v-c) > 0 && math.Abs(v-c) < math.Abs(v-g.last) &&
			math.Abs(v-c) <= 2*math.Abs(c-g.last)
	}
	return g.kept == 1 && math.Abs(v-c) <= slopeMost
}

// close tells whether the channel was last near v.
func (g *gate) close(v float64) bool { return g.n > 0 && math.Abs(g.last-v) <= gateStep }

// rawGate does for chip words what gate does for numbers. Of a word of 32 bits it compares the
// top 14, a temperature in quarter degrees on every chip that sends so many, and the twelve
// that such chips give to the cold junction; of a word of 16 bits the whole. A word printed
// without its leading zeros must also be as long as the last.
type rawGate struct {
	last   uint32
	digits int
	known  bool
	held   [agreeing - 1]uint32
	long   int
	kept   int
}

func (g *rawGate) take(w uint32, digits int) (verdict, int) {
	if g.known && digits == g.digits && nearWord(g.last, w) {
		lone := g.kept
		g.kept, g.last = 0, w
		return pass, lone
	}
	lone := 0
	if g.kept > 0 && !(digits == g.long && nearWord(g.held[g.kept-1], w)) {
		lone, g.kept = g.kept, 0
	}
	if g.kept < agreeing-1 {
		g.held[g.kept], g.long = w, digits
		g.kept++
		return hold, lone
	}
	g.kept = 0
	g.last, g.digits, g.known = w, digits, true
	return passAll, 0
}

func nearWord(a, b uint32) bool {
	apart := func(a, b int64) int64 { return max(a-b, b-a) }
	if a <= 0xFFFF && b <= 0xFFFF {
		return apart(int64(a), int64(b)) < 8*4*gateStep
	}
	hot := apart(int64(int32(a)>>18), int64(int32(b)>>18))
	cold := apart(int64(int16(a)>>4), int64(int16(b)>>4))
	return hot < 4*gateStep && cold < 16*gateStep && a&0x3000F == b&0x3000F
}
