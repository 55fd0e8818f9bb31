package main

import (
	"fmt"
	"math"

	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// How far readings must stand from the cold junction before they say something of the leads, and
// how near the number of the other unit they must be to be taken for it. All are our own.
const (
	awayLeast = temp.Delta(10)
	unitNear  = 3.0
)

// nonsense says why a mean reading cannot be a probe's error at a known temperature; nil if it
// can be. Every answer quotes the figures.
func nonsense(m stillness, is temp.C) error {
	reads, want := two(m.Mean), two(is)
	if m.HasCold {
		away, seen := is.Sub(m.Cold), m.Mean.Sub(m.Cold)
		turned := float64(away)*float64(seen) < 0 && math.Abs(float64(seen)) >= 3
		switch {
		case math.Abs(float64(away)) >= float64(awayLeast) && turned &&
			math.Abs(float64(seen)) >= math.Abs(float64(away))/3:
			return fmt.Errorf("it reads %s where %s is expected, on the other side of the board's "+
				"own %s: the leads look swapped", reads, want, two(m.Cold))
		case math.Abs(float64(m.Mean.Sub(is))) > float64(probe.MaxOffset) &&
			math.Abs(float64(seen)) <= 3:
			return fmt.Errorf("it reads %s where %s is expected, and the board itself has %s: the "+
				"tip is not in it, or the leads touch each other", reads, want, two(m.Cold))
		}
	}
	near := func(v float64) bool {
		return math.Abs(float64(m.Mean)-v) <= unitNear+math.Abs(v)/100
	}
	switch {
	case near(is.F()):
		return fmt.Errorf("it reads %s where %s is expected, and that is the number in °F: the "+
			"board's numbers look like °F; say unit = \"F\" of the board in the shop file",
			reads, want)
	case near(float64(temp.F(float64(is)))):
		return fmt.Errorf("it reads %s where %s is expected: numbers in °C seem to be taken for "+
			"°F; say unit = \"C\" of the board in the shop file", reads, want)
	}
	return probe.Correction{Points: []probe.Point{{Reads: m.Mean, Is: is}}}.Check()
}

// doubts are what a measured error may still be off, each plus or minus.
type doubts struct {
	Reference  temp.Delta // what it was held against
	Resolution temp.Delta // half a step of the board
	Scatter    temp.Delta // two standard deviations of the mean
	Moved      temp.Delta // what the readings still moved
	Here       temp.Delta // all of them: the root of the sum of their squares
}

func doubtsOf(m stillness, within, step temp.Delta) doubts {
	d := doubts{Reference: within, Resolution: step / 2,
		Scatter: 2 * m.Scatter / temp.Delta(math.Sqrt(float64(max(m.N, 1)))),
		Moved:   temp.Delta(math.Abs(float64(m.Moved)))}
	d.Here = together(d.Reference, d.Resolution, d.Scatter, d.Moved)
	return d
}

// together joins limits that do not depend on each other.
func together(parts ...temp.Delta) temp.Delta {
	sum := 0.0
	for _, p := range parts {
		sum += float64(p * p)
	}
	return temp.Delta(math.Sqrt(sum))
}

// shopClass gives the standard's class for the shop file's words for the classes of the standards.
func shopClass(c shop.Class) (thermocouple.Class, bool) {
	switch c {
	case shop.Class1:
		return thermocouple.IECClass1, true
	case shop.Class2:
		return thermocouple.IECClass2, true
	case shop.Class3:
		return thermocouple.IECClass3, true
	case shop.Standard:
		return thermocouple.ASTMStandard, true
	case shop.Special:
		return thermocouple.ASTMSpecial, true
	}
	return 0, false
}

// tolerance says how far new wire of a probe may be off at a temperature, and by which class: the
// widest of its type where the shop file says none. ok is false where no class says anything.
func tolerance(t thermocouple.Type, c shop.Class, at temp.C) (within temp.Delta, by string,
	ok bool) {
	if class, known := shopClass(c); known {
		d, err := t.Tolerance(class, at)
		return d, class.String(), err == nil
	}
	for _, class := range thermocouple.Classes() {
		if d, err := t.Tolerance(class, at); err == nil && d > within {
			within, by, ok = d, class.String()+", the widest, as the class is not known", true
		}
	}
	return within, by, ok
}
