package landing

import "math"

// past keeps the heat that was sent: the integral of the duty at each reading.
type past struct {
	t, sum [pastSize]float64 // s, and duty times s
	n      int               // written so far
}

// pastSize is more than two minutes of four readings a second.
const pastSize = 600

// add notes that the duty was u for the last h seconds up to t.
func (p *past) add(t, h, u float64) {
	sum := 0.0
	if p.n == 0 {
		p.t[0], p.sum[0], p.n = t-h, 0, 1
	} else {
		sum = p.sum[(p.n-1)%pastSize]
	}
	i := p.n % pastSize
	p.t[i], p.sum[i] = t, sum+u*h
	p.n++
}

// at gives the integral at t. Before what is kept the duty counts as that of the oldest.
func (p *past) at(t float64) float64 {
	low, high := max(0, p.n-pastSize), p.n-1 // low is kept
	if p.n < 2 {
		return 0
	}
	for high-low > 1 {
		if mid := (low + high) / 2; p.t[mid%pastSize] <= t {
			low = mid
		} else {
			high = mid
		}
	}
	a, b := low%pastSize, high%pastSize
	slope := 0.0
	if p.t[b] > p.t[a] {
		slope = (p.sum[b] - p.sum[a]) / (p.t[b] - p.t[a])
	}
	return p.sum[a] + slope*(t-p.t[a])
}

// mean gives the mean duty of from..to.
func (p *past) mean(from, to float64) float64 {
	if to <= from {
		return 0
	}
	return (p.at(to) - p.at(from)) / (to - from)
}

// noise learns the standard deviation of one look from how far it is off the line through its
// neighbours.
type noise struct {
	a, b  float64 // the two looks before
	n     int
	sigma float64
}

// The noise before any was seen, the least that is believed, and over how many looks it is
// learnt. Our choices; the first is that of a hobby board's quarter degrees.
const (
	usualSigma = 0.3
	leastSigma = 0.05
	noiseOver  = 60
)

func (s *noise) add(y float64) {
	if s.n++; s.n > 2 {
		d := y - 2*s.a + s.b
		d = min(math.Abs(d), 4*math.Sqrt(6)*s.sigma) // a door is no noise
		v := s.sigma * s.sigma
		s.sigma = max(leastSigma, math.Sqrt(v+(d*d/6-v)/noiseOver))
	}
	s.b, s.a = s.a, y
}
