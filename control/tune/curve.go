package tune

import "math"

// The ways that read a few points off a step response. t are times from the step, s; y the rise
// since, °C; du the step in duty. The response must have settled at its end, and rise evenly
// enough that it passes a height once. They give starting values and a second opinion.

// TwoPoint gives the model whose response is at 28.3 and at 63.2 % when this one is: Bequette,
// Process Control (2003), section 4.2, read; Smith 1972. false if the curve has no such points.
func TwoPoint(t, y []float64, du float64) (Model, bool) {
	end := ending(y)
	t28, ok28 := reach(t, y, 0.283*end)
	t63, ok63 := reach(t, y, 0.632*end)
	m := Model{Kind: First, K: end / du, T: 1.5 * (t63 - t28)}
	m.L = max(0, t63-m.T)
	return m, ok28 && ok63 && m.Check() == nil && m.T > 0
}

// Area gives the model by the areas above and below the response: Åström and Hägglund, PID
// Controllers (1995), from memory. false if the curve gives none.
func Area(t, y []float64, du float64) (Model, bool) {
	end := ending(y)
	if !(end/du > 0) {
		return Model{}, false
	}
	lost := 0.0
	for i := 1; i < len(t); i++ {
		lost += (end - (y[i]+y[i-1])/2) * (t[i] - t[i-1])
	}
	residence, area := lost/end, 0.0
	for i := 1; i < len(t) && t[i-1] < residence; i++ {
		to, yTo := t[i], y[i]
		if to > residence {
			yTo = y[i-1] + (y[i]-y[i-1])*(residence-t[i-1])/(to-t[i-1])
			to = residence
		}
		area += (y[i-1] + yTo) / 2 * (to - t[i-1])
	}
	m := Model{Kind: First, K: end / du, T: math.E * area / end}
	m.L = max(0, residence-m.T)
	return m, m.Check() == nil && m.T > 0
}

// Tangent63 gives the model by the steepest tangent, which leaves the start after the dead time,
// and by 63.2 % of the rise, reached after T more: what AMIGO was made for. window is the number
// of points that the slope is taken over, 2 or more; drop is how far below the start the tangent
// begins, a of ZNStep, °C for the whole duty.
func Tangent63(t, y []float64, du float64, window int) (m Model, drop float64, ok bool) {
	end := ending(y)
	steepest, through, at := 0.0, 0.0, 0.0
	for i := 0; i+window <= len(t); i++ {
		mid, slope, when := straight(t[i:i+window], y[i:i+window])
		if slope*du > steepest*du {
			steepest, through, at = slope, mid, when
		}
	}
	t63, found := reach(t, y, -math.Expm1(-1)*end)
	if !found || steepest == 0 {
		return Model{}, 0, false
	}
	dead := max(0, at-through/steepest)
	m = Model{Kind: First, K: end / du, T: t63 - dead, L: dead}
	return m, steepest / du * dead, m.Check() == nil
}

// ending is the height that the curve ends at: the mean of its last fiftieth.
func ending(y []float64) float64 {
	n := max(1, len(y)/50)
	sum := 0.0
	for _, v := range y[len(y)-n:] {
		sum += v
	}
	return sum / float64(n)
}

// reach gives when the curve first passes a height for good, that is without falling back below
// it at the next point.
func reach(t, y []float64, height float64) (float64, bool) {
	sign := 1.0
	if height < 0 {
		sign = -1
	}
	for i := 1; i < len(y); i++ {
		a, b := sign*(y[i-1]-sign*math.Abs(height)), sign*(y[i]-sign*math.Abs(height))
		if a < 0 && b >= 0 {
			return t[i-1] + (t[i]-t[i-1])*a/(a-b), true
		}
	}
	return 0, false
}

// straight gives the value, the slope and the time in the middle of points.
func straight(t, y []float64) (mid, slope, at float64) {
	n := float64(len(t))
	for i := range t {
		mid += y[i] / n
		at += t[i] / n
	}
	up, across := 0.0, 0.0
	for i := range t {
		up += (t[i] - at) * (y[i] - mid)
		across += (t[i] - at) * (t[i] - at)
	}
	return mid, up / across, at
}
