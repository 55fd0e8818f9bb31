package lines

import (
	"fmt"
	"slices"
	"time"
)

// maxLine is the longest line read, without its end.
const maxLine = 512

// Counts says what became of a port's lines since the Reader was made.
type Counts struct {
	Lines    uint64 // that were not empty
	Readings uint64 // values and raw words given
	Bad      uint64 // lines, or held readings, not believed
}

// Reader turns the bytes of one port into items. Make it with New or NewShaped.
type Reader struct {
	hint   Hint
	buf    [maxLine]byte
	n      int
	skip   bool // in a line that is too long
	back   bool // a CR ended the line, and an LF may follow
	fresh  bool // the next line may be the end of one
	counts Counts

	// While learning.
	window    []seen
	header    string
	questions []Question

	// When learnt.
	known   bool
	crOnly  bool // no LF ever follows a CR
	shape   Shape
	kinds   map[string]*kind
	texts   map[string]bool // kind to whether it tells of a start
	scan    scanner
	ch      [MaxChannels + 1]channel // from 1; 0 has the cold junction of all
	repeats [MaxChannels + 1]bool    // the repeat stands on a line of its own
	tick    ticker
	gapped  bool // a gap was told and nothing came since
	muted   bool // learning runs over lines again
	say     func(Item)
	now     time.Duration
	line    []byte
	end     End // of line
}

// New makes a Reader that learns the port's shape.
func New(h Hint) *Reader {
	return &Reader{hint: h, fresh: true}
}

// NewShaped makes a Reader that keeps to a shape learnt before. The error says what is wrong
// with the shape.
func NewShaped(s Shape, h Hint) (*Reader, error) {
	if err := s.Check(); err != nil {
		return nil, fmt.Errorf("shape of the lines: %w", err)
	}
	r := New(h)
	r.adopt(s)
	return r, nil
}

// Reset is for when the port was opened again: it forgets the half line that it holds and where
// the numbers were, and keeps what it learnt.
func (r *Reader) Reset() {
	r.n, r.skip, r.back, r.fresh = 0, false, false, true
	r.window = r.window[:0]
	r.ch = [MaxChannels + 1]channel{}
	r.tick.known, r.tick.odd = false, false
	r.gapped = false
}

// Feed takes the next bytes, read at now, and calls yield for each item in them, in order. An
// item that was held back comes before the one that bore it out, with its own time. The first
// line is passed over: it may be half of one. How the bytes are split between calls changes
// nothing but the times.
func (r *Reader) Feed(now time.Duration, p []byte, yield func(Item)) {
	r.now, r.say = now, yield
	for _, b := range p {
		if r.back {
			r.back = false
			if b == '\n' {
				r.finish(CRLF)
				continue
			}
			r.finish(CR)
		}
		switch {
		case b == '\n':
			r.finish(LF)
		case b == '\r' && r.crOnly:
			r.finish(CR)
		case b == '\r':
			r.back = true
		case r.skip:
		case r.n == maxLine:
			r.skip, r.fresh = true, false
			r.counts.Lines++
			r.line = nil
			if r.known {
				r.bad(WhyLong)
			}
		default:
			r.buf[r.n] = b
			r.n++
		}
	}
	r.say = nil
}

// finish reads the line that the buffer holds.
func (r *Reader) finish(end End) {
	line := r.buf[:r.n]
	if r.skip {
		line = nil
	}
	r.n, r.skip = 0, false
	blank := true
	for _, b := range line {
		blank = blank && (b == ' ' || b == '\t')
	}
	if blank {
		return
	}
	r.counts.Lines++
	r.line, r.end = line, end
	first := r.fresh
	r.fresh = false
	switch {
	case first:
		if !r.known && firstHeader(string(line)) {
			r.header = string(line)
		}
	case r.known:
		r.read(line)
	default:
		r.learn(line)
	}
}

// firstHeader tells whether the first line is a header that is surely whole: its first word
// would mean something else if it were the end of a longer one.
func firstHeader(line string) bool {
	cells := headerCells(line)
	if len(cells) < 2 {
		return false
	}
	n := nameOf(cells[0])
	g := n.guess()
	return g == placeHot || g == tickWord && len(cells[0]) > 1
}

// learn adds a line to the window and tries.
func (r *Reader) learn(line []byte) {
	if len(r.window) == maxWindow {
		r.window = slices.Delete(r.window, 0, 1)
	}
	text := string(line)
	r.window = append(r.window, seen{text, r.end, r.now})
	heads := headerCells(text) != nil
	if heads {
		r.header = text
	}
	if len(r.window) == maxWindow && r.counts.Lines%8 != 0 && !heads {
		r.faultWords(line) // a full window is not looked at for every line
		return
	}
	shape, questions, ok := learn(r.window, r.header, r.hint)
	r.questions = questions
	if !ok {
		r.faultWords(line)
		return
	}
	r.adopt(shape)
	r.muted = true
	for i, old := range r.window {
		r.muted = i < len(r.window)-1
		r.line, r.end, r.now = []byte(old.text), old.end, old.at
		r.read(r.line)
	}
	r.muted = false
	r.window = nil
}

// adopt keeps to a shape.
func (r *Reader) adopt(s Shape) {
	r.known, r.shape = true, s.clone()
	s = r.shape
	r.scan = scanner{comma: s.DecimalComma, hex: s.HexWords}
	r.kinds, r.texts = map[string]*kind{}, map[string]bool{}
	for _, t := range s.Texts {
		r.texts[t] = false
	}
	for _, t := range s.Banners {
		r.texts[t] = true
	}
	r.crOnly = !slices.ContainsFunc(s.Lines, func(l Line) bool { return l.End != CR })
	var at [MaxChannels + 1]*Line
	for i := range s.Lines {
		l := &s.Lines[i]
		r.kinds[l.Text] = &kind{l, make([]form, len(l.Slots)), faultSaid(l.Text)}
		for _, slot := range l.Slots {
			if slot.Role == Hot {
				at[slot.Channel] = l
			}
		}
	}
	for i := range s.Lines {
		l := &s.Lines[i]
		for _, slot := range l.Slots {
			if slot.Role == Repeat && at[slot.Channel] != nil && !l.has(Hot, slot.Channel) {
				r.repeats[slot.Channel] = true
			}
		}
	}
}

func (l *Line) has(role Role, channel int) bool {
	return slices.ContainsFunc(l.Slots, func(s Slot) bool {
		return s.Role == role && s.Channel == channel
	})
}

// Counts gives what became of the lines.
func (r *Reader) Counts() Counts { return r.counts }

// Questions gives what the shop file must say before there can be readings, or nil. A raw
// word's chip is asked while its words are handed on.
func (r *Reader) Questions() []Question {
	if r.known && r.hint.Chip == "" {
		for _, l := range r.shape.Lines {
			for _, s := range l.Slots {
				if s.Role == Word {
					return []Question{{What: "chip", Choices: chips(),
						Why: "the lines are a chip's raw words"}}
				}
			}
		}
	}
	return r.questions
}

// Interval is the time between two readings of a channel, over the last 16 at most, or since
// they began; false before there are two with time between them.
func (r *Reader) Interval(channel int) (time.Duration, bool) {
	if channel < 1 || channel > MaxChannels {
		return 0, false
	}
	return r.ch[channel].pace.interval()
}
