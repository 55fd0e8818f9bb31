package lines

import (
	"math"
	"strconv"
	"unicode/utf8"
)

const (
	maxMarks  = 24 // numbers in a line; one with more is a stranger
	maxDigits = 15 // digits of a number: so many a float64 holds exactly
	maxHex    = 8  // digits of a chip's word
)

// mark is one number as it stands in a line.
type mark struct {
	class Class
	v     float64 // NaN where a word such as nan stands
	raw   uint32
	whole int  // digits before the decimal mark; of a hex word, all
	dec   int  // digits behind it
	zero  bool // padded with zeros in front, as in 007
	exp   bool // with an exponent
	tail  bool // the last digit is a 0 behind at least one more decimal
	from  int  // the bytes of the line that it takes
	to    int
}

// scanner takes lines apart. Its buffers are used again for every line.
type scanner struct {
	comma bool // the decimal mark is a comma
	hex   bool // a lone run of hex digits is a chip's word
	line  []byte
	text  []byte // the line's kind
	marks []mark
	over  bool // more numbers than a line may have
	word  bool // the last thing that was no blank was a word
	blank bool // a blank is due before the next thing
}

// scan takes line apart: into text, its kind, and marks, its numbers.
func (s *scanner) scan(line []byte) {
	s.line, s.text, s.marks = line, s.text[:0], s.marks[:0]
	s.over, s.word, s.blank = false, false, false
	if s.hex && s.hexLine() {
		return
	}
	for i := 0; i < len(line); {
		i = s.step(i)
	}
}

// decimals tells whether a number of the line has decimals, or a word such as nan stands there.
func (s *scanner) decimals() bool {
	for _, m := range s.marks {
		if m.class == Decimal && (m.dec > 0 || math.IsNaN(m.v)) {
			return true
		}
	}
	return false
}

// put writes text of the kind, with a blank before it if one is due.
func (s *scanner) put(p ...byte) {
	if s.blank && len(s.text) > 0 {
		s.text = append(s.text, ' ')
	}
	s.blank = false
	s.text = append(s.text, p...)
}

func (s *scanner) add(m mark, to int) int {
	if len(s.marks) == maxMarks {
		s.over = true
		return to
	}
	m.to = to
	s.marks = append(s.marks, m)
	s.put('#')
	s.word = false
	return to
}

// step takes the next thing at i and gives where it ends.
func (s *scanner) step(i int) int {
	b := s.line[i]
	switch {
	case b == ' ' || b == '\t':
		s.blank = true
		return i + 1
	case b == 0x1B:
		if n := colour(s.line[i:]); n > 0 {
			s.blank = true
			return i + n
		}
	case isDigit(b):
		return s.number(i, i)
	case (b == '-' || b == '+') && s.at(i+1, isDigit) && !s.at(i-1, joins):
		return s.number(i, i+1)
	case isLetter(b):
		return s.letters(i)
	case b >= 0x80:
		return s.wide(i)
	case b == '#' || b == '\\':
		s.put('\\', b)
		s.word = false
		return i + 1
	}
	s.put(b)
	s.word = false
	return i + 1
}

// at tells whether there is a byte at i and it is one of a set.
func (s *scanner) at(i int, set func(byte) bool) bool {
	return i >= 0 && i < len(s.line) && set(s.line[i])
}

func (s *scanner) is(i int, b byte) bool { return i >= 0 && i < len(s.line) && s.line[i] == b }

func isDigit(b byte) bool  { return b-'0' < 10 }
func isLetter(b byte) bool { return b|0x20 >= 'a' && b|0x20 <= 'z' || b == '_' }
func isHex(b byte) bool    { return isDigit(b) || b|0x20 >= 'a' && b|0x20 <= 'f' }
func isAlnum(b byte) bool  { return isDigit(b) || isLetter(b) }

// joins tells whether a sign behind b belongs to it and not to the number that follows.
func joins(b byte) bool { return isAlnum(b) || b == '.' || b == ')' || b >= 0x80 }

// colour gives the length of the terminal's colour or cursor code that p begins with.
func colour(p []byte) int {
	if len(p) < 3 || p[1] != '[' {
		return 0
	}
	i := 2
	for i < len(p) && p[i] >= '0' && p[i] <= '?' {
		i++
	}
	if i == len(p) || !isLetter(p[i]) {
		return 0
	}
	return i + 1
}

func (s *scanner) digits(i int) int {
	for i < len(s.line) && isDigit(s.line[i]) {
		i++
	}
	return i
}

// number takes the number whose digits begin at d and its sign, if any, at i.
func (s *scanner) number(i, d int) int {
	if end, m, ok := s.prefixed(i, d); ok {
		return s.add(m, end)
	}
	end := s.digits(d)
	if to := s.clock(d, end); to > 0 && d == i {
		return s.add(mark{class: Clock, v: math.NaN(), from: i}, to)
	}
	m := mark{from: i, whole: end - d, zero: end-d > 1 && s.line[d] == '0'}
	point := byte('.')
	if s.comma {
		point = ','
	}
	if s.is(end, point) && s.at(end+1, isDigit) {
		from := end + 1
		end = s.digits(from)
		m.dec = end - from
		m.tail = m.dec > 1 && s.line[end-1] == '0'
		if s.is(end, point) && s.at(end+1, isDigit) {
			return s.literal(i, end)
		}
	}
	if m.whole+m.dec > maxDigits {
		return s.literal(i, end)
	}
	if s.word && m.dec == 0 && d == i && s.naming(end) {
		return s.literal(i, end)
	}
	m.v = s.value(i, end, m.dec)
	if (s.is(end, 'e') || s.is(end, 'E')) && !s.hex {
		if to, v, ok := s.exponent(i, end); ok {
			m.v, m.exp, end = v, true, to
		}
	}
	return s.add(m, end)
}

// naming tells whether the whole number that ends at end is part of a name: "Probe 1: ".
func (s *scanner) naming(end int) bool {
	for s.is(end, ' ') {
		end++
	}
	return s.is(end, ':') || s.is(end, '=')
}

// literal takes a run of digits and marks that is no number, such as 192.168.4.1.
func (s *scanner) literal(i, end int) int {
	for s.at(end, isDigit) || (s.is(end, '.') || s.is(end, ',')) && s.at(end+1, isDigit) {
		end++
	}
	s.put(s.line[i:end]...)
	s.word = true
	return end
}

// value gives the number in line[i:end], which has few enough digits to be exact.
func (s *scanner) value(i, end, dec int) float64 {
	var whole int64
	for _, b := range s.line[i:end] {
		if isDigit(b) {
			whole = whole*10 + int64(b-'0')
		}
	}
	v := float64(whole) / pow10(dec)
	if s.line[i] == '-' {
		v = -v
	}
	return v
}

func pow10(n int) float64 {
	return [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13,
		1e14, 1e15}[n]
}

func (s *scanner) exponent(i, end int) (int, float64, bool) {
	to := end + 1
	if s.is(to, '-') || s.is(to, '+') {
		to++
	}
	last := s.digits(to)
	if last == to || last-to > 2 || s.at(last, isAlnum) {
		return 0, 0, false
	}
	text := string(s.line[i:last])
	if s.comma {
		text = string(s.line[i:end-1]) + text[end-1-i:]
	}
	v, err := strconv.ParseFloat(text, 64)
	return last, v, err == nil
}

// prefixed takes a hex word such as 0x0B541810.
func (s *scanner) prefixed(i, d int) (int, mark, bool) {
	if d != i || s.line[i] != '0' || !(s.is(i+1, 'x') || s.is(i+1, 'X')) {
		return 0, mark{}, false
	}
	end := i + 2
	for s.at(end, isHex) {
		end++
	}
	m, ok := hexMark(s.line[i+2 : end])
	if !ok || s.at(end, isAlnum) {
		return 0, mark{}, false
	}
	m.from = i
	return end, m, true
}

func hexMark(p []byte) (mark, bool) {
	if len(p) == 0 || len(p) > maxHex {
		return mark{}, false
	}
	m := mark{class: Hex, whole: len(p), zero: len(p) > 1 && p[0] == '0'}
	for _, b := range p {
		if !isHex(b) {
			return m, false
		}
		n := b - '0'
		if !isDigit(b) {
			n = b&^0x20 - 'A' + 10
		}
		m.raw = m.raw<<4 | uint32(n)
	}
	m.v = float64(m.raw)
	return m, true
}

// hexLine takes a line that is one run of hex digits, perhaps behind words.
func (s *scanner) hexLine() bool {
	end := len(s.line)
	for end > 0 && s.line[end-1] == ' ' {
		end--
	}
	from := end
	for from > 0 && isAlnum(s.line[from-1]) {
		from--
	}
	m, ok := hexMark(s.line[from:end])
	if !ok || from > 1 && s.line[from-1] == '.' {
		return false
	}
	for i := 0; i < from; {
		if isDigit(s.line[i]) {
			s.text, s.marks, s.word, s.blank = s.text[:0], s.marks[:0], false, false
			return false
		}
		i = s.step(i)
	}
	m.from = from
	s.add(m, end)
	return true
}

// clock gives the end of a time of day (14:05:09) or a date (2026-11-24) whose first number
// is line[i:end], or 0.
func (s *scanner) clock(i, end int) int {
	two := func(at int, sep byte) bool {
		return s.is(at, sep) && s.at(at+1, isDigit) && s.at(at+2, isDigit) && !s.at(at+3, isDigit)
	}
	switch {
	case end-i == 4 && two(end, '-') && two(end+3, '-'):
		return end + 6
	case end-i <= 2 && two(end, ':') && two(end+3, ':'):
		to := end + 6
		if s.is(to, '.') && s.at(to+1, isDigit) {
			to = s.digits(to + 1)
		}
		return to
	case end-i == 2 && two(end, ':') && !s.is(end+3, '.') && !s.is(end+3, ':'):
		return end + 3
	}
	return 0
}

// letters takes a word. One such as nan stands for a number.
func (s *scanner) letters(i int) int {
	end := i
	for s.at(end, isAlnum) {
		end++
	}
	if isNumberWord(s.line[i:end]) && !s.is(end, ':') && !s.is(end, '=') {
		from := i
		if n := len(s.text); n > 0 && !s.blank && i > 0 && s.text[n-1] == s.line[i-1] &&
			(s.line[i-1] == '-' || s.line[i-1] == '+') {
			s.text, from = s.text[:n-1], i-1
			s.blank = n > 1 && s.text[n-2] == ' '
			if s.blank {
				s.text = s.text[:n-2]
			}
		}
		return s.add(mark{v: math.NaN(), from: from}, end)
	}
	for s.is(end, '.') && s.at(end+1, isDigit) && isDigit(s.line[end-1]) {
		end = s.digits(end + 1) // v2.1
	}
	s.put(s.line[i:end]...)
	s.word = true
	return end
}

// isNumberWord tells whether w is printed where a number cannot be.
func isNumberWord(w []byte) bool {
	if len(w) < 3 || len(w) > 8 {
		return false
	}
	var low [8]byte
	for i, b := range w {
		low[i] = b | 0x20
	}
	switch string(low[:len(w)]) {
	case "nan", "inf", "ovf", "infinity", "null", "none":
		return true
	}
	return false
}

// wide takes a rune of several bytes or a byte that is no text. Every sort of degree sign is
// written as one: of Latin-1, of code page 437, of Unicode, the ordinal sign and one encoded
// twice.
func (s *scanner) wide(i int) int {
	r, n := utf8.DecodeRune(s.line[i:])
	if r == 'Â' {
		if next, m := utf8.DecodeRune(s.line[i+n:]); next == '°' {
			r, n = next, n+m
		}
	}
	raw := s.line[i]
	switch {
	case r == '°' || r == 'º' || n == 1 && (raw == 0xB0 || raw == 0xBA || raw == 0xF8):
		s.put(0xC2, 0xB0)
	case r == '℃':
		s.put(0xC2, 0xB0, 'C')
	case r == '℉':
		s.put(0xC2, 0xB0, 'F')
	default:
		s.put(s.line[i : i+n]...)
		s.word = true
		return i + n
	}
	s.word = false
	return i + n
}
