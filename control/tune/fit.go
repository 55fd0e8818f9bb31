package tune

import "math"

// course is what a fit works on: readings averaged over short stretches, and the duty.
type course struct {
	t, y   []float64 // s, °C: means of so many readings
	at, u  []float64 // duty u[i] from at[i] on; u[0] from ever
	wander bool      // the baseline may drift in a straight line
	h      float64   // s between two of t, about
}

// points is how many stretches a record is averaged down to at most; a stretch stays far
// shorter than any lag of an oven that is worth fitting in so long a record.
const points = 1500

// newCourse averages a record. before is the duty that was in force for long before it.
func newCourse(r Record, before float64, wander bool) *course {
	span := r[len(r)-1].T - r[0].T
	block := max((len(r)+points-1)/points, int(min(float64(len(r)), float64(len(r))/span)))
	block = max(1, min(block, len(r)/(4*minSamples))) // readings of a second belong together
	c := &course{wander: wander, at: []float64{math.Inf(-1)}, u: []float64{before}}
	for i := 0; i+block <= len(r); i += block {
		t, y := 0.0, 0.0
		for _, s := range r[i : i+block] {
			t += s.T / float64(block)
			y += s.Y / float64(block)
		}
		c.t, c.y = append(c.t, t), append(c.y, y)
	}
	for _, s := range r {
		if s.Duty != c.u[len(c.u)-1] {
			c.at, c.u = append(c.at, s.T), append(c.u, s.Duty)
		}
	}
	c.h = span / float64(len(c.t))
	return c
}

// lag writes into q what a lag of time constant t (s) makes of the duty, dead s late, less the
// duty from before. It is exact for a duty that stays between its changes.
func (c *course) lag(q []float64, t, dead float64) {
	x, next, now := 0.0, 1, math.Inf(-1)
	u := 0.0
	held, factor := -1.0, 0.0
	advance := func(to float64) {
		if dt := to - now; dt > 0 && !math.IsInf(now, -1) {
			if dt != held {
				held, factor = dt, -math.Expm1(-dt/t)
			}
			x += factor * (u - x)
		}
		now = to
	}
	for i, at := range c.t {
		for next < len(c.at) && c.at[next]+dead <= at {
			advance(c.at[next] + dead)
			u = c.u[next] - c.u[0]
			next++
		}
		advance(at)
		q[i] = x
	}
}

// fitter fits models of one form to a course.
type fitter struct {
	c       *course
	kind    Kind
	q, q2   []float64
	rest    []float64
	ones    []float64
	basis   ortho
	longest float64 // s: T beyond it cannot be told from a slope
}

func newFitter(c *course, kind Kind) *fitter {
	n := len(c.t)
	f := &fitter{c: c, kind: kind, q: make([]float64, n), q2: make([]float64, n),
		rest: make([]float64, n), ones: make([]float64, n)}
	for i := range f.ones {
		f.ones[i] = 1
	}
	f.longest = 20 * (c.t[n-1] - c.t[0])
	return f
}

// times turns the figures that the search moves into dead time and time constants.
func (f *fitter) times(x [3]float64) (dead, t, t2 float64) {
	return math.Abs(x[0]), math.Exp(x[1]), math.Exp(x[2])
}

// answer writes what the duty becomes behind the lags into f.q.
func (f *fitter) answer(dead, t, t2 float64) {
	f.c.lag(f.q, t, dead)
	if f.kind == Second {
		f.c.lag(f.q2, t2, dead)
		for i := range f.q {
			f.q[i] = (t*f.q[i] - t2*f.q2[i]) / (t - t2)
		}
	}
}

// cost is the sum of squares that the best K, level and wander leave with these times.
func (f *fitter) cost(x [3]float64) float64 {
	dead, t, t2 := f.times(x)
	least := f.c.h / 20
	span := f.c.t[len(f.c.t)-1] - f.c.t[0]
	if !(t > least && t < f.longest) || dead > span/2 ||
		f.kind == Second && !(t2 > least && t2 < 0.95*t) {
		return math.Inf(1)
	}
	f.answer(dead, t, t2)
	f.basis.n = 0
	if !f.basis.add(f.ones) || f.c.wander && !f.basis.add(f.c.t) || !f.basis.add(f.q) {
		return math.Inf(1)
	}
	coef, rss := f.basis.solve(f.c.y, f.rest)
	if !(coef[f.basis.n-1] > 0) {
		return math.Inf(1)
	}
	return rss
}

// fitted is a model with what the fit left over.
type fitted struct {
	model Model
	rss   float64 // °C²
	eff   float64 // independent readings that the course is worth
	rms   float64 // of what is left over, °C
	sure  float64 // relative half width of T
}

// fit searches from a start: dead time and time constant in s.
func (f *fitter) fit(dead, t float64) (fitted, bool) {
	best, least := [3]float64{}, math.Inf(1)
	dims := 2
	if f.kind == Second {
		dims = 3
	}
	for _, share := range []float64{0.25, 0.75} { // of the apparent dead time that is a lag
		start := [3]float64{max(dead, f.c.h), math.Log(t), 0}
		if f.kind == Second {
			start[2] = math.Log(min(max(share*dead, f.c.h), 0.5*t))
			start[0] *= 1 - share
		}
		x, cost := simplex(start, [3]float64{0.3*start[0] + 0.1*f.c.h, 0.3, 0.4}, dims, 200, f.cost)
		// Once more from there: a simplex can flatten out before it has arrived.
		x, cost = simplex(x, [3]float64{0.1*math.Abs(x[0]) + 0.1*f.c.h, 0.1, 0.1}, dims, 200, f.cost)
		if cost < least {
			best, least = x, cost
		}
		if f.kind != Second {
			break
		}
	}
	if math.IsInf(least, 1) {
		return fitted{}, false
	}
	return f.spread(best)
}

// spread makes the model of the best times and works out how sure its figures are, from how
// much each figure moves the curve, the size of what is left over, and how alike neighbours in
// it are: a curve that misses for a minute on end is worth fewer readings than it has.
func (f *fitter) spread(x [3]float64) (fitted, bool) {
	f.cost(x) // sets the columns
	coef, rss := f.basis.solve(f.c.y, f.rest)
	k := coef[f.basis.n-1]
	dead, t, t2 := f.times(x)
	m := Model{Kind: f.kind, K: k, T: t, L: dead}
	if f.kind == Second {
		m.T2 = t2
	}
	n := float64(len(f.c.y))
	eff := worth(f.rest, rss)

	// How the curve answers to each figure, by small differences.
	dims := 2
	if f.kind == Second {
		dims = 3
	}
	columns := make([][]float64, dims)
	for d := range dims {
		step := 1e-4
		if d == 0 {
			step = max(1e-3*f.c.h, 1e-4*dead)
		}
		up, down := x, x
		up[d] += step
		down[d] -= step
		if d == 0 {
			up[0], down[0] = dead+step, max(0, dead-step)
			step = (up[0] - down[0]) / 2
		}
		f.answer(f.times(up))
		col := append([]float64(nil), f.q...)
		f.answer(f.times(down))
		for i := range col {
			col[i] = k * (col[i] - f.q[i]) / (2 * step)
		}
		columns[d] = col
	}
	f.answer(dead, t, t2)
	f.basis.n = 0
	ok := f.basis.add(f.ones) && (!f.c.wander || f.basis.add(f.c.t))
	first := f.basis.n // of K, then of the times
	ok = ok && f.basis.add(f.q)
	for _, c := range columns {
		ok = ok && f.basis.add(c)
	}
	if !ok {
		return fitted{}, false
	}
	free := max(2, eff-float64(f.basis.n))
	variance := rss / free // of one stretch, as if neighbours were alone, times their likeness
	cov := f.basis.covariance()
	half := func(v float64) float64 { return 1.96 * math.Sqrt(max(0, v*variance)) }
	at := func(i, j int) float64 { return cov[first+i][first+j] }
	m.Half = Half{K: half(at(0, 0)), L: half(at(1, 1)), T: t * half(at(2, 2))}
	if f.kind == Second {
		m.Half.T2 = t2 * half(at(3, 3))
	}
	// The slope K/T: relative moves of K and of ln T, which go together.
	m.Half.Slope = k / t * half(at(0, 0)/(k*k)+at(2, 2)-2*at(0, 2)/k)
	return fitted{model: m, rss: rss, eff: eff, rms: math.Sqrt(rss / n), sure: m.Half.T / t}, true
}

// worth is how many independent readings what is left over is worth: its number, over twice the
// sum of its likeness to itself shifted, up to where the likeness first ends, less one.
func worth(rest []float64, rss float64) float64 {
	if !(rss > 0) {
		return float64(len(rest))
	}
	sum := 1.0
	for shift := 1; shift < len(rest)/2; shift++ {
		alike := dot(rest[:len(rest)-shift], rest[shift:]) / rss
		if alike <= 0 {
			break
		}
		sum += 2 * alike
	}
	return float64(len(rest)) / sum
}
