package belief

import (
	"time"

	"strawline/probe/temp"
)

// Wear is what a thermocouple has been through since it was fitted. The caller keeps it. The
// zero Wear is a new one.
type Wear struct {
	Warm time.Duration // above 30 °C: in use
	Aged time.Duration // above 260 °C, where type K begins to change its reading for good
	Peak temp.C        // highest believed value, °C; only if Seen
	Seen bool          // any believed value has come
}

// Limits of Wear. Ordering of type K runs from about 200 °C (Kollie and others, ORNL-TM-4862,
// 1975); 260 °C (500 °F) is where makers' sheets have it begin, from memory. WearGap is the
// longest time between two believed readings that counts: what was not seen is not claimed.
const (
	WarmFrom temp.C = 30
	AgedFrom temp.C = 260
	WearGap         = 30 * time.Second
)

// Add gives w after a span that ended with a believed value v and began with one: pass
// Verdict.Filtered, so that a single wrong reading is no peak. A value that is not a number
// changes nothing; a span that is not above 0 or is longer than WearGap counts only for the peak.
func (w Wear) Add(v temp.C, span time.Duration) Wear {
	if v != v {
		return w
	}
	if !w.Seen || v > w.Peak {
		w.Peak, w.Seen = v, true
	}
	if span <= 0 || span > WearGap {
		return w
	}
	if v > WarmFrom {
		w.Warm += span
	}
	if v > AgedFrom {
		w.Aged += span
	}
	return w
}
