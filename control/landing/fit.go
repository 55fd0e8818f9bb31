package landing

import (
	"math"

	"strawline/control/tune"
)

// Fit finds the model for a landing in the swings of a relay test: hold is the duty that held
// the oven before them, 0 to 1, and lag the one that a start showed, s. It fits
//
//	y = a + K int(q - hold) - c t - 1/T int(y - mean)     Tau q' = u(t-Th) - q
//
// by least squares, the four in front for each Tau and Th of a grid that is refined. It tells
// dead time and lag apart where a fit of two whole time constants cannot. ok is false where the
// record does not carry it.
func Fit(rec tune.Record, hold, lag float64) (m Model, ok bool) {
	r := swings(rec, hold)
	if len(r.y) < 100 || !(lag > 0) {
		return Model{}, false
	}
	best := trial{left: math.Inf(1)}
	step := max(1, lag/8)
	for th := 0.0; th <= lag+step/2; th += step {
		for tau := max(0.8, 0.1*lag); tau < 1.9*lag; tau *= 1.35 {
			best = best.or(r.try(th, tau, hold))
		}
	}
	wide := 1.15
	for range 16 {
		b := best
		for _, th := range []float64{b.th - step/2, b.th, b.th + step/2} {
			for _, tau := range []float64{b.tau / wide, b.tau, b.tau * wide} {
				if th >= 0 && tau > 0.5 {
					best = best.or(r.try(th, tau, hold))
				}
			}
		}
		step, wide = step*0.8, 1+(wide-1)*0.8
	}
	if !(best.k > 0) || math.IsInf(best.left, 1) {
		return Model{}, false
	}
	m = Model{K: best.k, Tau: max(1, best.tau), Th: best.th, Hold: hold,
		Sigma: math.Sqrt(best.left / float64(len(r.y)))}
	m.T = 60 * m.Lag()
	if best.back > 0 {
		m.T = min(m.T, max(8*m.Lag(), 1/best.back))
	}
	return m, true
}

// record is a relay test by the second: duty is in force from an entry to the next.
type record struct {
	t, y, duty []float64
	mean       float64
}

// swings gives the part of the record from the first duty that is not hold, in means of a second.
func swings(rec tune.Record, hold float64) (r record) {
	from := -1
	var y, u, n, at, sum float64
	for i, s := range rec {
		if from < 0 {
			if math.Abs(s.Duty-hold) < 0.01 {
				continue
			}
			from, at = i, s.T
		}
		if i+1 == len(rec) {
			break
		}
		y, n = y+s.Y, n+1
		h := rec[i+1].T - s.T
		u += s.Duty * h
		if rec[i+1].T-at > inner-h/2 {
			d := rec[i+1].T - at
			r.t, r.y, r.duty = append(r.t, at), append(r.y, y/n), append(r.duty, u/d)
			sum += y / n
			y, u, n, at = 0, 0, 0, rec[i+1].T
		}
	}
	r.mean = sum / max(1, float64(len(r.y)))
	return r
}

type trial struct {
	th, tau, k, back, left float64
}

func (t trial) or(o trial) trial {
	if o.k > 0 && o.left < t.left {
		return o
	}
	return t
}

// try fits what is linear.
func (r *record) try(th, tau, hold float64) trial {
	var a [4][5]float64
	q, heat, area, yy := 0.0, 0.0, 0.0, 0.0
	j := 0 // entry whose duty arrives
	for i := range r.y {
		x := [4]float64{1, heat, r.t[i] - r.t[0], area}
		for p := range 4 {
			for c := range 4 {
				a[p][c] += x[p] * x[c]
			}
			a[p][4] += x[p] * (r.y[i] - r.mean)
		}
		yy += (r.y[i] - r.mean) * (r.y[i] - r.mean)
		if i+1 == len(r.y) {
			break
		}
		h := r.t[i+1] - r.t[i]
		// The duty that arrives meanwhile, as its mean.
		from, to := r.t[i]-th, r.t[i+1]-th
		u := 0.0
		for k := j; k < len(r.y); k++ {
			end := math.Inf(1)
			if k+1 < len(r.y) {
				end = r.t[k+1]
			}
			if end <= from {
				j = k + 1
				continue
			}
			if r.t[k] >= to {
				break
			}
			u += (r.duty[k] - hold) * (min(to, end) - max(from, r.t[k]))
		}
		u /= h
		f := -math.Expm1(-h / tau)
		heat += u*h + (q-u)*tau*f
		q += (u - q) * f
		area += h * ((r.y[i]+r.y[i+1])/2 - r.mean)
	}
	right := [4]float64{a[0][4], a[1][4], a[2][4], a[3][4]}
	x, ok := solve(a[:])
	if !ok {
		return trial{left: math.Inf(1)}
	}
	for p := range 4 {
		yy -= x[p] * right[p]
	}
	return trial{th: th, tau: tau, k: x[1], back: -x[3], left: max(0, yy)}
}
