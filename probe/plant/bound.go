package plant

import (
	"errors"
	"math"
	"slices"
	"time"

	"strawline/probe/temp"
)

// Figures of the search for a bound. All are our choice but boundHold, which is that of the
// reference search.
const (
	boundMost   = 24 * 3600 // s at full heat before an oven counts as too weak
	boundHold   = 450       // s that the best holding is followed for after the full heat
	boundBack   = 20        // s before the latest cut that earlier ones are tried too
	boundFell   = 0.5       // °C below its peak at which a coast is over
	boundAnew   = 10        // s after which the holding looks anew what the heat does
	boundCoasts = 1.0       // coasts that the holding looks ahead
)

// ErrWeak says that full heat does not bring an oven to a temperature.
var ErrWeak = errors.New("plant: full heat does not bring the oven to that temperature")

// Bound gives the earliest time after a cold start in p.Room, with p.Blade in and the door shut,
// after which a noise-free probe can stay within tol of set. It is what one could reach who knows
// the oven: full heat, then none, then the best holding, over all times of the two changes on a
// grid of 1 s. The holding looks ahead with the oven's own equations, each second, and gives the
// duty that brings the probe to set when what a cut leaves has come out. The time is in whole
// seconds. The parameters must be such as New takes; the error is ErrWeak.
func Bound(p Params, set temp.C, tol temp.Delta) (time.Duration, error) {
	b := bound{low: float64(set.Add(-tol)), high: float64(set.Add(tol)), aim: float64(set),
		watts: p.HeaterW, ahead: New(p, p.Room), now: New(p, p.Room)}
	full := New(p, p.Room)
	var starts []*Oven // one each second
	for float64(full.Probe()) < b.high && len(starts) <= boundMost {
		if len(starts) == 0 || float64(full.Probe()) > float64(p.Room+set)/2 {
			starts = append(starts, full.clone())
		} else {
			starts = append(starts, nil) // far too early for a cut
		}
		full.heat(p.HeaterW)
	}
	if float64(full.Probe()) < b.low {
		return 0, ErrWeak
	}
	first := 0
	for first < len(starts)-1 && (starts[first] == nil || first == 0) {
		first++
	}
	latest, _ := slices.BinarySearchFunc(starts[first:], b.high, func(o *Oven, high float64) int {
		if peak, _ := b.coast(o); peak > high {
			return 1
		}
		return -1
	})
	latest = max(first, first+latest-1)
	_, length := b.coast(starts[latest])
	b.horizon = max(2, int(math.Round(boundCoasts*float64(length))))
	b.best = latest + boundHold
	for cut := latest; cut >= max(first, latest-boundBack); cut-- {
		late := false
		for off := 0; off < 2*b.horizon && !late; off++ {
			if late = b.try(starts[cut], cut, off); late && off == 0 {
				cut = 0 // earlier cuts are later still
			}
		}
	}
	if b.best == latest+boundHold {
		return 0, ErrWeak
	}
	return time.Duration(b.best) * time.Second, nil
}

// bound is a search under way. Times are in s after the cold start.
type bound struct {
	low, high, aim float64 // °C
	watts          float64
	horizon        int // s that the holding looks ahead
	best           int
	now, ahead     *Oven // room to try in
}

// heat is one second of so many watts.
func (o *Oven) heat(watts float64) {
	for range time.Second / Every {
		o.Step(watts)
	}
}

func (o *Oven) clone() *Oven {
	c := *o
	c.mixing = slices.Clone(o.mixing)
	return &c
}

// be makes o what other is, without allocating; both must be of the same oven.
func (o *Oven) be(other *Oven) {
	mixing := o.mixing
	copy(mixing, other.mixing)
	*o = *other
	o.mixing = mixing
}

// coast gives how high the probe comes without heat from here on, °C, and after how many s.
func (b *bound) coast(from *Oven) (peak float64, after int) {
	b.now.be(from)
	peak = float64(b.now.Probe())
	for i := 1; float64(b.now.Probe()) > peak-boundFell && i < boundMost; i++ {
		b.now.heat(0)
		if y := float64(b.now.Probe()); y > peak {
			peak, after = y, i
		}
	}
	return peak, after
}

// try cuts the heat after so many s, gives none for off s and then holds. It is given up as soon
// as it cannot be better than the best; late says that the probe came too late for that, as it
// would after a longer time without heat.
func (b *bound) try(from *Oven, cut, off int) (late bool) {
	b.now.be(from)
	settled, per, came := cut, 0.0, false
	for k := cut; k < cut+boundHold; k++ {
		watts := 0.0
		if k >= cut+off {
			none := b.look(0)
			if (k-cut-off)%boundAnew == 0 {
				per = (b.look(b.watts/2) - none) / (b.watts / 2)
			}
			watts = min(b.watts, max(0, (b.aim-none)/per))
		}
		b.now.heat(watts)
		y := float64(b.now.Probe())
		came = came || y >= b.low
		if y < b.low || y > b.high {
			settled = k + 2 // the reading after k is of k + 1, and the next one is good
			if settled >= b.best {
				return !came
			}
		}
	}
	b.best = settled
	return false
}

// look gives where so many watts for the whole horizon bring the probe.
func (b *bound) look(watts float64) float64 {
	b.ahead.be(b.now)
	for range b.horizon {
		b.ahead.heat(watts)
	}
	return float64(b.ahead.Probe())
}
