package port

import (
	"errors"
	"fmt"
	"math"
	"time"

	"strawline/probe"
	"strawline/probe/board"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// coldAt is the cold junction at which limits are said as true temperatures (probe.Settings).
const coldAt = 25

// talk is what has been said between us and the board.
type talk struct {
	number uint16 // of the last line sent; it goes on across openings, so answers never mix

	// The handshake: a query, its Ack, and the Info that follows.
	ask     bool          // a query is wanted
	askedAt time.Duration // of the last one
	asked   bool          // askedAt and query are set
	query   uint16        // its number
	acked   bool          // its Ack has come
	proven  bool          // a handshake was done since the board last started
	foreign bool          // the board speaks another version of the protocol

	// What the board's lines have shown.
	millis   uint32       // its clock, kept across openings
	ticking  bool         // millis is set
	lapsed   bool         // it has gone back, and no start was told that explains it
	accepted uint16       // number that it last accepted
	name     string       // of the board of the last Boot or Info, kept across openings
	boot     uint16       // number of its start
	self     *board.About // of the board that proved itself first on this port; nil before

	// The duty.
	duty     int           // per mille in the last Duty frame
	dutySeq  uint16        // its number
	dutyAt   time.Duration // when it was sent
	driven   bool          // one was sent since the handshake
	answered bool          // the board has accepted it
	hot      bool          // one above 0 was sent, and no answer to a 0 or start since, on any opening
	unmoved  int           // commands since accepted last moved
	stuckAt  time.Duration // when the first of them was sent

	req *request
}

// line takes in one line of the board, or the error in its place.
func (p *Port) line(now time.Duration, f board.Frame, err error) {
	first := p.first
	p.first = false
	if errors.Is(err, board.ErrVersion) {
		p.foreignBoard()
	}
	if err != nil {
		if !first { // the first line may be the tail of one
			p.link.Bad++
		}
		return
	}
	_, boot := f.(board.Boot)
	if first && !boot {
		return // it may have waited somewhere since before the opening
	}
	about, tells := introduction(f)
	switch {
	case tells && p.talk.another(about):
		p.refuse(now, about)
		return
	case p.link.State == probe.LinkOther && !boot:
		return // of the other board; only a start can be that of the first one again
	}
	switch f := f.(type) {
	case board.Boot:
		p.good(now)
		p.started(f.About)
	case board.Info:
		p.good(now)
		p.info(now, f.About)
	case board.Reading:
		p.good(now)
		p.reading(now, f)
	case board.Ack:
		p.good(now)
		p.ack(now, f)
	default:
		p.link.Bad++ // a host's line: an echo
	}
	if p.talk.foreign {
		p.cause = p.foreignCause()
	}
}

// introduction gives what a line says of the board; ok is false where it says nothing of it.
func introduction(f board.Frame) (a board.About, ok bool) {
	switch f := f.(type) {
	case board.Boot:
		return f.About, true
	case board.Info:
		return f.About, true
	}
	return a, false
}

func (p *Port) foreignCause() error {
	return fmt.Errorf("reading %s: the board speaks another version of the line protocol than %d: "+
		"it gets no duty; program it with the firmware of this version", p.cfg.Name, board.Version)
}

// foreignBoard notes that a board of another version introduced itself.
func (p *Port) foreignBoard() {
	p.forget("the board speaks another version of the line protocol")
	p.talk.foreign, p.talk.proven, p.talk.ask = true, false, false
	p.link.Board = nil
	p.cause = p.foreignCause()
}

// started notes a start of the board, whether its boot line was seen or an Info shows it.
func (p *Port) started(a board.About) {
	p.restarted()
	p.talk.foreign = false
	p.introduce(a)
	p.batch.Boots = append(p.batch.Boots, *p.link.Board)
}

// restarted forgets what the board said before it started.
func (p *Port) restarted() {
	p.forget("the board has started again")
	p.link.Board = nil
	t := &p.talk
	t.ask, t.proven, t.ticking, t.lapsed, t.hot = true, false, false, false, false
}

// introduce keeps what the board says of itself.
func (p *Port) introduce(a board.About) {
	b := about(a)
	p.link.Board = &b
	p.talk.name, p.talk.boot, p.talk.lapsed = a.Name, a.Boot, false
}

func about(a board.About) probe.Board {
	return probe.Board{
		Version: int(a.Version), Name: a.Name, Boot: a.Boot, Cause: causeWord(a.Cause),
		Chip: a.Chip, Channels: int(a.Channels),
		Ceiling:  limitC(a.Chip, a.CeilingQ),
		CeilingQ: a.CeilingQ,
		Settings: probe.Settings{
			Guard:  int(a.Stored.Guard),
			Limit:  limitC(a.Chip, a.Stored.LimitQ),
			LimitQ: a.Stored.LimitQ,
			Window: time.Duration(a.Stored.WindowS) * time.Second, MainsHz: int(a.Stored.MainsHz),
		},
		Latches: a.Latches,
	}
}

// limitC gives a limit as a true temperature; 0, which lets no run start, where the chip is
// unknown or the limit is above what it can measure.
func limitC(chip string, q int16) temp.C {
	c := thermocouple.FromChipQuarters(chip, q, coldAt)
	if math.IsNaN(float64(c)) {
		return 0
	}
	return c
}

func causeWord(c board.Cause) string {
	switch c {
	case board.CausePower:
		return "power"
	case board.CauseReset:
		return "reset"
	case board.CauseWatchdog:
		return "watchdog"
	case board.CauseBrownOut:
		return "brown-out"
	}
	return "unknown"
}

// info takes in an Info: after the Ack of our query it completes the handshake.
func (p *Port) info(now time.Duration, a board.About) {
	t := &p.talk
	if t.name == a.Name && (t.boot != a.Boot || t.lapsed) {
		p.started(a) // its boot line was lost, or it started while the port was away
		return
	}
	p.introduce(a)
	if !t.acked {
		return
	}
	t.ask, t.acked, t.proven, t.foreign = false, false, true, false
	if t.self == nil {
		t.self = &a
	}
	t.driven, t.answered, t.unmoved = false, false, 0
	// The decoder has checked every field's range. A board that cannot read its stored
	// settings, or whose limit is no temperature that its chip can measure, has proven none.
	b := p.link.Board
	p.link.Heats = b.Version == board.Version && b.Latches&probe.LatchConfig == 0 &&
		b.Settings.Limit > 0 && b.Settings.Limit <= b.Ceiling
	p.confirm(a.Stored)
}

// reading takes in a raw word; without a known chip it is no reading.
func (p *Port) reading(now time.Duration, r board.Reading) {
	t := &p.talk
	// A clock that went back by more than a second, and not round the end of its 32 bits:
	// the board started and its boot line was lost.
	if back := t.millis - r.Millis; t.ticking && back > 1000 && back < 1<<31 {
		hot := t.hot && p.link.Board == nil // whose start that was is not known yet
		p.restarted()
		t.lapsed, t.hot = true, hot
	}
	t.millis, t.ticking = r.Millis, true
	if t.accepted != r.Accepted {
		t.accepted, t.unmoved = r.Accepted, 0
	}
	if t.driven && r.Accepted == t.dutySeq {
		t.answered, t.unmoved = true, 0
		t.hot = t.hot && t.duty > 0
	}
	if !t.proven && !t.foreign {
		t.ask = true
	}
	if p.link.Board == nil {
		return
	}
	hot, cold, fault := thermocouple.Decode(p.link.Board.Chip, r.Raw)
	p.batch.Readings = append(p.batch.Readings, probe.Reading{
		At: now, Channel: int(r.Channel), Hot: hot, Cold: cold, Fault: fault, Raw: r.Raw,
		HasCold: fault == probe.FaultNone && thermocouple.SaysCold(p.link.Board.Chip),
		Seq:     r.Seq, Latches: r.Latches, Accepted: r.Accepted, Refused: uint16(r.Refused),
	})
}

// ack takes in the answer to a query or to a request.
func (p *Port) ack(now time.Duration, a board.Ack) {
	t := &p.talk
	if a.Of != 'Q' {
		p.answer(now, a)
		return
	}
	if t.ask && t.asked && a.Seq == t.query && a.Result == board.ResultDone {
		t.acked = true
		t.accepted, t.unmoved = a.Seq, 0
	}
}

// converse sends a query if one is wanted, and sees what has gone without an answer.
func (p *Port) converse(now time.Duration) {
	t := &p.talk
	if p.link.Heats {
		ahead := t.number - t.accepted
		if ahead > 6 || t.unmoved >= 3 && now-t.stuckAt >= time.Second {
			t.ask = true
			p.doubt(now, "the board does not accept commands")
		}
	}
	if t.req != nil && now-t.req.at >= p.cfg.AnswerWait {
		p.finish("the board did not answer")
	}
	if r := t.req; r != nil && r.send {
		r.send, r.seq = false, p.next()
		p.write(now, board.Append(nil, board.Commit{Seq: r.seq, Check: r.check}))
	}
	if t.ask && !t.foreign && (!t.asked || now-t.askedAt >= p.cfg.QueryEvery) {
		t.query, t.askedAt, t.asked, t.acked = p.next(), now, true, false
		p.write(now, board.Append(nil, board.Query{Seq: t.query}))
	}
}

// next gives the number of the next line; it wraps.
func (p *Port) next() uint16 {
	p.talk.number++
	return p.talk.number
}

// doubt takes the heat away at once, and for good until the next handshake.
func (p *Port) doubt(now time.Duration, why string) {
	hot := p.talk.duty > 0
	p.forget(why)
	if hot {
		p.sendDuty(now, 0)
	}
}

// stranger forgets all that the board said: the port is another opening now, or gone.
func (p *Port) stranger(why string) {
	p.forget(why)
	p.link.Board = nil
	t := &p.talk
	t.ask, t.proven, t.foreign, t.driven = false, false, false, false
}

// forget takes back that the board may heat, the duty wanted and any open request.
func (p *Port) forget(why string) {
	t := &p.talk
	p.link.Heats = false
	t.duty, t.acked = 0, false
	p.finish(why)
}
