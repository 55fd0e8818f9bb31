package lines

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"strawline/probe/temp"
)

const (
	// hottest is the highest reading believed, °C: type R ends at 1768.1 and type B at 1820
	// (NIST Monograph 175). A number above it that grows is a clock.
	hottest = 1850
	// clockAbove is a number that is no temperature in °F either: 1850 °C is 3362 °F.
	clockAbove = 3400
	// countLines is how often in a row a number must grow by exactly 1 to be a count: an oven
	// that warms by whole degrees does not do it so long beside a number with decimals.
	countLines = 8
)

// guessRoles gives each column the role that its words, its unit and the shop file say. A
// column that may be a probe but need not be stays a maybe.
func (l *learner) guessRoles() {
	for _, c := range l.all() {
		c.Unit = c.naming.unit
		if l.byHint(c) {
			continue
		}
		switch {
		case c.Class == Clock:
		case c.Class == Hex:
			if c.guess == rawWord || c.guess == noLabel && len(l.kinds[c.kind].cols) == 1 {
				c.Role = Word
			}
		case c.guess == skipWord, c.guess == rawWord:
		case c.guess == faultWord:
			if c.MaxDec == 0 {
				c.Role = Status
			}
		case c.guess == coldWord:
			c.Role = Cold
		case c.Unit != NoUnit:
			c.Role = Hot
		case c.guess == tickWord:
			if c.growing() {
				c.Role = Tick
			}
		case c.guess == placeHot, c.guess == hotWord && !c.clockLike():
			c.Role = Hot
		case c.clockLike():
			c.Role = Tick
		default:
			c.Role, c.maybe = Hot, true
		}
	}
	hots := l.with(Hot, Word)
	for _, c := range hots {
		// A lone t beside a probe with a name is the time, and so is one that no oven reaches.
		if c.Label != "t" || c.Unit != NoUnit || c.fixed || len(hots) == 1 && !c.above(clockAbove) {
			continue
		}
		c.Role = Skip
		if c.growing() {
			c.Role = Tick
		}
	}
}

// above tells whether every number is above v.
func (c *column) above(v float64) bool {
	return !slices.ContainsFunc(c.marks, func(m mark) bool { return !(m.v > v) })
}

// byHint lets the shop file decide.
func (l *learner) byHint(c *column) bool {
	placed := 0
	for _, h := range l.hint.Columns {
		if h.Label == "" {
			placed++
		}
	}
	place := 0
	for _, h := range l.hint.Columns {
		n := nameOf(h.Label)
		hit := h.Label != "" && n.label == c.label && (n.unit == NoUnit || n.unit == c.Unit)
		if h.Label == "" {
			n := len(l.kinds[c.kind].cols)
			hit = (placed == n || l.hint.Rest && placed < n) && place == c.place
			place++
		}
		if hit {
			c.Role, c.Channel, c.fixed, c.maybe = h.Role, h.Channel, true, false
			if (c.Role == Word) != (c.Class == Hex) || c.Class == Clock {
				c.Role = Skip
			}
			return true
		}
	}
	if l.hint.Rest && len(l.hint.Columns) > 0 && c.guess != coldWord && c.guess != tickWord &&
		c.guess != faultWord && !c.clockLike() {
		c.Role, c.fixed, c.maybe = Skip, true, false
		return true
	}
	return false
}

// growing tells whether each number is above the one before.
func (c *column) growing() bool {
	for i := 1; i < len(c.marks); i++ {
		if !(c.marks[i].v > c.marks[i-1].v) {
			return false
		}
	}
	return len(c.marks) >= least
}

// clockLike tells whether a column without a name can only be a running count or clock.
func (c *column) clockLike() bool {
	if !c.growing() || c.MaxDec > 0 || c.Unit != NoUnit {
		return false
	}
	if c.marks[0].v > clockAbove {
		return true
	}
	for i := 1; i < len(c.marks); i++ {
		if c.marks[i].v != c.marks[i-1].v+1 {
			return false
		}
	}
	return len(c.marks) >= countLines && (c.guess != hotWord || c.label == "t")
}

// decide settles the maybes.
func (l *learner) decide() {
	var maybes []*column
	for _, c := range l.all() {
		if c.maybe {
			maybes = append(maybes, c)
		}
	}
	sure := len(l.with(Hot, Word)) > 0
	if sure {
		for _, c := range maybes {
			c.Role, c.maybe = Skip, false
		}
		return
	}
	if len(maybes) == 1 && maybes[0].guess == noLabel {
		c := maybes[0]
		c.maybe = false
		if c.MaxDec == 0 && c.above(10*clockAbove) {
			l.ask("chip", chips(), "\""+l.example(c)+"\" is no temperature; it may be a chip's word")
		}
		return
	}
	if len(maybes) > 0 {
		l.askColumns(maybes)
	}
}

func chips() []string {
	return []string{"MAX31855K", "MAX31855J", "MAX31855N", "MAX31855T", "MAX31855E", "MAX31855S",
		"MAX31855R", "MAX6675", "MAX31856", "MCP9600", "ADS1118"}
}

// example gives the last line that has the column.
func (l *learner) example(c *column) string {
	k := l.kinds[c.kind]
	return short(l.lines[k.at[len(k.at)-1]].text)
}

// askColumns asks which number is the probe, with every answer that makes sense spelled out.
func (l *learner) askColumns(maybes []*column) {
	k := l.kinds[maybes[0].kind]
	if maybes[0].label != "" {
		for _, c := range maybes {
			if c.label == "" {
				break
			}
			var choices []string
			for _, role := range []string{"hot", "cold", "skip"} {
				choices = append(choices, fmt.Sprintf("[%q]", c.label+": "+role))
			}
			l.ask("columns", choices, fmt.Sprintf("what is %q in %q", c.label, l.example(c)))
		}
		return
	}
	var open []int
	words := make([]string, len(k.cols))
	for i, c := range k.cols {
		words[i] = `"` + c.Role.String() + `"`
		if c.maybe {
			words[i] = `"skip"`
			open = append(open, i)
		}
	}
	var choices []string
	say := func() { choices = append(choices, "["+strings.Join(words, ", ")+"]") }
	for _, i := range open {
		words[i] = `"hot"`
		say()
		for _, j := range open {
			if j == i || len(open) > 4 {
				continue
			}
			words[j] = `"cold"`
			say()
			if words[j] = `"hot"`; j > i {
				say()
			}
			words[j] = `"skip"`
		}
		words[i] = `"skip"`
	}
	if len(open) == 1 {
		choices = append(choices, "give the line a word that names it")
	}
	l.ask("columns", choices, fmt.Sprintf("which number of %q is the probe", l.example(maybes[0])))
}

// channels numbers the probes: line kinds in the order of their text, each from left to right;
// the same words in another kind of line are the same channel.
func (l *learner) channels() {
	used := map[int]bool{}
	for _, c := range l.with(Hot, Word) {
		used[c.Channel] = true
	}
	byName := map[string]int{}
	next := 1
	nth := map[string]int{}
	for _, c := range l.with(Hot, Word) {
		key := fmt.Sprint(c.label, "|", c.Unit, "|", c.Role)
		again := fmt.Sprint(key, "|", c.kind)
		key = fmt.Sprint(key, "|", nth[again])
		nth[again]++
		if c.Channel == 0 {
			c.Channel = byName[key]
		}
		for c.Channel == 0 {
			if !used[next] {
				c.Channel = next
			}
			next++
		}
		byName[key] = c.Channel
		used[c.Channel] = true
		if c.Channel > MaxChannels {
			c.Role, c.Channel = Skip, 0
		}
	}
	for _, c := range l.all() {
		if c.Role == Repeat {
			if c.repeat.Role == Hot {
				c.Channel = c.repeat.Channel
			} else {
				c.Role = Skip
			}
		}
	}
	l.pairColds(len(byName))
}

// pairColds says which cold junction belongs to which probe: as many as probes belong in
// order, a single one belongs to all.
func (l *learner) pairColds(probes int) {
	colds := l.with(Cold)
	for i, c := range colds {
		in := func(o *column) bool { return o.kind != c.kind }
		hots := slices.DeleteFunc(l.with(Hot), in)
		mine := slices.DeleteFunc(slices.Clone(colds), in)
		switch {
		case c.Channel > 0:
		case len(mine) == len(hots):
			c.Channel = hots[slices.Index(mine, c)].Channel
		case len(colds) == probes && len(hots) == 0:
			c.Channel = i + 1
		case len(colds) > 1 && i > 0:
			c.Role = Skip
		}
	}
}

// units gives each temperature its unit: the printed one, what arithmetic showed, the shop
// file's; a cold junction's is its probe's. What is left is asked.
func (l *learner) units() {
	hots := l.with(Hot)
	for _, c := range hots {
		if c.Unit == NoUnit && l.hint.Unit != nil {
			c.Unit = Celsius
			if *l.hint.Unit == temp.Fahrenheit {
				c.Unit = Fahrenheit
			}
		}
	}
	var without *column
	for _, c := range hots {
		if c.Unit == NoUnit && without == nil {
			without = c
		}
	}
	if without != nil {
		l.ask("unit", []string{`"C"`, `"F"`}, l.whyUnit(without))
		return
	}
	for _, c := range l.with(Cold) {
		if c.Unit != NoUnit || len(hots) == 0 {
			continue
		}
		c.Unit = hots[0].Unit
		for _, h := range hots {
			if h.Channel == c.Channel {
				c.Unit = h.Unit
			}
		}
	}
	for _, c := range l.with(Cold) {
		if c.Unit == NoUnit {
			c.Role = Skip
		}
	}
}

func (l *learner) whyUnit(c *column) string {
	why := fmt.Sprintf("%q has no unit", l.example(c))
	quarters := c.MaxDec >= 2
	for _, m := range c.marks {
		quarters = quarters && (math.IsNaN(m.v) || m.v*16 == math.Trunc(m.v*16))
	}
	if quarters {
		why += "; the numbers are such as chips count in °C"
	}
	return why
}
