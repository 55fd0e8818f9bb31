package shop

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Problem is what is wrong with a file.
type Problem struct {
	What   string // "shop file" or "found file"
	File   string
	Line   int    // from 1
	Column int    // from 1, in characters
	Key    string // the key it is about; "" if it is about none
	Text   string // what is wrong and what to do
}

// Error gives one line: the file, the place in it, the key, what is wrong, what to do.
func (p *Problem) Error() string {
	s := fmt.Sprintf("%s %s, line %d, column %d", p.What, oneLine(p.File), p.Line, p.Column)
	if p.Key != "" {
		s += ": " + oneLine(p.Key)
	}
	return s + ": " + oneLine(p.Text)
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
