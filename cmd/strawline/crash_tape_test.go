//go:build linux || darwin

package main

import (
	"math"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
)

// cut is what a run file shows of the kills that it outlived; counted from the last one that was
// counted already.
type cut struct {
	taken int // the last cut was followed by a trip
	goOns int // and that by a person who went on
	soaks int // the soak clock was judged across the last cut
}

// soakCount counts a soak again, from the readings alone, as the rule has it: the time between two
// consecutive readings that are both good, both inside the band and at most 2 s apart.
type soakCount struct {
	last   float64 // what the file says, s
	has    bool
	begun  bool    // a reading of this stretch was seen
	from   float64 // what the file said at the stretch's first reading
	sum    float64 // counted
	near   int     // readings so near the band's edge that a filter decides
	at     float64
	seen   float64 // this stretch's last sample, s
	late   float64 // the longest between two of them, s
	inside bool
}

// The band of crashProfile.
const crashLow, crashHigh = 120.0, 180.0

// cuts goes through the file and says that there is no heat from each cut to a person's go on, and
// that nothing of the time between is counted.
func (f *tape) cuts() (c cut) {
	f.t.Helper()
	warm, acked, reset, across := true, false, false, false
	var k soakCount
	for _, r := range f.recs {
		switch r.Event {
		case "lost":
			k.ends(f)
			warm, acked, reset, across = false, false, false, true
			c = cut{}
		case "trip":
			warm, acked, reset = false, false, false
			if across {
				c.taken = 1
			}
		case "ask":
			acked = acked || r.Asked.Ask == "acknowledge" && r.Word == "done"
		case "reset":
			require.True(f.t, acked, "reset at %.2f s before it was acknowledged", r.T)
			reset = true
		case "go on":
			require.True(f.t, acked && reset, "gone on at %.2f s", r.T)
			warm = true
			if across {
				c.goOns = 1
			}
		}
		if r.Duty == nil {
			continue
		}
		require.False(f.t, !warm && *r.Duty > 0, "heat at %.2f s and nobody said so", r.T)
		if r.Soak == nil {
			continue
		}
		if across && !k.begun && k.has {
			require.Equal(f.t, k.last, *r.Soak, "the soak clock over the cut before %.2f s", r.T)
			c.soaks = 1
		}
		k.reads(r)
	}
	k.ends(f)
	return c
}

// reads takes a sample into the count.
func (k *soakCount) reads(r recorded) {
	if k.seen > 0 {
		k.late = max(k.late, r.T-k.seen)
	}
	k.last, k.has, k.seen = *r.Soak, true, r.T
	if r.Raw == "" || r.T1 == nil {
		if r.T1 == nil {
			k.inside = false
		}
		return
	}
	if !k.begun {
		k.begun, k.from, k.inside = true, *r.Soak, false
	}
	inside := *r.T1 >= crashLow && *r.T1 <= crashHigh
	if inside && k.inside && r.T-k.at <= 2 {
		k.sum += r.T - k.at
	}
	if min(math.Abs(*r.T1-crashLow), math.Abs(*r.T1-crashHigh)) < 2 {
		k.near++
	}
	k.inside, k.at = inside, r.T
}

// ends compares a stretch without a cut. A reading is up to a step older than its sample, or two
// where the machine is busy, or as much more as the samples themselves came late on one that is
// starved; and at the band's edge the filter decides.
func (k *soakCount) ends(f *tape) {
	f.t.Helper()
	if k.begun {
		within := 0.55 + 0.25*float64(k.near) + max(0, k.late-0.5)
		require.InDelta(f.t, k.sum, k.last-k.from, within, "soak counted again, samples at most %.2f s "+
			"apart", k.late)
	}
	*k = soakCount{last: k.last, has: k.has}
}

// agrees says that what a screen was shown is what the file has for that time.
func (f *tape) agrees(s control.Snapshot) {
	f.t.Helper()
	for i := len(f.recs) - 1; i >= 0 && f.recs[i].T >= s.T.Seconds()-1; i-- {
		r := f.recs[i]
		if r.Soak != nil && time.Duration(math.Round(r.T*1e3))*time.Millisecond ==
			s.T.Round(time.Millisecond) {
			require.InDelta(f.t, *r.Soak, s.SoakDone.Seconds(), 0.002, "the soak shown at %v", s.T)
			return
		}
	}
}
