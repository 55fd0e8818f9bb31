package lines

import (
	"fmt"
	"math"
)

// same tells whether b of unit u repeats a, in °C, as exactly as both are printed, cut or
// rounded. A Kelvin may be counted from 273 or 273.15.
func same(a, b mark, u Unit) bool {
	slack := 1.8/pow10(a.dec) + 1/pow10(b.dec)
	if u == Kelvin {
		slack = 1/pow10(a.dec) + 1/pow10(b.dec) + 0.15
	}
	return math.Abs(b.v-u.of(Celsius.c(a.v))) <= slack+1e-9
}

// relate finds the numbers that say another one again in °F or K, by their units and by
// arithmetic. The one in °C is the reading.
func (l *learner) relate() {
	cols := l.with(Hot, Cold)
	for _, c := range l.all() {
		if c.maybe {
			cols = append(cols, c)
		}
	}
	for _, a := range cols {
		for _, b := range cols {
			if a != b && a.Role != Repeat && b.Role != Repeat && a.Role == b.Role &&
				!(a.fixed && b.fixed) {
				l.pair(a, b)
			}
		}
	}
	l.contradict(cols)
}

// pair makes b a repeat of a if it is one.
func (l *learner) pair(a, b *column) {
	if a.Unit != NoUnit && a.Unit != Celsius || b.Unit == Celsius {
		return
	}
	units := []Unit{b.Unit}
	if b.Unit == NoUnit {
		units = []Unit{Fahrenheit, Kelvin}
	}
	for _, u := range units {
		if a.Unit == NoUnit && b.Unit == NoUnit && (a.MinDec == 0 || b.MinDec == 0) {
			continue // whole degrees agree too easily
		}
		n, miss := l.agree(a, b, u)
		silent := a.finite() == 0 && b.finite() == 0 && a.label == b.label && a.Unit == Celsius &&
			b.Unit == u
		if !silent && (n < least || miss*4 > n) {
			continue
		}
		a.Unit, b.Unit = Celsius, u
		b.Role, b.repeat, b.maybe = Repeat, a, false
		a.maybe = false
		return
	}
}

// agree counts how often b repeats a and how often it does not: in the same line, or in the
// line before or behind.
func (l *learner) agree(a, b *column, u Unit) (n, miss int) {
	if a.kind == b.kind {
		for i := range a.marks {
			switch {
			case math.IsNaN(a.marks[i].v) || math.IsNaN(b.marks[i].v):
			case same(a.marks[i], b.marks[i], u):
				n++
			default:
				miss++
			}
		}
		return n, miss
	}
	as, bs := l.kinds[a.kind].at, l.kinds[b.kind].at
	for i, at := range bs {
		next := 0
		for next < len(as) && as[next] < at {
			next++
		}
		ends := next == 0 || next == len(as)
		switch {
		case math.IsNaN(b.marks[i].v):
		case next > 0 && same(a.marks[next-1], b.marks[i], u),
			next < len(as) && same(a.marks[next], b.marks[i], u):
			n++
		case !ends:
			miss++
		}
	}
	return n, miss
}

// contradict asks where the same words have numbers in two units that never agree. Where they
// do now and then, it waits for more lines: some were noise.
func (l *learner) contradict(cols []*column) {
	for _, a := range cols {
		for _, b := range cols {
			if a.Role != Hot || b.Role != Hot || a.maybe || b.maybe || a.Unit != Celsius ||
				b.Unit == Celsius || b.Unit == NoUnit || a.label != b.label ||
				a.finite() == 0 || b.finite() == 0 {
				continue
			}
			if n, _ := l.agree(a, b, b.Unit); n > 0 {
				l.waiting = true
				continue
			}
			l.ask("columns", []string{`["C: hot", "F: skip"]`, `["C: skip", "F: hot"]`},
				fmt.Sprintf("the units do not agree in %q and %q", l.example(a), l.example(b)))
			return
		}
	}
}

// checkTurns finds lines of one kind on which two different things take turns.
func (l *learner) checkTurns() {
	for _, c := range l.with(Hot) {
		if !c.zigzag() {
			continue
		}
		if len(l.kinds[c.kind].cols) == 1 && c.label == "" && c.Unit == NoUnit {
			n, of := c.pairs()
			if n >= least && n >= of {
				c.Turns, c.Unit = true, Celsius
				continue
			}
			if len(c.marks) < 2*least+1 {
				l.waiting = true
				continue
			}
		}
		l.ask("columns", []string{"give each line a word that names it"},
			fmt.Sprintf("two different numbers take turns in lines like %q", l.example(c)))
		return
	}
}

// zigzag tells whether the last three numbers jump there and back.
func (c *column) zigzag() bool {
	n := len(c.marks)
	if n < least {
		return false
	}
	for i := 2; i < n; i++ {
		up, down := c.marks[i-1].v-c.marks[i-2].v, c.marks[i].v-c.marks[i-1].v
		if !(math.Abs(up) > gateStep && math.Abs(down) > gateStep && up*down < 0) {
			return false
		}
	}
	return true
}

// pairs counts the neighbours that are °C and °F of one reading, and how many pairs there are.
func (c *column) pairs() (n, of int) {
	best := 0
	for start := range 2 {
		hits := 0
		for i := start; i+1 < len(c.marks); i += 2 {
			if same(c.marks[i], c.marks[i+1], Fahrenheit) {
				hits++
			}
		}
		if hits > best {
			best, of = hits, (len(c.marks)-start)/2
		}
	}
	return best, of
}
