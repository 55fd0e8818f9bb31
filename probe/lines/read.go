package lines

import (
	"math"
	"strings"
	"time"

	"strawline/probe"
)

// channel is what a Reader keeps of one channel.
type channel struct {
	gate     gate
	raw      rawGate
	cold     gate // of the cold junction, in its printed unit
	coldC    Item // Cold and HasCold as last said
	coldBad  bool
	held     [agreeing - 1]Item // what the gates hold back
	kept     int
	said     mark // the repeat last said
	hasSaid  bool
	pending  Item // a reading whose repeat has not come
	pendMark mark
	waits    bool
	latest   Item // the last reading or fault, for the sentence
	printed  mark // as it was printed
	coldMark mark
	coldLine uint64 // the count of lines when the cold junction was said
	pace     pace
}

// ticker follows the board's own count or clock.
type ticker struct {
	known bool
	last  float64
	step  float64 // the largest step believed
	odd   bool    // the last one jumped ahead
	ahead float64
}

// pace remembers when the last readings were.
type pace struct {
	at [16]time.Duration
	n  int
}

func (p *pace) mark(at time.Duration) {
	p.at[p.n%len(p.at)] = at
	p.n++
	if p.n == 2*len(p.at) {
		p.n = len(p.at)
	}
}

func (p *pace) interval() (time.Duration, bool) {
	n := min(p.n, len(p.at))
	if n < 2 {
		return 0, false
	}
	first, last := p.at[0], p.at[(p.n-1)%len(p.at)]
	if p.n > len(p.at) {
		first = p.at[p.n%len(p.at)]
	}
	d := (last - first) / time.Duration(n-1)
	return d, d > 0
}

// emit hands an item on.
func (r *Reader) emit(it Item) {
	switch it.Kind {
	case Value, Raw:
		r.gapped = false
		c := &r.ch[it.Channel]
		c.latest = it
		c.latest.Text = nil
		if !r.muted {
			c.pace.mark(it.At)
			r.counts.Readings++
		}
	case Fault:
		r.gapped = false
		if it.Channel > 0 {
			r.ch[it.Channel].latest = it
			r.ch[it.Channel].latest.Text = nil
		}
	case Bad:
		if !r.muted {
			r.counts.Bad++
		}
	}
	if !r.muted {
		r.say(it)
	}
}

func (r *Reader) bad(why string) {
	r.emit(Item{Kind: Bad, At: r.now, Why: why, Text: r.line})
}

// lone tells of n readings that were held back and not borne out.
func (r *Reader) lone(ch *channel, n int) {
	for i := range n {
		if ch.held[i].Channel == 0 {
			continue
		}
		r.emit(Item{Kind: Bad, At: ch.held[i].At, Channel: ch.held[i].Channel, Why: WhyLone})
	}
	ch.kept = 0
}

// gap tells that readings before and behind must not be joined, once until something comes.
func (r *Reader) gap(why string) {
	if r.gapped {
		return
	}
	r.gapped = true
	r.emit(Item{Kind: Gap, At: r.now, Why: why, Text: r.line})
}

// read takes a line by the learnt shape.
func (r *Reader) read(line []byte) {
	r.scan.scan(line)
	l := r.kinds[string(r.scan.text)]
	switch {
	case l == nil || r.scan.over:
		r.stranger(line)
	case r.end != l.End || !r.fits(l):
		r.bad(WhyForm)
	case !r.agrees(l.Line):
		r.bad(WhyUnits)
	case !r.count(l.Line):
		r.bad(WhyCounter)
	default:
		r.colds(l.Line)
		r.hots(l.Line, r.status(l))
	}
}

// stranger takes a line that is of no learnt kind.
func (r *Reader) stranger(line []byte) {
	if start, known := r.texts[string(r.scan.text)]; known {
		if start {
			r.gap(WhyAgain)
		}
		return
	}
	text := string(line)
	if isROM(text) {
		r.gap(WhyAgain)
		return
	}
	for banner, start := range r.texts {
		if start && len(banner) > 3 && strings.HasSuffix(string(r.scan.text), banner) {
			r.bad(WhyStranger)
			r.gap(WhyAgain)
			return
		}
	}
	if r.faultWords(line) {
		return
	}
	if len(r.scan.marks) == 0 && isText(text) {
		r.gap(WhyText)
		return
	}
	r.bad(WhyStranger)
}

// isText tells whether a line is plain words.
func isText(line string) bool {
	letters := 0
	for i := range len(line) {
		b := line[i]
		if b < ' ' && b != '\t' && b != 0x1B || b > '~' {
			return false
		}
		if isLetter(b) {
			letters++
		}
	}
	return letters >= 3
}

// faultWords tells the fault that a line of no learnt kind speaks of, if it does and has no
// decimal number, or names the fault as a value beside one.
func (r *Reader) faultWords(line []byte) bool {
	if !r.known {
		r.scan.scan(line)
	}
	text := string(line)
	f := faultSaid(text)
	for _, m := range r.scan.marks {
		if f == probe.FaultNone && m.class == Decimal && m.dec > 0 {
			return false
		}
	}
	if f == probe.FaultNone {
		f = faultIn(text)
	}
	if f == probe.FaultNone && r.onlyWords(text) {
		f = probe.FaultRange
	}
	if f == probe.FaultNone || isROM(text) || !isFaultText(text) || len(headerCells(text)) > 1 {
		return false
	}
	at := r.faultChannel(text)
	if at > 0 {
		r.drop(&r.ch[at])
	}
	r.emit(Item{Kind: Fault, At: r.now, Channel: at, Fault: f, Text: r.line})
	return true
}

// onlyWords tells whether words such as nan stand in a line where its numbers should, and not
// behind a word for a fault, of which they say that there is none.
func (r *Reader) onlyWords(text string) bool {
	only := len(r.scan.marks) > 0
	for _, m := range r.scan.marks {
		only = only && m.class == Decimal && math.IsNaN(m.v)
	}
	faultLabels(text, func(_, _, _ int) { only = false })
	return only
}

// isFaultText tells whether a line can be words: bytes of no text are noise.
func isFaultText(line string) bool {
	odd := 0
	for _, r := range line {
		if r == '\uFFFD' || r < ' ' && r != '\t' && r != 0x1B {
			odd++
		}
	}
	return odd == 0
}

// faultChannel gives the channel that a fault in words is of: the only one, or the only one
// whose label stands in the line; else 0.
func (r *Reader) faultChannel(line string) int {
	found, channels := 0, 0
	last := 0
	low := strings.ToLower(line)
	for i := range r.shape.Lines {
		for _, s := range r.shape.Lines[i].Slots {
			if s.Role != Hot && s.Role != Word || s.Channel == last {
				continue
			}
			channels++
			last = s.Channel
			if s.Label != "" && hasWord(low, s.Label) {
				if found > 0 && found != s.Channel {
					return 0
				}
				found = s.Channel
			}
		}
	}
	if channels == 1 {
		return last
	}
	return found
}

// drop forgets what is held back of a channel: what comes between makes it a lone jump.
func (r *Reader) drop(ch *channel) {
	r.lone(ch, ch.kept)
	ch.gate.kept, ch.raw.kept = 0, 0
}

// fits tells whether the numbers have the learnt form.
func (r *Reader) fits(l *kind) bool {
	for i, m := range r.scan.marks {
		s := &l.Slots[i]
		word := math.IsNaN(m.v) && m.class == Decimal
		switch {
		case word || m.exp && math.Abs(m.v) > noNumber:
		case m.exp != s.Exp:
			return false
		case s.MaxDec == maxDigits && s.Class == Decimal && m.class == Decimal && m.dec < maxDigits:
			s.MinDec, s.MaxDec = m.dec, m.dec // the first number where only words stood
		case m.class != s.Class:
			return false
		case m.zero && (s.Width == 0 || s.Role == Hot && m.whole != s.Width):
			return false
		case s.Class == Hex && s.Width > 0 && m.whole != s.Width:
			return false
		case s.Class == Decimal && (m.dec < s.MinDec || m.dec > s.MaxDec):
			if !l.forms[i].loosen(s, m.dec) {
				return false
			}
		}
	}
	for i, m := range r.scan.marks {
		f := &l.forms[i]
		f.n = min(f.n+1, 1<<30)
		f.tail = f.tail || m.tail
	}
	return true
}

// form is how often a number came as learnt, for sketches that leave out zeros at the end.
type form struct {
	n    int  // as learnt
	odd  int  // came with other decimals, one not long after the other
	at   int  // n at the last of them
	tail bool // a number ended with a 0 that such a sketch would leave out
}

// kind is a kind of line with the forms of its numbers.
type kind struct {
	*Line
	forms []form
	fault probe.Fault // that its words say
}

// unzeroed is how many numbers of the learnt form must have come, none with a 0 at its end,
// before oddEnough with other decimals, each so soon after the last, mean that zeros are left out.
const (
	unzeroed  = 12
	oddEnough = 4
)

// loosen tells whether a number may have other decimals than learnt, and learns that.
func (f *form) loosen(s *Slot, dec int) bool {
	if f.n-f.at > unzeroed {
		f.odd = 0
	}
	f.odd++
	f.at = f.n
	if f.tail || f.n < unzeroed || f.odd < oddEnough {
		return false
	}
	s.MinDec, s.MaxDec = min(s.MinDec, dec), max(s.MaxDec, dec)
	return true
}

// agrees checks the repeats in the line against what they repeat.
func (r *Reader) agrees(l *Line) bool {
	for i, s := range l.Slots {
		if s.Role != Repeat {
			continue
		}
		b := r.scan.marks[i]
		for j, o := range l.Slots {
			if o.Role != Hot || o.Channel != s.Channel {
				continue
			}
			a := r.scan.marks[j]
			if math.IsNaN(a.v) != math.IsNaN(b.v) || !math.IsNaN(a.v) && !same(a, b, s.Unit) {
				return false
			}
		}
	}
	return true
}

// count follows the board's count; false if it cannot be right.
func (r *Reader) count(l *Line) bool {
	t := &r.tick
	for i, s := range l.Slots {
		if s.Role != Tick {
			continue
		}
		v := r.scan.marks[i].v
		step := v - t.last
		switch {
		case math.IsNaN(v) || v < 0:
			return false
		case !t.known:
		case step < 0:
			if !wraps(t.last, v, t.step) {
				r.gap(WhyCount)
			}
			step = 0
		case t.step > 0 && step > 100*t.step:
			if from := v - t.ahead; !t.odd || from < 0 || from > 100*t.step {
				t.odd, t.ahead = true, v
				return false
			}
			r.gap(WhyJump)
			step = 0
		}
		t.known, t.odd, t.last = true, false, v
		t.step = max(t.step, step)
		return true
	}
	return true
}

// wraps tells whether a count went round: from the top of 8, 16 or 32 bits to the bottom.
func wraps(last, v, step float64) bool {
	for _, top := range []float64{1 << 8, 1 << 16, 1 << 32} {
		if last < top && top-last+v <= 4*max(step, 1) {
			return true
		}
	}
	return false
}
