package main

import (
	"encoding/json"
	"slices"
	"strconv"
	"strings"

	"strawline/control/shop"
	"strawline/probe/lines"
	"strawline/probe/temp"
)

// newName is what a board is called in text to paste until a person calls it something else.
const newName = "my-board"

// listenQuestion is a question that the shop file has to answer.
type listenQuestion struct {
	Key     string         `json:"key"`
	Why     string         `json:"why"`
	Choices []listenChoice `json:"choices"`
}

// listenChoice is one answer. Paste is the board as the shop file would then have it; "" where
// the answer is not one of the shop file's.
type listenChoice struct {
	Says  string   `json:"says"`
	Paste string   `json:"paste,omitempty"`
	lines []string // of Paste, those that answer
}

// questionOf puts a question of the reader into the words of the shop file.
func questionOf(q lines.Question, base shop.Board, u temp.Unit) listenQuestion {
	out := listenQuestion{Key: q.What, Why: visible(q.Why), Choices: []listenChoice{}}
	if q.What == "decimal_comma" {
		out.Key = "decimal"
	}
	plain := strings.Split(base.Paste(u), "\n")
	for _, says := range q.Choices {
		c := listenChoice{Says: visible(says)}
		if b, ok := answered(base, q.What, says); ok {
			c.Paste = b.Paste(u)
			for line := range strings.Lines(c.Paste) {
				if line = strings.TrimSpace(line); !slices.Contains(plain, line) {
					c.lines = append(c.lines, line)
				}
			}
		}
		out.Choices = append(out.Choices, c)
	}
	return out
}

// answered gives a board whose entry answers a question so; false if no entry can.
func answered(b shop.Board, what, says string) (shop.Board, bool) {
	switch what {
	case "unit":
		b.Lines.HasUnit, b.Lines.Unit = true, temp.Celsius
		if strings.Contains(says, "F") {
			b.Lines.Unit = temp.Fahrenheit
		}
	case "decimal_comma":
		b.Lines.Decimal = "."
		if says == "true" {
			b.Lines.Decimal = ","
		}
	case "chip":
		b.Lines.Chip = says
	case "baud":
		n, err := strconv.Atoi(says)
		if err != nil {
			return b, false
		}
		b.Baud = n
	case "columns":
		return columnsSaid(b, says)
	default:
		return b, false
	}
	return b, true
}

// columnsSaid turns the reader's list of columns, one entry a number, into the shop file's,
// which names those of the channels alone; false where that would lose what settles the question:
// a word that is to be passed over, or how many numbers follow the last one named.
func columnsSaid(b shop.Board, says string) (shop.Board, bool) {
	var list []string
	if json.Unmarshal([]byte(says), &list) != nil {
		return b, false
	}
	columns, err := lines.ParseColumns(list)
	if err != nil {
		return b, false
	}
	b.Lines.Columns, b.Lines.ColdColumn = nil, shop.Column{}
	for i, c := range columns {
		at := shop.Column{Number: i + 1}
		if c.Label != "" {
			at = shop.Column{Label: c.Label}
		}
		switch c.Role {
		case lines.Hot, lines.Word:
			b.Lines.Columns = append(b.Lines.Columns, at)
		case lines.Cold:
			b.Lines.ColdColumn = at
		default:
			if c.Label != "" || i == len(columns)-1 {
				return b, false
			}
		}
	}
	return b, len(b.Lines.Columns) > 0
}

// text says a question with its answers; path is the shop file's, and board the name of the
// board there, "" if it has none on this port.
func (q listenQuestion) text(base shop.Board, u temp.Unit, path, board string) string {
	var s strings.Builder
	s.WriteString("the shop file has to say " + q.Key + ": " + q.Why + "\n")
	var free, not, ways []string
	for _, c := range q.Choices {
		switch {
		case len(c.lines) > 0:
		case c.Paste != "": // what holds without a word
			continue
		case strings.HasPrefix(c.Says, "["):
			not = append(not, c.Says)
			continue
		default:
			free = append(free, c.Says)
			continue
		}
		ways = append(ways, strings.Join(c.lines, "\n    "))
	}
	if len(ways) > 0 {
		if board != "" {
			s.WriteString("  put under the board " + board + " of " + path + " the one that is right:\n")
		} else {
			s.WriteString("  paste into " + path + "\n")
			for line := range strings.Lines(base.Paste(u)) {
				s.WriteString("    " + line)
			}
			s.WriteString("  and below it the one that is right:\n")
		}
		s.WriteString("    " + strings.Join(ways, "\n  or\n    ") + "\n")
	}
	if len(free) > 0 {
		s.WriteString("  or: " + strings.Join(free, "; ") + "\n")
	}
	if len(not) > 0 {
		s.WriteString("  what no line of the shop file can say: " + strings.Join(not, "; ") +
			"; there, have the sketch print a word or a unit with each number\n")
	}
	return s.String()
}
