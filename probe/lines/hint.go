package lines

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"strawline/probe/temp"
)

// Unit is the scale that a number is printed in.
type Unit uint8

// The scales; NoUnit where none is known.
const (
	NoUnit Unit = iota
	Celsius
	Fahrenheit
	Kelvin
)

// String gives "°C", "°F" or "K", "" for NoUnit.
func (u Unit) String() string {
	return [...]string{"", "°C", "°F", "K"}[min(u, Kelvin)]
}

// c gives the temperature of v in unit u; NoUnit is taken for °C and never gets here.
func (u Unit) c(v float64) temp.C {
	switch u {
	case Fahrenheit:
		return temp.F(v)
	case Kelvin:
		return temp.C(v) + temp.Zero
	}
	return temp.C(v)
}

// of gives the number that c has in unit u.
func (u Unit) of(c temp.C) float64 {
	switch u {
	case Fahrenheit:
		return c.F()
	case Kelvin:
		return float64(c - temp.Zero)
	}
	return float64(c)
}

// Role says what a number in a line is.
type Role uint8

// The roles.
const (
	Skip   Role = iota // nothing of ours: a setpoint, a duty, a difference
	Hot                // a probe
	Cold               // a cold junction
	Tick               // a running count or clock
	Status             // 0 for no fault, else a fault's number
	Word               // a chip's word
	Repeat             // the channel's Hot once more, in another unit
)

var roleWords = [...]string{"skip", "hot", "cold", "count", "fault", "raw", "repeat"}

// String gives the role's word as the shop file has it.
func (r Role) String() string { return roleWords[min(r, Repeat)] }

// Column is the shop file's word on one number of a line.
type Column struct {
	Label   string // the word printed before the number; "" where its place decides
	Role    Role   // any but Repeat
	Channel int    // 1 to 8 for Hot, Cold and Word; 0: counted in order
}

// MaxChannels is the most channels that a port can have.
const MaxChannels = 8

// ParseColumns reads the shop file's list of columns: one entry a number, from left to right,
// each "skip", "hot", "cold", "count", "fault" or "raw", with a channel behind it if wanted
// ("hot 2"). An entry can name a printed word instead of standing in its place: "kiln: hot 1".
func ParseColumns(list []string) ([]Column, error) {
	if len(list) == 0 || len(list) > maxMarks {
		return nil, fmt.Errorf("columns: give 1 to %d entries", maxMarks)
	}
	var out []Column
	for i, entry := range list {
		c, err := parseColumn(entry)
		if err != nil {
			return nil, fmt.Errorf("column %d, %q: %w", i+1, entry, err)
		}
		out = append(out, c)
	}
	return out, nil
}

func parseColumn(entry string) (Column, error) {
	var c Column
	what := entry
	if i := strings.LastIndexByte(entry, ':'); i >= 0 {
		c.Label, what = strings.TrimSpace(entry[:i]), entry[i+1:]
		if c.Label == "" {
			return c, errors.New("no word before the colon")
		}
	}
	w := strings.Fields(what)
	if len(w) == 0 || len(w) > 2 {
		return c, errors.New("write a role and perhaps a channel, such as hot 1")
	}
	for role, word := range roleWords[:Repeat] {
		if w[0] != word {
			continue
		}
		c.Role = Role(role)
		if len(w) == 1 {
			return c, nil
		}
		n, err := strconv.Atoi(w[1])
		if err != nil || n < 1 || n > MaxChannels || !c.Role.channelled() {
			return c, fmt.Errorf("hot, cold and raw may have a channel, 1 to %d", MaxChannels)
		}
		c.Channel = n
		return c, nil
	}
	return c, fmt.Errorf("the roles are %s", strings.Join(roleWords[:Repeat], ", "))
}

// channelled tells whether the role belongs to one channel.
func (r Role) channelled() bool { return r == Hot || r == Cold || r == Word }

// Hint is what the shop file says of a port. The zero Hint says nothing.
type Hint struct {
	Unit    *temp.Unit // of numbers that are printed without one
	Columns []Column
	// Rest says that no number but those in Columns is a probe, and that a line may have more of
	// them than Columns has places.
	Rest         bool
	DecimalComma *bool  // whether a comma between digits is the decimal mark
	Chip         string // that sends raw words, such as "MAX31855K"
}

// Question is something that the lines do not decide and the shop file has to.
type Question struct {
	What    string   // the shop file's key: "unit", "columns", "decimal_comma", "chip" or "baud"
	Choices []string // what it may be, each as the shop file would have it
	Why     string   // in one sentence, with the numbers seen
}
