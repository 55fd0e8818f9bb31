package main

import (
	"fmt"
	"math"
	"strings"
	"time"

	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/lines"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// listenChannel is one channel that is heard.
type listenChannel struct {
	number  int
	probe   *shop.Probe // nil if the shop file has none there
	correct probe.Correction
	from    string // where the correction is from; "" if there is none
	old     bool   // there is one, of an earlier probe
	cfg     belief.Config
	state   belief.State
	last    probe.Reading
	good    *probe.Reading // the last one with a temperature
	n       int
	first   time.Duration
	doubts  map[string]int // readings that were not believed, by why

	fresh  bool // last was not shown
	shown  bool // one was
	word   string
	wordAt time.Duration
}

// staleMost is how long a slow board may be quiet: three of its intervals, but no more.
const staleMost = 30 * time.Second

// channel gives the channel of that number, made when it is first heard.
func (l *listening) channel(number int) *listenChannel {
	if number < 1 || number >= len(l.heard) {
		return nil
	}
	if c := l.heard[number]; c != nil {
		return c
	}
	c := &listenChannel{number: number, cfg: belief.Default(), doubts: map[string]int{}}
	l.heard[number] = c
	c.probe = l.to.probeOn(number)
	letter := ""
	if c.probe != nil {
		letter = c.probe.Type
		pick := shop.PickCorrection(l.to.files.shop, l.to.files.found, c.probe.Name)
		switch {
		case pick.Outdated:
			c.old = true
		case pick.Origin != shop.FromNowhere:
			c.correct, c.from = pick.Value.Value(), pick.Words()
		}
	} else if l.grasp.board != nil {
		if _, t, ok := thermocouple.SplitChip(l.grasp.board.Chip); ok {
			letter = t.String()
		}
	}
	// What belief takes for possible is type K; without a word on the type it is any of them.
	if t, err := thermocouple.ParseType(letter); err != nil {
		c.cfg.Highest = shop.Hottest
	} else if t != thermocouple.K {
		_, c.cfg.Highest = t.Range()
	}
	return c
}

// channels gives those that were heard.
func (l *listening) channels() (list []*listenChannel) {
	for _, c := range l.heard {
		if c != nil {
			list = append(list, c)
		}
	}
	return list
}

// take takes in what the port saw, once it is known what is on it.
func (l *listening) take(b probe.Batch) {
	if l.is == "" {
		return
	}
	if b.Link.Bad < l.ledger.lastBad {
		l.ledger.lastBad = 0
	}
	l.ledger.bad += b.Link.Bad - l.ledger.lastBad
	l.ledger.lastBad = b.Link.Bad
	for _, boot := range b.Boots {
		l.ledger.starts++
		l.say("%s   %s started (%s)\n", l.at(), boot.Name, boot.Cause)
	}
	for _, note := range b.Notes {
		l.line(visible(note))
	}
	if b.Link.Board != nil {
		l.grasp.board = b.Link.Board
	}
	for _, r := range b.Readings {
		if c := l.channel(r.Channel); c != nil {
			c.take(r, b.Link.Interval)
		}
	}
}

// take judges one reading, as it came and without its correction.
func (c *listenChannel) take(r probe.Reading, interval time.Duration) {
	if c.n == 0 {
		c.first = r.At
	}
	c.n++
	c.cfg.Stale = max(belief.Default().Stale, min(3*interval, staleMost))
	var v belief.Verdict
	// The duty is not ours here: what could be told by it alone is not judged.
	c.state, v = belief.Step(c.cfg, c.state, belief.Input{Reading: r})
	if !v.Good {
		c.doubts[v.Why]++
	}
	c.last, c.fresh = r, true
	if r.Good() {
		c.good = &r
	}
}

// judge shows each channel that has something new, once a second at most, as soon as it is said
// what the lines were taken for.
func (l *listening) judge() {
	if !l.grasp.said {
		return
	}
	for _, c := range l.channels() {
		v := belief.Age(c.cfg, c.state, l.now)
		word := verdictText(v)
		if c.shown && (l.now-c.wordAt < time.Second || !c.fresh && word == c.word) {
			continue
		}
		l.say("%s = %s: %s\n", l.at(), c.text(), word)
		c.fresh, c.shown, c.word, c.wordAt = false, true, word, l.now
	}
}

// verdictText says whether a reading can be believed, or why not.
func verdictText(v belief.Verdict) string {
	switch {
	case !v.Good:
		return "not to be believed, " + v.Why
	case v.Warn != "":
		return "good, but " + v.Warn
	}
	return "good"
}

// text says what the channel reads.
func (c *listenChannel) text() string {
	name := fmt.Sprintf("channel %d", c.number)
	if c.probe != nil {
		name += " " + c.probe.Name
	}
	if !c.last.Good() {
		return name + " has no reading"
	}
	s := name + " reads " + bothText(c.last.Hot)
	if c.from != "" {
		s += ", corrected " + bothText(c.correct.Correct(c.last.Hot)) + " (" + c.from + ")"
	}
	if c.old {
		s += " (its correction is of an earlier probe and left out)"
	}
	if c.last.HasCold {
		s += ", cold junction " + c.last.Cold.Text(temp.Celsius, 2)
	}
	return s
}

// sentence says what the channel reads, for the sentence to confirm.
func (c *listenChannel) sentence() string {
	s := fmt.Sprintf("channel %d", c.number)
	if !c.last.Good() {
		return s + " = no reading, " + c.last.Fault.String()
	}
	s += " = " + c.last.Hot.Text(temp.Celsius, 2)
	if c.last.HasCold {
		s += ", cold junction " + c.last.Cold.Text(temp.Celsius, 2)
	}
	if span := (c.last.At - c.first).Seconds(); c.n > 2 && span > 0 {
		s += fmt.Sprintf(", %g readings/s", math.Round(float64(c.n-1)/span*10)/10)
	}
	return s
}

// questions gives what the shop file has to say first.
func (l *listening) questions() []listenQuestion {
	out := []listenQuestion{}
	if l.is != "" && l.is != shop.Lines || l.to.kind == shop.Strawline {
		return out
	}
	u, _ := l.port.Understood()
	for _, q := range u.Questions {
		out = append(out, questionOf(q, l.to.board(l.baud()), l.to.unit()))
	}
	return out
}

func keysAsked(list []lines.Question) string {
	var keys []string
	for _, q := range list {
		keys = append(keys, q.What)
	}
	return strings.Join(keys, " ")
}
