// Package profiles has ramp/soak profiles: what a person writes in TOML, checked and
// turned into steps, and the plan of temperature against time that follows from them.
// It does no input or output and asks no clock.
package profiles

import (
	"time"

	"strawline/probe/temp"
)

// Kind is what a step does.
type Kind uint8

// The four kinds of step.
const (
	Ramp Kind = iota // go to a temperature
	Soak             // stay at it, counted only inside the band
	Cool             // heat off until the reading has fallen to a temperature
	Wait             // until a person says go on
)

var kindWords = [...]string{"ramp", "soak", "cool", "wait"}

// String gives the kind's word.
func (k Kind) String() string {
	if int(k) < len(kindWords) {
		return kindWords[k]
	}
	return "unknown"
}

// Step is one step of a profile, repeats already written out.
type Step struct {
	Kind  Kind
	To    temp.C        // ramp, soak and cool: the temperature
	Rate  float64       // ramp: °C per second; 0 as fast as the oven can without overshoot
	For   time.Duration // soak: time inside the band
	Band  temp.Delta    // soak and ramp: half width of the band, above 0
	Limit time.Duration // ramp, soak, cool: longest wait for the band, then an alarm
	Say   string        // wait: what the person is to do
	Heat  bool          // wait: heat stays on at the last setpoint
	Most  time.Duration // wait with heat: longest, then heat off and an alarm; at most 60 min
	Load  Load          // wait: what the person's answer says of the blade
	Cycle int           // 1 for the first cycle of a repeat, 2 for the second; 0 outside
}

// Load is what happens to the blade when a wait is answered.
type Load uint8

// What a wait's answer can say of the blade.
const (
	LoadSame Load = iota // nothing
	LoadIn               // the blade is in, at room temperature
	LoadOut              // the blade is out
)

// Profile is one whole job.
type Profile struct {
	Name    string // short, for the command line: a-z 0-9 and -
	Title   string // one line for a person
	Note    string // why these numbers, and from where
	Unit    temp.Unit
	Steps   []Step
	Limit   temp.C        // over-temperature limit
	Longest time.Duration // longest total time; its plan and 2 h unless given
	// LimitMade says that Limit is Temper's choice, and that nobody gave the run a limit.
	LimitMade bool
}

// Peak is the highest temperature that the profile sets; 0 °C if it sets none.
func (p *Profile) Peak() temp.C {
	var peak temp.C
	for _, s := range p.Steps {
		if s.Kind == Ramp || s.Kind == Soak {
			peak = max(peak, s.To)
		}
	}
	return peak
}

// Point is a corner of the plan.
type Point struct {
	At   time.Duration // from the plan's start
	Temp temp.C
	Step int
}
