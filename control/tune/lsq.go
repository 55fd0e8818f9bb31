package tune

import "math"

// maxColumns is the most figures that one linear fit has.
const maxColumns = 6

// ortho is the linear least-squares fit of columns to y, by Gram and Schmidt done twice, which
// keeps its digits where columns are nearly alike.
type ortho struct {
	q [maxColumns][]float64           // orthonormal columns
	r [maxColumns][maxColumns]float64 // upper triangle: column j is sum of q[i] r[i][j]
	n int                             // columns held
}

// add takes a column in. false if it adds nothing to those that are there.
func (o *ortho) add(column []float64) bool {
	q := append(o.q[o.n][:0], column...)
	o.q[o.n] = q
	size := math.Sqrt(dot(q, q))
	for i := range o.n {
		o.r[i][o.n] = 0
	}
	for range 2 {
		for i := range o.n {
			c := dot(o.q[i], q)
			o.r[i][o.n] += c
			for k := range q {
				q[k] -= c * o.q[i][k]
			}
		}
	}
	left := math.Sqrt(dot(q, q))
	if !(left > 1e-9*size) || !finite(left) {
		return false
	}
	for k := range q {
		q[k] /= left
	}
	o.r[o.n][o.n] = left
	o.n++
	return true
}

// solve gives the coefficients of the fit to y and writes what is left over into rest, which
// has the length of y; rss is the sum of its squares.
func (o *ortho) solve(y, rest []float64) (coef [maxColumns]float64, rss float64) {
	copy(rest, y)
	var c [maxColumns]float64
	for i := range o.n {
		c[i] = dot(o.q[i], rest)
		for k := range rest {
			rest[k] -= c[i] * o.q[i][k]
		}
	}
	for i := o.n - 1; i >= 0; i-- {
		coef[i] = c[i]
		for j := i + 1; j < o.n; j++ {
			coef[i] -= o.r[i][j] * coef[j]
		}
		coef[i] /= o.r[i][i]
	}
	return coef, dot(rest, rest)
}

// covariance gives the covariances of the coefficients for readings of variance 1: the inverse
// of the columns' products with each other.
func (o *ortho) covariance() (cov [maxColumns][maxColumns]float64) {
	var inv [maxColumns][maxColumns]float64 // of r
	for j := range o.n {
		inv[j][j] = 1 / o.r[j][j]
		for i := j - 1; i >= 0; i-- {
			sum := 0.0
			for k := i + 1; k <= j; k++ {
				sum += o.r[i][k] * inv[k][j]
			}
			inv[i][j] = -sum / o.r[i][i]
		}
	}
	for i := range o.n {
		for j := range o.n {
			for k := max(i, j); k < o.n; k++ {
				cov[i][j] += inv[i][k] * inv[j][k]
			}
		}
	}
	return cov
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}

// simplex finds a low place of f from the start x with first steps d, by Nelder and Mead's
// method with their usual factors, in at most three figures.
func simplex(x, d [3]float64, dims, rounds int, f func([3]float64) float64) ([3]float64, float64) {
	type corner struct {
		x [3]float64
		f float64
	}
	var s [4]corner
	s[0] = corner{x, f(x)}
	for i := range dims {
		y := x
		y[i] += d[i]
		s[i+1] = corner{y, f(y)}
	}
	along := func(from, to [3]float64, way float64) corner {
		var y [3]float64
		for i := range dims {
			y[i] = from[i] + way*(to[i]-from[i])
		}
		return corner{y, f(y)}
	}
	for range rounds {
		for i := 1; i <= dims; i++ { // in order, best first
			for j := i; j > 0 && s[j].f < s[j-1].f; j-- {
				s[j], s[j-1] = s[j-1], s[j]
			}
		}
		worst := &s[dims]
		if worst.f-s[0].f <= 1e-9*math.Abs(s[0].f) {
			break
		}
		var middle [3]float64
		for i := range dims {
			for j := range dims {
				middle[i] += s[j].x[i] / float64(dims)
			}
		}
		over := along(middle, worst.x, -1)
		switch {
		case over.f < s[0].f:
			if far := along(middle, worst.x, -2); far.f < over.f {
				over = far
			}
			*worst = over
		case over.f < s[dims-1].f:
			*worst = over
		default:
			near := along(middle, worst.x, 0.5)
			if over.f < worst.f {
				near = along(middle, over.x, 0.5)
			}
			if near.f < min(over.f, worst.f) {
				*worst = near
				continue
			}
			for i := 1; i <= dims; i++ {
				s[i] = along(s[0].x, s[i].x, 0.5)
			}
		}
	}
	best := s[0]
	for _, c := range s[1 : dims+1] {
		if c.f < best.f {
			best = c
		}
	}
	return best.x, best.f
}
