package lines

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"strawline/probe"
)

const (
	maxWindow = 32 // lines that learning looks back on
	maxKinds  = 16 // kinds of lines in a shape
	maxTexts  = 16 // texts without numbers that a shape remembers
	least     = 3  // readings that agree before anything is believed
	settled   = 12 // lines after which a kind seen only twice no longer holds learning up
)

// column is one number of a kind of line, over the lines of the window.
type column struct {
	Slot
	naming
	guess  guess
	marks  []mark
	kind   int
	place  int // in its line, from 0
	usual  int // how many numbers have as many decimals as most
	maybe  bool
	fixed  bool // the shop file says what it is
	repeat *column
}

// seen is a line of the window.
type seen struct {
	text string
	end  End
	at   time.Duration
}

// kindSeen is a kind of line with the window's lines that are of it.
type kindSeen struct {
	text string
	at   []int
	ends [CR + 1]int // how many lines ended so
	cols []*column
}

// learner turns a window of lines into a shape or into questions.
type learner struct {
	hint      Hint
	header    string
	lines     []seen
	shape     Shape
	kinds     []*kindSeen
	texts     map[string][]int // where each text without a number stands
	questions []Question
	waiting   bool // more lines may decide it
}

// learn looks at the lines of a window and gives the shape that they have, if there is nothing
// left to ask; header is the last line seen that looked like one.
func learn(lines []seen, header string, hint Hint) (Shape, []Question, bool) {
	l := &learner{hint: hint, header: header, lines: lines}
	l.modes()
	l.gather()
	l.reduce()
	if len(l.kinds) == 0 {
		l.askBaud()
	}
	if !slices.ContainsFunc(l.all(), func(c *column) bool { return c.finite() >= least }) ||
		len(l.questions) > 0 {
		return Shape{}, l.questions, false
	}
	l.nameByHeader()
	l.guessRoles()
	l.relate()
	l.decide()
	l.checkTurns()
	l.channels()
	l.units()
	if len(l.questions) > 0 || l.waiting || !l.write() {
		return Shape{}, l.questions, false
	}
	return l.shape, nil, true
}

// gather sorts the window's lines by their kind.
func (l *learner) gather() {
	s := scanner{comma: l.shape.DecimalComma, hex: l.shape.HexWords}
	byText := map[string]*kindSeen{}
	l.texts = map[string][]int{}
	for i, line := range l.lines {
		s.scan([]byte(line.text))
		text := string(s.text)
		if s.over || isROM(line.text) {
			continue
		}
		if len(s.marks) == 0 && faultIn(line.text) != probe.FaultNone {
			continue
		}
		if !s.decimals() && faultAlone(line.text) != probe.FaultNone && len(s.marks) > 0 {
			continue
		}
		if len(s.marks) == 0 {
			l.texts[text] = append(l.texts[text], i)
			continue
		}
		k := byText[text]
		if k == nil {
			k = &kindSeen{text: text}
			for place := range s.marks {
				k.cols = append(k.cols, &column{place: place})
			}
			byText[text] = k
			l.kinds = append(l.kinds, k)
		}
		k.at = append(k.at, i)
		k.ends[line.end]++
		for place, m := range s.marks {
			k.cols[place].marks = append(k.cols[place].marks, m)
		}
	}
}

// reduce keeps the kinds that come again. One seen twice makes it wait for a third.
func (l *learner) reduce() {
	keep := l.kinds[:0]
	most := 0
	for _, k := range l.kinds {
		most = max(most, len(k.at))
	}
	for _, k := range l.kinds {
		switch {
		case len(k.at) >= least:
			keep = append(keep, k)
		case len(k.at) > 1 && most >= least && len(l.lines) < settled:
			l.waiting = true
		}
	}
	slices.SortFunc(keep, func(a, b *kindSeen) int { return cmp.Compare(a.text, b.text) })
	l.kinds = keep[:min(len(keep), maxKinds)]
	for i, k := range l.kinds {
		n := names(k.text)
		for j, c := range k.cols {
			c.kind, c.naming = i, n[j]
			c.sum()
		}
	}
}

// sum notes the form of the column's numbers.
func (c *column) sum() {
	c.Label = c.label
	c.guess = c.naming.guess()
	c.Class = c.marks[0].class
	var with [maxDigits + 1]int // how many have so many decimals
	n, zeros, exps, tail := 0, 0, 0, false
	for _, m := range c.marks {
		if math.IsNaN(m.v) && m.class == Decimal {
			continue
		}
		c.Class = m.class
		with[m.dec]++
		n++
		tail = tail || m.tail
		if m.exp {
			exps++
		}
		if m.zero {
			zeros++
			c.Width = max(c.Width, m.whole)
		}
	}
	if zeros < 2 && c.Class != Hex {
		c.Width = 0 // one may be noise
	}
	if n == 0 { // only words came: the first number decides
		c.MaxDec = maxDigits
		return
	}
	c.Exp = exps == n && n > 0
	usual := slices.Index(with[:], slices.Max(with[:]))
	c.MinDec, c.MaxDec = usual, usual
	c.usual = with[usual]
	// Sketches that leave out zeros at the end print all sorts; noise makes a few.
	if n >= unzeroed && !tail && 4*(n-with[usual]) >= n {
		c.usual = n
		for dec, count := range with {
			if count > 0 {
				c.MinDec, c.MaxDec = min(c.MinDec, dec), max(c.MaxDec, dec)
			}
		}
	}
}

// nameByHeader gives the header's words to the columns of a kind that has none of its own.
func (l *learner) nameByHeader() {
	cells := headerCells(l.header)
	for _, k := range l.kinds {
		bare := len(cells) == len(k.cols)
		for _, c := range k.cols {
			bare = bare && c.guess == noLabel && c.naming.unit == NoUnit
		}
		if !bare {
			continue
		}
		for i, c := range k.cols {
			c.naming = nameOf(cells[i])
			c.Label, c.guess = c.label, c.naming.guess()
		}
	}
}

// headerCells gives the cells of a line that looks like a header, nil if it does not.
func headerCells(line string) []string {
	t := strings.Trim(line, " \t\r#,;")
	sep := ","
	for _, s := range []string{";", "\t", "|", ","} {
		if strings.Contains(t, s) {
			sep = s
			break
		}
	}
	cells := strings.Split(t, sep)
	known := false
	for i, cell := range cells {
		cells[i] = strings.Trim(cell, " \t\"'")
		g := nameOf(cells[i]).guess()
		if cells[i] == "" || !isLetter(cells[i][0]) || strings.ContainsAny(cells[i], ".:=!?") ||
			faultIn(cells[i]) != probe.FaultNone && (g != faultWord || len(cells) < 2 ||
				strings.Contains(cells[i], " ")) {
			return nil
		}
		known = known || g != unknown && g != noLabel || nameOf(cells[i]).unit != NoUnit
		if len(cells) == 1 && (g != hotWord && g != placeHot) {
			return nil
		}
	}
	if !known || len(cells) > maxMarks {
		return nil
	}
	return cells
}

// write fills the shape; false if no number of it is a probe yet.
func (l *learner) write() bool {
	given := false
	for _, k := range l.kinds {
		line := Line{Text: k.text, End: End(slices.Index(k.ends[:], slices.Max(k.ends[:])))}
		for _, c := range k.cols {
			line.Slots = append(line.Slots, c.Slot)
			given = given || (c.Role == Hot || c.Role == Word) && c.usual >= least
		}
		l.shape.Lines = append(l.shape.Lines, line)
	}
	begin := len(l.lines)
	for _, k := range l.kinds {
		begin = min(begin, k.at[0])
	}
	for text, at := range l.texts {
		among := len(at)
		for among > 0 && at[len(at)-among] < begin {
			among--
		}
		switch {
		case headerCells(text) != nil, among < least && at[0] < begin:
			l.shape.Banners = append(l.shape.Banners, text)
		case among >= least:
			l.shape.Texts = append(l.shape.Texts, text)
		}
	}
	if l.header != "" && l.texts[l.header] == nil {
		l.shape.Banners = append(l.shape.Banners, l.header)
	}
	slices.Sort(l.shape.Banners)
	slices.Sort(l.shape.Texts)
	l.shape.Banners = l.shape.Banners[:min(len(l.shape.Banners), maxTexts)]
	l.shape.Texts = l.shape.Texts[:min(len(l.shape.Texts), maxTexts)]
	return given && l.shape.Check() == nil
}

func (c *column) finite() int {
	n := 0
	for _, m := range c.marks {
		if !math.IsNaN(m.v) && !math.IsInf(m.v, 0) {
			n++
		}
	}
	return n
}

// all gives every column of every kind.
func (l *learner) all() []*column {
	var out []*column
	for _, k := range l.kinds {
		out = append(out, k.cols...)
	}
	return out
}

// with gives the columns of a role.
func (l *learner) with(roles ...Role) []*column {
	return slices.DeleteFunc(l.all(), func(c *column) bool {
		return c.maybe || !slices.Contains(roles, c.Role)
	})
}
