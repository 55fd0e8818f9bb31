package tui

import (
	"slices"
	"strings"
	"unicode"
)

// What a screen says beside its picture, in the escape sequences of Thomas Dickey's "XTerm Control
// Sequences": BEL; OSC 2, the window title; the window operations 22 and 23, which put the titles
// on a stack and take them back. Each OSC ends with ST, not with BEL, which a terminal that does
// not know the sequence would sound. The notification is OSC 9 with a text: common practice of
// several terminals, no standard; the others let it pass. Some take a number behind the 9 for
// something else, so no text of ours begins with a digit.
const (
	bellSequence = "\a"
	titlesKept   = "\x1b[22;0t"
	titlesBack   = "\x1b[23;0t"
	titleBegins  = "\x1b]2;"
	noteBegins   = "\x1b]9;"
	oscEnds      = "\x1b\\"
)

// Longest texts, in characters; our choice: what a tab and a corner of the desktop show.
const (
	longestTitle = 80
	longestNote  = 160
)

// harmless makes text fit for the inside of an escape sequence: no control character and no byte
// that is one in an 8-bit terminal (80 to 9F), whatever the encoding. A character of a name that
// has such a byte becomes a question mark, and what does not print a space.
func harmless(text string, most int) string {
	var b strings.Builder
	n := 0
	for _, r := range text {
		if n++; n > most {
			break
		}
		if !unicode.IsPrint(r) || r == unicode.ReplacementChar {
			r = ' '
		}
		one := string(r)
		if slices.ContainsFunc([]byte(one), func(c byte) bool { return c >= 0x80 && c <= 0x9f }) {
			one = "?"
		}
		b.WriteString(one)
	}
	return b.String()
}

// titleSequence sets the window title.
func titleSequence(text string) string {
	return titleBegins + harmless(text, longestTitle) + oscEnds
}

// noteSequence shows a notification; text must not begin with a digit.
func noteSequence(text string) string {
	return noteBegins + harmless(text, longestNote) + oscEnds
}
