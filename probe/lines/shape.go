package lines

import (
	"errors"
	"fmt"
	"slices"
)

// Shape is how a port's lines are made. It can be written down and given back to NewShaped.
type Shape struct {
	DecimalComma bool     `toml:"decimal_comma" json:"decimal_comma"`
	HexWords     bool     `toml:"hex_words" json:"hex_words"` // hex words have no 0x before them
	Lines        []Line   `toml:"lines" json:"lines"`
	Texts        []string `toml:"texts" json:"texts"`     // kinds without a number that come and go
	Banners      []string `toml:"banners" json:"banners"` // kinds that a start of the board prints
}

// Line is one kind of line.
type Line struct {
	// Text is the line with "#" for each number (a "#" or a backslash that was printed has
	// a backslash before it), each run of
	// blanks and colour codes as one blank, and every sort of degree sign as "°".
	Text  string `toml:"text" json:"text"`
	Slots []Slot `toml:"slots" json:"slots"` // the numbers from left to right
	End   End    `toml:"end" json:"end"`
}

// End is what ends a line.
type End uint8

// The line ends.
const (
	CRLF End = iota
	LF
	CR
)

// Slot is one number of a kind of line.
type Slot struct {
	Role    Role   `toml:"role" json:"role"`
	Channel int    `toml:"channel" json:"channel"` // 1 to 8; of Cold also 0, for all channels
	Unit    Unit   `toml:"unit" json:"unit"`       // known for Hot, Cold and Repeat
	Label   string `toml:"label" json:"label"`     // the words before it, lower case
	Class   Class  `toml:"class" json:"class"`
	MinDec  int    `toml:"min_decimals" json:"min_decimals"` // fewest decimals, 0 to 15
	MaxDec  int    `toml:"max_decimals" json:"max_decimals"` // most decimals
	Width   int    `toml:"width" json:"width"`               // digits before the mark, if padded
	Exp     bool   `toml:"exponent" json:"exponent"`         // with an exponent, as in 1.8e+02
	Turns   bool   `toml:"turns" json:"turns"`               // °F on the next line
}

// Class is the form of a number.
type Class uint8

// The forms.
const (
	Decimal Class = iota
	Hex
	Clock // a time of day or a date
)

// Check says why a shape cannot be right.
func (s Shape) Check() error {
	if len(s.Lines) == 0 || len(s.Lines) > maxKinds {
		return fmt.Errorf("a shape has 1 to %d kinds of lines, not %d", maxKinds, len(s.Lines))
	}
	if len(s.Texts) > maxTexts || len(s.Banners) > maxTexts {
		return fmt.Errorf("a shape has at most %d texts and banners", maxTexts)
	}
	seen := map[string]bool{}
	given := false
	for _, l := range s.Lines {
		if err := l.check(); err != nil {
			return fmt.Errorf("line %q: %w", l.Text, err)
		}
		if seen[l.Text] {
			return fmt.Errorf("line %q stands twice", l.Text)
		}
		seen[l.Text] = true
		for _, slot := range l.Slots {
			given = given || slot.Role == Hot || slot.Role == Word
		}
	}
	if !given {
		return errors.New("no number of the shape is a probe")
	}
	return nil
}

func (l Line) check() error {
	if len(l.Slots) == 0 || len(l.Slots) > maxMarks || l.End > CR {
		return fmt.Errorf("1 to %d numbers and a known end, not %d", maxMarks, len(l.Slots))
	}
	if n := len(gaps(l.Text)) - 1; n != len(l.Slots) {
		return fmt.Errorf("%d marks for %d numbers", n, len(l.Slots))
	}
	for _, s := range l.Slots {
		switch {
		case s.Role > Repeat, s.Class > Clock, s.Unit > Kelvin:
			return errors.New("an unknown role, class or unit")
		case s.Channel < 0, s.Channel > MaxChannels,
			s.Channel == 0 && (s.Role == Hot || s.Role == Word || s.Role == Repeat):
			return fmt.Errorf("channel %d", s.Channel)
		case s.Unit == NoUnit && (s.Role == Hot || s.Role == Cold || s.Role == Repeat):
			return errors.New("a temperature without a unit")
		case (s.Role == Word) != (s.Class == Hex) && s.Role != Skip:
			return errors.New("a raw word is a hex number and nothing else is")
		case s.Class == Clock && s.Role != Skip:
			return errors.New("a time of day is no reading")
		case s.MinDec < 0, s.MaxDec < s.MinDec, s.MaxDec > maxDigits, s.Width < 0:
			return errors.New("impossible decimals")
		case s.Turns && (s.Role != Hot || s.Unit != Celsius || len(l.Slots) != 1):
			return errors.New("only a lone °C can take turns with °F")
		}
	}
	return nil
}

// clone copies what the shape points to.
func (s Shape) clone() Shape {
	s.Lines = slices.Clone(s.Lines)
	for i := range s.Lines {
		s.Lines[i].Slots = slices.Clone(s.Lines[i].Slots)
	}
	s.Texts, s.Banners = slices.Clone(s.Texts), slices.Clone(s.Banners)
	return s
}
