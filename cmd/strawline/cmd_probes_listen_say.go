package main

import (
	"fmt"
	"strings"
	"time"

	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/modbus"
)

// mostLines are shown in a second; a person reads no faster.
const mostLines = 10

// rate holds the lines shown to mostLines a second.
type rate struct {
	from        time.Duration
	shown, left int
}

func (r *rate) take() bool {
	if r.shown == mostLines {
		r.left++
		return false
	}
	r.shown++
	return true
}

// tend begins a new second, and says what was left out of the last.
func (r *rate) tend(l *listening) {
	if l.now-r.from < time.Second {
		return
	}
	r.tell(l)
	*r = rate{from: l.now}
}

func (r *rate) tell(l *listening) {
	if r.left > 0 {
		l.say("           | %d more lines of this second are left out\n", r.left)
		r.left = 0
	}
}

// say writes to a person; with --json and --raw nothing but their own is written.
func (l *listening) say(format string, args ...any) {
	if !l.f.json && !l.f.raw {
		l.write(fmt.Sprintf(format, args...))
	}
}

func (l *listening) write(text string) {
	if err := l.h.print(text); l.err == nil {
		l.err = err
	}
}

// at is a time since listening began, as it stands before what is shown.
func (l *listening) at() string { return fmt.Sprintf("%8.2f s", (l.now - l.start).Seconds()) }

// line shows one line as it came.
func (l *listening) line(text string) {
	l.ledger.lines++
	switch {
	case l.f.raw:
		l.write(text + "\n")
	case !l.f.json && l.rate.take():
		l.say("%s | %s\n", l.at(), text)
	}
}

// linkSaid is what was said of the link.
type linkSaid struct {
	state probe.LinkState
	why   string
	away  bool
}

// say says a change of the link that a person should know of.
func (s *linkSaid) say(l *listening, k probe.Link) {
	why := ""
	if err := l.port.Err(); err != nil {
		why = oneLine(err.Error())
	}
	if k.State == s.state && why == s.why {
		return
	}
	switch {
	case why != "":
		l.say("%s   %s\n", l.at(), why)
	case k.State == probe.LinkUp && (s.state == probe.LinkSilent || s.state == probe.LinkOther):
		l.say("%s   it speaks again\n", l.at())
	case s.away:
		l.say("%s   the port is open again\n", l.at())
	}
	s.state, s.why = k.State, why
	s.away = k.State == probe.LinkGone || k.State == probe.LinkMissing ||
		k.State == probe.LinkBusy || k.State == probe.LinkDenied ||
		k.State == probe.LinkNotPort || k.State == probe.LinkOther
}

// How long is waited before something is said of what does not come.
const (
	quietFor  = 5 * time.Second // a board boots in about 2 s
	askAfter  = 2 * time.Second // a question may answer itself by the next lines
	graspWait = 2 * time.Second // for the pace, and for every channel's first reading
)

// grasp is what was understood, and what was said of it.
type grasp struct {
	said      bool
	since     time.Duration // since when it could be said
	has       bool          // since is set
	board     *probe.Board  // of our protocol
	asks      string        // keys of the questions
	asksSince time.Duration
	asked     string // keys of those that were put
	hinted    bool   // of what does not come
}

// understand says what the lines were taken for, once, and what the shop file has to say first.
func (l *listening) understand(k probe.Link) {
	g := &l.grasp
	if k.Board != nil {
		g.board = k.Board
	}
	l.missing()
	known, whole := false, false
	switch {
	case l.is == shop.Modbus:
		known, whole = true, true
	case l.is == shop.Strawline:
		known = g.board != nil && len(l.channels()) > 0
		whole = known && len(l.channels()) >= g.board.Channels && l.channels()[0].n > 2
	case l.to.kind != shop.Strawline:
		var keys string
		if u, ok := l.port.Understood(); ok {
			known, whole = true, k.Interval > 0
			l.is = shop.Lines
			keys = keysAsked(u.Questions)
		} else {
			keys = keysAsked(u.Questions)
		}
		l.ask(keys)
	}
	if !known || g.said {
		return
	}
	if !g.has {
		g.has, g.since = true, l.now
	}
	if whole || l.now-g.since >= graspWait {
		g.said = true
		l.say("%s   understood: %s\n", l.at(), l.sentence())
		l.say("%s", l.offer())
	}
}

// ask puts the questions that stand, once.
func (l *listening) ask(keys string) {
	g := &l.grasp
	if keys != g.asks {
		g.asks, g.asksSince = keys, l.now
	}
	if keys == "" || keys == g.asked || l.now-g.asksSince < askAfter {
		return
	}
	g.asked = keys
	for _, q := range l.questions() {
		l.say("%s", q.text(l.to.board(l.baud()), l.to.unit(), l.to.files.path, l.to.boardName()))
	}
}

// missing says what has not come, once.
func (l *listening) missing() {
	g := &l.grasp
	if g.hinted || g.said || l.link.away || l.now-l.opened < quietFor {
		return
	}
	switch {
	case l.is == shop.Modbus && l.ledger.lines == 0:
		l.say("%s   the module does not answer: is it the right speed, parity and address?\n", l.at())
	case l.is == shop.Modbus:
		return
	case l.tell.bytes == 0:
		l.say("%s   nothing has come yet: does the board print at all, and is this its port?\n",
			l.at())
	case l.to.kind == shop.Strawline && l.is == "":
		l.say("%s   what comes is not our line protocol; nothing was written: try --kind lines\n",
			l.at())
	default:
		return
	}
	g.hinted = true
}

// sentence says what the board was taken for.
func (l *listening) sentence() string {
	switch {
	case l.is == shop.Modbus:
		return l.moduleSentence()
	case l.is == shop.Strawline && l.grasp.board != nil:
		b := l.grasp.board
		parts := []string{fmt.Sprintf("%s, a board of line protocol %d with a %s", b.Name, b.Version,
			b.Chip)}
		for _, c := range l.channels() {
			parts = append(parts, c.sentence())
		}
		return strings.Join(parts, ", ")
	case l.is == shop.Lines:
		if u, ok := l.port.Understood(); ok {
			return visible(u.Sentence)
		}
	}
	return ""
}

// moduleSentence says what the shop file has a module asked for.
func (l *listening) moduleSentence() string {
	var parts []string
	for _, c := range l.to.known.Channels {
		register := "input"
		if c.Function == int(modbus.ReadHolding) {
			register = "holding"
		}
		parts = append(parts, fmt.Sprintf("channel %d = %s register %d of module %d, %s times %g %s",
			c.Number, register, c.Register, c.Address, c.Type, c.Scale, c.Unit))
	}
	return strings.Join(parts, ", ") + ", as the shop file says"
}

// offer is the text by which the shop file gets a board that it does not have.
func (l *listening) offer() string {
	if l.to.known != nil {
		return ""
	}
	var s strings.Builder
	s.WriteString("  if that is right, paste into " + l.to.files.path + " to keep it:\n")
	for line := range strings.Lines(l.paste()) {
		s.WriteString("    " + line)
	}
	return s.String()
}

// paste is the board as an entry of the shop file.
func (l *listening) paste() string {
	b := l.to.board(l.baud())
	b.Kind = l.is
	return b.Paste(l.to.unit())
}
