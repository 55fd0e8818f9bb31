package lines

import (
	"time"

	"strawline/probe"
	"strawline/probe/temp"
)

// Kind says what an Item is.
type Kind uint8

// The kinds of items.
const (
	Value Kind = iota // a temperature that was printed
	Raw               // a chip's word that was printed, for others to decode
	Fault             // the board says that a channel has no reading
	Gap               // the board started again, or prints something else: do not join across
	Bad               // a line, or a held reading, that is not believed
)

// Item is one thing that a port's lines said.
type Item struct {
	Kind    Kind
	At      time.Duration // when its line was whole, as the caller's clock said
	Channel int           // 1 to 8; 0 in a Fault means that any channel may be meant
	Hot     temp.C        // the probe; only in a Value
	Cold    temp.C        // the cold junction; only where HasCold is set
	HasCold bool
	Unit    Unit        // that Hot was printed in
	Raw     uint32      // the chip's word; only in a Raw
	Fault   probe.Fault // never FaultNone in a Fault; FaultRange where only "nan" or the like stood
	Tick    float64     // the board's own running count or clock, as printed; 0 without one
	Why     string      // in a Gap or Bad: what is wrong, in a person's words
	Text    []byte      // the line that made it, valid only during the call; nil if held before
}

// Reasons of a Gap.
const (
	WhyAgain = "the board started again"
	WhyText  = "the board printed something else"
	WhyCount = "the board's count went back"
	WhyJump  = "the board's count jumped ahead"
)

// Reasons of a Bad item.
const (
	WhyLong     = "a line of more than 512 bytes"
	WhyStranger = "not a line as learnt"
	WhyForm     = "a number of another form than learnt"
	WhyLone     = "a jump that did not last"
	WhyUnits    = "the units do not agree"
	WhyCounter  = "the board's count cannot be right"
)
