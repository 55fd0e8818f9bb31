package control

import (
	"time"

	"strawline/probe/temp"
)

// PastSpan is the length of one Past: short enough for a chart of hours, long enough that
// twelve hours are 4,320 of them.
const PastSpan = 10 * time.Second

// Trace gathers samples into Pasts, keeping the least and the greatest of each span so that
// no spike is lost. The zero value is ready.
type Trace struct{ past []Past }

// traceRoom is how many spans the first Add makes room for: 12 hours in about 200 KB, so that
// a long day takes no more memory than its first hour. A longer run grows as it must.
const traceRoom = int(12*time.Hour/PastSpan) + 1

// Add takes one instant; has says whether there was a good reading.
func (tr *Trace) Add(t time.Duration, has bool, v temp.C, hasSet bool, set temp.C) {
	at := t.Truncate(PastSpan)
	if tr.past == nil {
		tr.past = make([]Past, 0, traceRoom)
	}
	if n := len(tr.past); n == 0 || tr.past[n-1].At != at {
		tr.past = append(tr.past, Past{At: at})
	}
	p := &tr.past[len(tr.past)-1]
	if has {
		if !p.Has {
			p.Min, p.Max = v, v
		}
		p.Has, p.Min, p.Max = true, min(p.Min, v), max(p.Max, v)
	}
	if hasSet {
		p.HasSet, p.Set = true, set
	}
}

// Points gives a copy of the spans so far, oldest first.
func (tr *Trace) Points() []Past { return append([]Past(nil), tr.past...) }
