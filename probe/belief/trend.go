package belief

import (
	"time"

	"strawline/probe/temp"
)

const (
	markEvery = 5 * time.Second
	markCount = 12 // a minute
)

// trend has the means of the last believed readings, 5 s each, newest last.
type trend struct {
	marks [markCount]temp.C
	n     int
	width time.Duration // of the newest
	sum   float64
	k     int
	since time.Duration
}

// add takes a believed reading and reports whether a mark was completed by it.
func (t *trend) add(at time.Duration, v temp.C) bool {
	if t.k > 0 && at-t.since >= markEvery {
		copy(t.marks[:], t.marks[1:])
		t.marks[markCount-1] = temp.C(t.sum / float64(t.k))
		t.n, t.width = min(t.n+1, markCount), at-t.since
		t.sum, t.k = float64(v), 1
		t.since = at
		return true
	}
	if t.k == 0 {
		t.since = at
	}
	t.sum += float64(v)
	t.k++
	return false
}

// last gives the mark i before the newest.
func (t *trend) last(i int) temp.C { return t.marks[markCount-1-i] }

// slope gives the change over the last half minute, °C/s; 0 while it is not known. With noise
// of a standard deviation of 0.29 °C (±0.5 °C uniform) its own is 0.0036 °C/s.
func (t *trend) slope() float64 {
	if t.n < 6 {
		return 0
	}
	late := t.last(0) + t.last(1) + t.last(2)
	early := t.last(3) + t.last(4) + t.last(5)
	return float64(late-early) / 3 / (3 * t.width.Seconds())
}
