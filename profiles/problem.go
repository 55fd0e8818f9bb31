package profiles

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Problem is the one kind of error that this package gives for a profile.
type Problem struct {
	File   string // file, or name of a profile that came from no file
	Line   int    // from 1; 0 if the profile came from no file
	Column int    // from 1, in characters; 0 if the profile came from no file
	Key    string // the key it is about; "" if it is about none
	Text   string // what is wrong and what to do
}

// Error gives one line: the profile, the place in it, the key, what is wrong, what to do.
func (p *Problem) Error() string {
	var b strings.Builder
	b.WriteString("profile ")
	b.WriteString(oneLine(p.File))
	if p.Line > 0 {
		fmt.Fprintf(&b, ", line %d, column %d", p.Line, p.Column)
	}
	if p.Key != "" {
		b.WriteString(": ")
		b.WriteString(oneLine(p.Key))
	}
	b.WriteString(": ")
	b.WriteString(oneLine(p.Text))
	return b.String()
}

// oneLine quotes text that could break a line or steer a terminal.
func oneLine(s string) string {
	if printable(s) {
		return s
	}
	return strconv.Quote(s)
}

// printable reports whether s is valid text without control or format characters.
func printable(s string) bool {
	return utf8.ValidString(s) && strings.IndexFunc(s, func(r rune) bool {
		return !unicode.IsPrint(r)
	}) < 0
}

// place gives line and column, both from 1, of a byte offset; the column counts characters,
// as editors do.
func place(data []byte, offset int) (line, column int) {
	offset = max(0, min(offset, len(data)))
	start := 0
	line = 1
	for i, c := range data[:offset] {
		if c == '\n' {
			line++
			start = i + 1
		}
	}
	return line, utf8.RuneCount(data[start:offset]) + 1
}

// offsetOf is the way back from a line and a column that counts bytes.
func offsetOf(data []byte, line, column int) int {
	offset := 0
	for i, c := range data {
		if line <= 1 {
			break
		}
		if c == '\n' {
			line--
			offset = i + 1
		}
	}
	return offset + column - 1
}
