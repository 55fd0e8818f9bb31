package steel

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
)

// Problem is what is wrong with a file of a smith's own steels.
type Problem struct {
	File   string
	Line   int    // from 1
	Column int    // from 1, in characters
	Key    string // the key it is about; "" if it is about none
	Text   string // what is wrong and what to do
}

// Error gives one line: the file, the place, the key, what is wrong.
func (p *Problem) Error() string {
	at := fmt.Sprintf("steels of %s, line %d, column %d: ", oneLine(p.File), p.Line, p.Column)
	if p.Key != "" {
		at += oneLine(p.Key) + ": "
	}
	return at + oneLine(p.Text)
}

// oneLine quotes text that could break a line or steer a terminal.
func oneLine(s string) string {
	if printable(s) {
		return s
	}
	return strconv.Quote(s)
}

func printable(s string) bool {
	return utf8.ValidString(s) && strings.IndexFunc(s, func(r rune) bool {
		return !unicode.IsPrint(r)
	}) < 0
}

// place gives line and column of an offset in bytes; the column counts characters.
func place(data []byte, offset int) (line, column int) {
	before := data[:max(0, min(offset, len(data)))]
	start := bytes.LastIndexByte(before, '\n') + 1
	return bytes.Count(before, []byte("\n")) + 1, utf8.RuneCount(before[start:]) + 1
}

// offsetOf is where a fault of the TOML is, whose column counts bytes.
func offsetOf(data []byte, err *toml.DecodeError) int {
	line, column := err.Position()
	offset := 0
	for range line - 1 {
		end := bytes.IndexByte(data[offset:], '\n')
		if end < 0 {
			break
		}
		offset += end + 1
	}
	return offset + column - 1
}
