package port

import (
	"errors"
	"fmt"
	"os"
	"time"

	"strawline/probe"
	"strawline/probe/board"
	"strawline/probe/temp"
)

// errOther is the cause of LinkOther.
var errOther = errors.New("not what was there first")

// another says whether what a board says of itself cannot be said by the board that proved itself
// first on this port: what is compiled into it is otherwise, or it counts fewer starts than were
// seen, modulo 65536. Two boards with one name and counts in that order are not told apart; the
// second one has started then, as far as anyone can see.
func (t *talk) another(a board.About) bool {
	f := t.self
	return f != nil && (f.Name != a.Name || f.Chip != a.Chip || f.Channels != a.Channels ||
		f.CeilingQ != a.CeilingQ || int16(a.Boot-t.boot) < 0)
}

// there says whether anything has the name.
func there(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// refuse gives up a board that is not the one which proved itself first: nothing it says is taken,
// and it gets nothing but an off where a heat was wanted. The port stays open, since opening it
// again and again would start that board each time.
func (p *Port) refuse(now time.Duration, a board.About) {
	was := *p.talk.self
	was.Boot = p.talk.boot
	p.doubt(now, "another board is there")
	p.stranger("another board is there")
	if p.stream == nil {
		return
	}
	p.to(now, probe.LinkOther, &OpenError{Op: "reading", Path: p.cfg.Name, State: probe.LinkOther,
		Help: fmt.Sprintf("found %s in the place of %s", says(a), says(was)), Err: errOther})
}

// says names a board by what it is told from others by.
func says(a board.About) string {
	return fmt.Sprintf("%s (%s, channels %d, ceiling %s, start %d)", a.Name, a.Chip, a.Channels,
		limitC(a.Chip, a.CeilingQ).Text(temp.Celsius, 0), a.Boot)
}

// sameDevice has an opener refuse another adapter under a name that was this one's before, without
// opening it, which would start its board. What is behind a name is not known on every system, nor
// of every port; there and where two adapters say the same of themselves the board's own words are
// what is left.
func sameDevice(path string, adapter func(path string) string, open Opener) Opener {
	var first string
	opened := false
	return func() (Stream, error) {
		is := adapter(path)
		if opened && first != "" && is != first && there(path) {
			if is == "" {
				is = "what is no USB adapter"
			}
			return nil, &OpenError{Op: "opening", Path: path, State: probe.LinkOther,
				Help: fmt.Sprintf("found %s in the place of %s", is, first), Err: errOther}
		}
		s, err := open()
		if err == nil && !opened {
			first, opened = is, true
		}
		return s, err
	}
}
