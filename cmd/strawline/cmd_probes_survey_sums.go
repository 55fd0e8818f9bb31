package main

import (
	"fmt"
	"math"
	"time"

	"strawline/probe/temp"
)

// How a survey is judged. All are our own, except where a source stands.
const (
	// surveyBin is the time over which readings are joined to one mean, so that the scatter of a
	// chip does not count as the oven's swing. Slower boards have a longer one, see binOf.
	surveyBin = 10 * time.Second
	// surveyLeast is the shortest stay that says something: a thermostat takes some minutes from
	// one switching to the next.
	surveyLeast = 10 * time.Minute
	// surveyFilled is the share of the stay's bins that must have both readings.
	surveyFilled = 0.8
	// surveyTrend is how much the reference may rise or fall through the stay, or else half of
	// its swing: beyond it the oven was not at rest yet.
	surveyTrend = temp.Delta(2)
	// surveyBack is how far outside the stay's lowest and highest the reference still counts as
	// back after the door, and backFor how long it must stay there.
	surveyBack = temp.Delta(1)
	backFor    = time.Minute
)

// mark is one corrected reading.
type mark struct {
	at time.Duration
	c  temp.C
}

// surveyed is everything that a survey is computed from. All readings are corrected.
type surveyed struct {
	Oven      []mark   // of the probe that the oven is run by
	Reference []mark   // where the blade will lie
	More      [][]mark // of the other probes in the oven
	From, To  time.Duration
	Door      time.Duration // when it was opened, at To or behind it; 0 if it was not
	Set       *temp.C       // what the oven was to have; nil: what its own probe says on the mean
	Hand      bool          // the reference was read by a person, now and then
}

// survey is what it comes to.
type survey struct {
	At        temp.C        // the reference's mean
	Offset    temp.Delta    // the oven's mean less the reference's, at the same times
	Repeat    temp.Delta    // half of what the offsets of the two halves differ
	Swing     temp.Delta    // of the reference, from its lowest to its highest mean of a bin
	OvenSwing temp.Delta    // of the oven's own probe
	Low, High temp.Delta    // how far the reference was below and above the set heat
	Most      temp.Delta    // the larger of the two, without sign: the plus-minus figure
	Spread    temp.Delta    // between the hottest and the coldest probe's mean
	Probes    int           // in the spread, the reference among them
	Recovery  time.Duration // from the door to when the reference was back to stay; 0 unknown
	Recovered string        // why there is no recovery, "" if there is
	Bin       time.Duration
	Bins      int
	Stay      time.Duration
	Set       temp.C
	HasSet    bool
	trend     temp.Delta // of the reference through the stay
}

// pair is the oven's and the reference's reading of one bin.
type pair struct {
	at        time.Duration
	oven, ref temp.C
}

// sums computes a survey: offset is the mean of oven less reference over the stay; swing is
// from the lowest to the highest mean of 10 s; recovery is from the opening of the door until the
// reference is within a degree of the stay's range and stays there for a minute; spread is
// between the means of the probes. The error says why the stay says nothing, with its figures.
func sums(in surveyed) (survey, error) {
	stay := in.To - in.From
	if stay < surveyLeast {
		return survey{}, fmt.Errorf("a stay of %v says nothing of an oven's swing: at least %v", stay,
			surveyLeast)
	}
	bin := binOf(in)
	pairs := pairsOf(in, bin)
	s := survey{Bin: bin, Bins: len(pairs), Stay: stay, Set: 0, HasSet: in.Set != nil}
	if want := int(surveyFilled * float64(stay/bin)); !in.Hand && len(pairs) < want {
		return s, fmt.Errorf("only %d of %d times of %v have a reading of the oven and of the "+
			"reference", len(pairs), stay/bin, bin)
	}
	if len(pairs) < 3 {
		return s, fmt.Errorf("%d readings of the reference are too few: at least 3 over the stay",
			len(pairs))
	}
	s.means(pairs, in.Set)
	s.spreadOf(in, bin)
	if most := max(surveyTrend, s.Swing/2); math.Abs(float64(s.trend)) > float64(most) {
		return s, fmt.Errorf("the reference went %s through the stay of %v, by the straight line "+
			"through its readings from %.1f to %.1f °C: the oven was not at rest, or the stay is "+
			"too short for its swing", s.trend.Text(temp.Celsius, 1), stay,
			float64(pairs[0].ref), float64(pairs[len(pairs)-1].ref))
	}
	s.recovery(in, bin)
	return s, nil
}

// binOf is surveyBin, or three usual times between two readings of a slower board.
func binOf(in surveyed) time.Duration {
	slow := time.Duration(0)
	tracks := [][]mark{in.Oven}
	if !in.Hand {
		tracks = append(tracks, in.Reference)
	}
	for _, track := range tracks {
		if n := len(track); n > 1 {
			slow = max(slow, (track[n-1].at-track[0].at)/time.Duration(n-1))
		}
	}
	return max(surveyBin, (3 * slow).Round(time.Second))
}

// binned gives the mean of every bin from a time to another; NaN where there is no reading.
func binned(track []mark, from, to, bin time.Duration) []float64 {
	n := int((to - from) / bin)
	sum, count := make([]float64, n), make([]float64, n)
	for _, m := range track {
		if i := int((m.at - from) / bin); m.at >= from && i < n {
			sum[i] += float64(m.c)
			count[i]++
		}
	}
	for i := range sum {
		sum[i] /= count[i] // 0/0 is not a number
	}
	return sum
}

// pairsOf joins the oven's and the reference's readings of the same times.
func pairsOf(in surveyed, bin time.Duration) (out []pair) {
	if in.Hand { // each with the oven's mean about that time
		for _, m := range in.Reference {
			if m.at < in.From || m.at > in.To {
				continue
			}
			about := binned(in.Oven, m.at-bin/2, m.at+bin/2, bin)
			if len(about) == 1 && !math.IsNaN(about[0]) {
				out = append(out, pair{m.at, temp.C(about[0]), m.c})
			}
		}
		return out
	}
	oven, ref := binned(in.Oven, in.From, in.To, bin), binned(in.Reference, in.From, in.To, bin)
	for i := range oven {
		if !math.IsNaN(oven[i]) && !math.IsNaN(ref[i]) {
			out = append(out, pair{in.From + bin*time.Duration(i) + bin/2, temp.C(oven[i]),
				temp.C(ref[i])})
		}
	}
	return out
}

// means computes what the pairs say.
func (s *survey) means(pairs []pair, set *temp.C) {
	n := float64(len(pairs))
	low, high := pairs[0], pairs[0]
	var oven, ref, mid float64
	for _, p := range pairs {
		oven += float64(p.oven) / n
		ref += float64(p.ref) / n
		mid += p.at.Seconds() / n
		low.oven, high.oven = min(low.oven, p.oven), max(high.oven, p.oven)
		low.ref, high.ref = min(low.ref, p.ref), max(high.ref, p.ref)
	}
	s.At, s.Offset = temp.C(ref), temp.Delta(oven-ref)
	s.Swing, s.OvenSwing = high.ref.Sub(low.ref), high.oven.Sub(low.oven)
	s.Set = temp.C(oven)
	if set != nil {
		s.Set = *set
	}
	s.Low, s.High = low.ref.Sub(s.Set), high.ref.Sub(s.Set)
	s.Most = max(-s.Low, s.High)
	s.Repeat = temp.Delta(math.Abs(float64(offset(pairs[:len(pairs)/2])-
		offset(pairs[len(pairs)/2:])))) / 2
	var tt, tc float64
	for _, p := range pairs {
		t := p.at.Seconds() - mid
		tt += t * t
		tc += t * (float64(p.ref) - ref)
	}
	if tt == 0 {
		return // all at one time
	}
	s.trend = temp.Delta(tc / tt * (pairs[len(pairs)-1].at - pairs[0].at).Seconds())
}

// offset is the mean of the oven less the reference.
func offset(pairs []pair) temp.Delta {
	sum := 0.0
	for _, p := range pairs {
		sum += float64(p.oven - p.ref)
	}
	return temp.Delta(sum / float64(len(pairs)))
}

// spreadOf compares the means of all probes over the stay.
func (s *survey) spreadOf(in surveyed, bin time.Duration) {
	if in.Hand {
		return
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, track := range append([][]mark{in.Oven, in.Reference}, in.More...) {
		sum, n := 0.0, 0.0
		for _, v := range binned(track, in.From, in.To, bin) {
			if !math.IsNaN(v) {
				sum, n = sum+v, n+1
			}
		}
		if n == 0 {
			continue
		}
		low, high = min(low, sum/n), max(high, sum/n)
		s.Probes++
	}
	if s.Probes > 2 {
		s.Spread = temp.Delta(high - low)
	}
}

// recovery finds how long the reference took to be back after the door.
func (s *survey) recovery(in surveyed, bin time.Duration) {
	switch {
	case in.Hand:
		s.Recovered = "a reference read by hand does not show it"
		return
	case in.Door == 0:
		s.Recovered = "the door was not opened"
		return
	case len(in.Reference) == 0 || in.Reference[len(in.Reference)-1].at < in.Door+backFor:
		s.Recovered = "nothing was read after the door"
		return
	}
	low, high := s.Set.Add(s.Low-surveyBack), s.Set.Add(s.High+surveyBack)
	last := in.Reference[len(in.Reference)-1].at
	left, back := false, time.Duration(-1)
	for i, v := range binned(in.Reference, in.Door, last+bin, bin) {
		inside := v >= float64(low) && v <= float64(high)
		switch {
		case math.IsNaN(v):
		case !inside:
			left, back = true, -1
		case back < 0:
			back = bin * time.Duration(i)
		}
		if left && back >= 0 && bin*time.Duration(i)-back >= backFor {
			s.Recovery = back
			return
		}
	}
	if left {
		s.Recovered = fmt.Sprintf("not back within %v", (last - in.Door).Round(time.Second))
		return
	}
	s.Recovered = "the reference did not leave its swing"
}

// class2750 is a furnace class of AMS 2750 by its uniformity, plus or minus.
type class2750 struct {
	Number int
	F, C   float64
}

// classes2750 are the classes, from memory; that of class 2 was read. They are a yardstick: a
// survey under the standard has many probes, a calibrated chain and a record of them.
func classes2750() []class2750 {
	return []class2750{{1, 5, 3}, {2, 10, 6}, {3, 15, 8}, {4, 20, 10}, {5, 25, 14}, {6, 50, 28}}
}

// classOf gives the narrowest class that allows a deviation in both units; ok is false beyond
// the last.
func classOf(most temp.Delta) (c class2750, ok bool) {
	for _, c := range classes2750() {
		if most.F() <= c.F && float64(most) <= c.C {
			return c, true
		}
	}
	return class2750{}, false
}

// yardstick says a deviation beside the classes, with its uncertainty.
func yardstick(most, within temp.Delta) string {
	say := func(c class2750, ok bool) string {
		if !ok {
			return "more than class 6 allows, ±28 °C / ±50 °F"
		}
		return fmt.Sprintf("within what class %d allows, ±%.0f °C / ±%.0f °F", c.Number, c.C, c.F)
	}
	c, ok := classOf(most)
	text := say(c, ok)
	if worse, ok2 := classOf(most + within); worse != c {
		text += "; with the uncertainty on top " + say(worse, ok2)
	}
	return text + " (AMS 2750, as a yardstick; one place in the oven: this is no certificate)"
}
