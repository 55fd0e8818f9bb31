package board

import (
	"fmt"
	"strings"

	"strawline/probe"
)

// Ranges of fields that the decoder and Valid share; units in the package comment.
const (
	maxChannels = 8
	maxQ        = 8191 // the chip's 14 bits, signed
	minWindowS  = 2
	maxWindowS  = 60
	maxPerMille = 1000
	maxName     = 16
)

// Valid gives nil if every field of f is in the range that the package comment states, and
// otherwise an error that wraps ErrRange or ErrVersion and names the field.
func Valid(f Frame) error {
	switch f := f.(type) {
	case Boot:
		return f.About.valid()
	case Info:
		return f.About.valid()
	case Reading:
		if f.Channel < 1 || f.Channel > maxChannels {
			return outOf("channel")
		}
		return validLatches(f.Latches)
	case Ack:
		if !oneOf(f.Of, ofLetters) {
			return outOf("answered line")
		}
		if !oneOf(byte(f.Result), resultLetters) {
			return outOf("result")
		}
		return validLatches(f.Latches)
	case Duty:
		if f.PerMille > maxPerMille {
			return outOf("per mille")
		}
	case Propose:
		return f.Stored.Valid()
	case Query, Commit, Reset:
	default:
		return fmt.Errorf("%w: not a frame of this package", ErrForm)
	}
	return nil
}

// Valid gives nil if every setting is in the range of its field; a board checks guard
// and limit against its own channels and ceiling as well.
func (s Stored) Valid() error {
	switch {
	case s.Guard < 1 || s.Guard > maxChannels:
		return outOf("guard channel")
	case s.LimitQ < 1 || s.LimitQ > maxQ:
		return outOf("high limit")
	case s.WindowS < minWindowS || s.WindowS > maxWindowS:
		return outOf("window")
	case s.MainsHz != 50 && s.MainsHz != 60:
		return outOf("mains frequency")
	}
	return nil
}

func (a About) valid() error {
	switch {
	case a.Version != Version:
		return fmt.Errorf("%w: %d", ErrVersion, a.Version)
	case !isName(a.Name):
		return outOf("name")
	case !oneOf(byte(a.Cause), causeLetters):
		return outOf("cause")
	case !isName(a.Chip):
		return outOf("chip")
	case a.Channels < 1 || a.Channels > maxChannels:
		return outOf("channels")
	case a.CeilingQ < 1 || a.CeilingQ > maxQ:
		return outOf("ceiling")
	}
	if err := a.Stored.Valid(); err != nil {
		return err
	}
	switch {
	case a.Stored.Guard > a.Channels:
		return outOf("guard channel")
	case a.Stored.LimitQ > a.CeilingQ:
		return outOf("high limit")
	}
	return validLatches(a.Latches)
}

func validLatches(l probe.Latch) error {
	if l > probe.AllLatches {
		return outOf("latches")
	}
	return nil
}

func outOf(field string) error { return fmt.Errorf("%w: %s", ErrRange, field) }

const (
	causeLetters  = "PRWB"
	ofLetters     = "QPCX"
	resultLetters = "YHRCL"
)

func oneOf(c byte, letters string) bool { return strings.IndexByte(letters, c) >= 0 }

// isName reports whether s is 1 to 16 letters, digits and dashes.
func isName[T string | []byte](s T) bool {
	if len(s) < 1 || len(s) > maxName {
		return false
	}
	for i := range len(s) {
		c := s[i]
		if (c < '0' || c > '9') && (c < 'A' || c > 'Z') && (c < 'a' || c > 'z') && c != '-' {
			return false
		}
	}
	return true
}
