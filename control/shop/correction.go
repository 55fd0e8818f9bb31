package shop

import (
	"strawline/probe"
	"strawline/probe/temp"
)

// Point is one place at which a probe was checked.
type Point struct {
	Reads temp.C // what the probe says, uncorrected
	Is    temp.C // what it was
}

// Correction is what is added to a probe's reading, with when and how it was found.
type Correction struct {
	Offset temp.Delta // added everywhere
	Points []Point    // Reads and Is rising
	Date   Date       // when it was found
	Source string     // how, such as "ice point"
}

// Value gives the correction without its date and source.
func (c Correction) Value() probe.Correction {
	v := probe.Correction{Offset: c.Offset}
	for _, p := range c.Points {
		v.Points = append(v.Points, probe.Point(p))
	}
	return v
}

// Correct gives the corrected temperature, as probe.Correction does.
func (c Correction) Correct(t temp.C) temp.C { return c.Value().Correct(t) }

// Check gives nil, or what is wrong with the correction in one line with its figures.
func (c Correction) Check() error { return c.Value().Check() }
