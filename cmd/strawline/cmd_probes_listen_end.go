package main

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"strawline/probe/belief"
)

// listenAnswer is what `probes listen --json` prints.
type listenAnswer struct {
	Port       string           `json:"port"`
	Baud       int              `json:"baud"`
	Kind       string           `json:"kind,omitempty"` // absent if it could not be told
	Board      string           `json:"board,omitempty"`
	Link       string           `json:"link"`
	SpanS      float64          `json:"span_s"`
	Understood string           `json:"understood,omitempty"`
	Paste      string           `json:"paste,omitempty"` // for a shop file without this board
	Lines      uint64           `json:"lines"`
	BadLines   uint64           `json:"bad_lines"`
	Starts     int              `json:"starts"`
	Channels   []listenedTo     `json:"channels"`
	Questions  []listenQuestion `json:"questions"`
}

// listenedTo is one channel of it; temperatures are of the last reading that had one.
type listenedTo struct {
	Channel    int            `json:"channel"`
	Probe      string         `json:"probe,omitempty"`
	TempC      *float64       `json:"temp_c,omitempty"`
	CorrectedC *float64       `json:"corrected_c,omitempty"`
	Correction string         `json:"correction,omitempty"`
	ColdC      *float64       `json:"cold_c,omitempty"`
	AgeS       *float64       `json:"age_s,omitempty"` // of that reading
	Readings   int            `json:"readings"`
	Good       bool           `json:"good"` // now
	Why        string         `json:"why,omitempty"`
	Warning    string         `json:"warning,omitempty"`
	Doubts     map[string]int `json:"doubts,omitempty"` // readings not believed, by why
}

// finish says what it came to.
func (l *listening) finish() error {
	l.now = l.clock.Now()
	l.cut.end(" (no line end)", l.line)
	l.rate.tell(l)
	if l.f.json {
		if err := l.h.printJSON(l.answer()); err != nil {
			return err
		}
	}
	l.say("%d lines came, %d of them not understood", l.ledger.lines, l.ledger.bad)
	if l.is == "" {
		l.say("; what they are could not be told")
	}
	l.say("%s\n", l.doubtsText())
	if l.err == nil && l.f.span.given && l.ledger.lines == 0 {
		return &fault{code: exitUnavailable, did: "listen to", to: l.to.path,
			wrong: errors.New("nothing came"),
			help:  "does the board print at all, at this speed, and is this its port?"}
	}
	return l.err
}

// doubtsText says for which channels readings were not believed.
func (l *listening) doubtsText() string {
	var s strings.Builder
	for _, c := range l.channels() {
		for _, why := range slices.Sorted(maps.Keys(c.doubts)) {
			fmt.Fprintf(&s, "; %d readings of channel %d were not to be believed: %s",
				c.doubts[why], c.number, why)
		}
	}
	return s.String()
}

func (l *listening) answer() listenAnswer {
	a := listenAnswer{Port: l.to.path, Baud: l.baud(), Kind: string(l.is),
		Board: l.to.boardName(), Link: l.link.state.String(),
		SpanS: *rounded((l.now - l.start).Seconds(), 2), Understood: l.sentence(),
		Lines: l.ledger.lines, BadLines: l.ledger.bad, Starts: l.ledger.starts,
		Channels: []listenedTo{}, Questions: l.questions()}
	if l.to.known == nil && l.is != "" {
		a.Paste = l.paste()
	}
	for _, c := range l.channels() {
		v := belief.Age(c.cfg, c.state, l.now)
		one := listenedTo{Channel: c.number, Readings: c.n, Good: v.Good, Why: v.Why,
			Warning: v.Warn, Doubts: c.doubts, Correction: c.from}
		if c.probe != nil {
			one.Probe = c.probe.Name
		}
		if r := c.good; r != nil {
			one.TempC = rounded(float64(r.Hot), 3)
			one.AgeS = rounded((l.now - r.At).Seconds(), 2)
			if c.from != "" {
				one.CorrectedC = rounded(float64(c.correct.Correct(r.Hot)), 3)
			}
			if r.HasCold {
				one.ColdC = rounded(float64(r.Cold), 3)
			}
		}
		a.Channels = append(a.Channels, one)
	}
	return a
}
