package lines

import (
	"strings"
	"unicode/utf8"
)

// modes decides how numbers are written: with a decimal comma, and as hex words without 0x.
func (l *learner) modes() {
	l.shape.HexWords = l.hexWords()
	if l.shape.HexWords {
		return
	}
	if l.hint.DecimalComma != nil {
		l.shape.DecimalComma = *l.hint.DecimalComma
		return
	}
	l.shape.DecimalComma = l.commas()
}

// hexWords tells whether lines come that are one run of hex digits. At least two must have a
// letter, unless the shop file names the chip.
func (l *learner) hexWords() bool {
	runs, letters := 0, 0
	s := scanner{hex: true}
	for _, seen := range l.lines {
		line := seen.text
		s.scan([]byte(line))
		if len(s.marks) != 1 || s.marks[0].class != Hex {
			continue
		}
		m := s.marks[0]
		run := line[m.from:m.to]
		named := string(s.text) == "#" || isRawLabel(string(s.text))
		if !named || !strings.ContainsAny(run, "0123456789") {
			continue
		}
		runs++
		if len(run) > 2 && strings.ContainsAny(run, "abcdefABCDEF") {
			letters++
		}
	}
	return runs >= least && (letters > 1 || l.hint.Chip != "")
}

func isRawLabel(text string) bool { return names(text)[0].guess() == rawWord }

// commas decides whether a comma between digits is the decimal mark: it is if the digits
// behind it are padded with zeros (24,06), or if another mark parts the fields. It asks where
// both readings are possible.
func (l *learner) commas() bool {
	var s scanner
	type pair struct{ n, padded, least, most, parted int }
	pairs := map[string]*pair{}
	example := ""
	for _, seen := range l.lines {
		line := seen.text
		s.scan([]byte(line))
		text := string(s.text)
		if !strings.Contains(text, "#,#") || isROM(line) || s.over {
			continue
		}
		p := pairs[text]
		if p == nil {
			p = &pair{least: maxDigits}
			pairs[text] = p
		}
		g := gaps(text)
		for i, m := range s.marks {
			if m.dec > 0 || m.class != Decimal || g[i] == "," && line[m.from] == '-' ||
				g[i] == "," && g[i+1] == "," || g[i+1] == "," && m.v > hottest {
				p.n = -maxWindow
			}
			if g[i] != "," {
				continue
			}
			p.least, p.most = min(p.least, m.whole), max(p.most, m.whole)
			if m.zero {
				p.padded++
			}
		}
		p.n++
		if strings.Contains(text, ";") || strings.Contains(text, "#,# #,#") {
			p.parted++
		}
		if p.n > 0 {
			example = line
		}
	}
	ask := false
	for _, p := range pairs {
		switch {
		case p.n < least:
		case p.least == p.most && (p.padded > 0 || p.parted == p.n):
			return true
		default:
			ask = true
		}
	}
	if ask {
		l.ask("decimal_comma", []string{"true", "false"},
			"\""+short(example)+"\" is one number with a decimal comma, or two whole numbers")
	}
	return false
}

// askBaud asks for the speed of the line if what comes is no text.
func (l *learner) askBaud() {
	odd, n := 0, 0
	for _, seen := range l.lines {
		line := seen.text
		for i := 0; i < len(line); {
			r, size := utf8.DecodeRuneInString(line[i:])
			if r == utf8.RuneError || r < ' ' && r != '\t' && r != 0x1B {
				odd++
			}
			n++
			i += size
		}
	}
	if n >= 64 && odd*4 > n {
		l.ask("baud", []string{"9600", "115200", "19200", "38400", "57600", "74880", "250000"},
			"what comes is not text; the board may speak at another speed")
	}
}

func (l *learner) ask(what string, choices []string, why string) {
	l.questions = append(l.questions, Question{What: what, Choices: choices, Why: why})
}

// short gives at most 40 bytes of a line, for a question.
func short(line string) string {
	if len(line) <= 40 {
		return strings.ToValidUTF8(line, "?")
	}
	return strings.ToValidUTF8(line[:40], "?") + "..."
}
