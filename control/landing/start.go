package landing

import "math"

// trail keeps a heat-up: when it is full, each two looks become one.
type trail struct {
	t, y [trailSize]float64 // s since the start, °C
	n    int
	each int // looks in one entry
	ty   struct{ t, y float64 }
	k    int // looks in the entry under way
}

const trailSize = 512

func (r *trail) reset() { r.n, r.k, r.each, r.ty.t, r.ty.y = 0, 0, 1, 0, 0 }

func (r *trail) add(t, y float64) {
	r.ty.t += t
	r.ty.y += y
	if r.k++; r.k < r.each {
		return
	}
	if r.n == trailSize {
		for i := range trailSize / 2 {
			r.t[i] = (r.t[2*i] + r.t[2*i+1]) / 2
			r.y[i] = (r.y[2*i] + r.y[2*i+1]) / 2
		}
		r.n, r.each = trailSize/2, 2*r.each
		return // the entry under way goes on to the new length
	}
	k := float64(r.k)
	r.t[r.n], r.y[r.n] = r.ty.t/k, r.ty.y/k
	r.n++
	r.k, r.ty.t, r.ty.y = 0, 0, 0
}

// line fits a straight line to the entries from i on: their mean time, its height there and its
// slope.
func (r *trail) line(i int) (t, y, slope float64) {
	n := float64(r.n - i)
	for j := i; j < r.n; j++ {
		t += r.t[j]
		y += r.y[j]
	}
	t, y = t/n, y/n
	var tt, ty float64
	for j := i; j < r.n; j++ {
		d := r.t[j] - t
		tt += d * d
		ty += d * r.y[j]
	}
	if tt == 0 {
		return t, y, 0
	}
	return t, y, ty / tt
}

// since gives the first entry at or after t.
func (r *trail) since(t float64) int {
	low, high := 0, r.n
	for low < high {
		if mid := (low + high) / 2; r.t[mid] < t {
			low = mid + 1
		} else {
			high = mid
		}
	}
	return low
}

// lately fits a straight line to the entries since t, to two at least: after an hour one entry
// may be longer than what is asked for.
func (r *trail) lately(t float64) (mean, y, slope float64) {
	return r.line(max(0, min(r.since(t), r.n-2)))
}

// gain fits y = a + k U t - b int(y - room) to the entries from i on, with a weak prior on b
// that the last slope gives: k in °C/s for the whole duty, and b in 1/s. ok is false where the
// record does not carry it.
func (r *trail) gain(i int, duty, room, sigma float64) (k, b float64, ok bool) {
	n := r.n - i
	if n < 25 {
		return 0, 0, false
	}
	_, _, sl := r.line(i)
	end := r.y[r.n-1]
	b0 := 0.35 * sl / max(20, end-room)
	if b0 <= 0 {
		return 0, 0, false
	}
	var a [3][5]float64
	w := 1 / (sigma * sigma)
	area := 0.0
	for j := i; j < r.n; j++ {
		if j > i {
			area += (r.t[j] - r.t[j-1]) * ((r.y[j]+r.y[j-1])/2 - room)
		}
		x := [3]float64{1, r.t[j] - r.t[i], -area}
		for p := range 3 {
			for q := range 3 {
				a[p][q] += x[p] * x[q] * w
			}
			a[p][4] += x[p] * (r.y[j] - r.y[i]) * w
		}
	}
	prior := 1 / (0.7 * b0 * 0.7 * b0)
	a[2][2] += prior
	a[2][4] += prior * b0
	c, ok := solve(a[:])
	if !ok || c[1] <= 0 {
		return 0, 0, false
	}
	return c[1] / duty, max(c[2], 1e-6), true
}

// solve is Gauss's elimination with pivots, of at most four unknowns; it uses a up.
func solve(a [][5]float64) (x [4]float64, ok bool) {
	n := len(a)
	for c := range n {
		p := c
		for r := c + 1; r < n; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[p][c]) {
				p = r
			}
		}
		a[c], a[p] = a[p], a[c]
		if math.Abs(a[c][c]) < 1e-12 {
			return x, false
		}
		for r := c + 1; r < n; r++ {
			f := a[r][c] / a[c][c]
			for j := c; j <= 4; j++ {
				a[r][j] -= f * a[c][j]
			}
		}
	}
	for c := n - 1; c >= 0; c-- {
		x[c] = a[c][4]
		for j := c + 1; j < n; j++ {
			x[c] -= a[c][j] * x[j]
		}
		x[c] /= a[c][c]
	}
	return x, true
}
