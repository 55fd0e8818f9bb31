package port

import (
	"errors"
	"fmt"
	"time"

	"strawline/probe"
	"strawline/probe/board"
	"strawline/probe/thermocouple"
)

// Command gives the duty wanted, in per mille; outside 0 to 1000 it is clamped. The caller
// repeats it at every step: a frame goes out once a Config.DutyEvery, and at once when the
// duty falls. Frames are sent from here only, so that a caller that stops lets the board's
// dead man switch off. While Link.Heats is false the duty is 0, and a board that has done no
// handshake since it started gets no frame at all. A duty above 0 must therefore be given
// again after every doubt.
func (p *Port) Command(now time.Duration, perMille int) {
	t := &p.talk
	perMille = max(0, min(perMille, 1000))
	if !p.link.Heats {
		perMille = 0
	}
	if p.stream == nil || !t.proven {
		return
	}
	if perMille < t.duty || !t.driven || now-t.dutyAt >= p.cfg.DutyEvery {
		p.sendDuty(now, perMille)
	}
}

func (p *Port) sendDuty(now time.Duration, perMille int) {
	t := &p.talk
	if t.unmoved == 0 {
		t.stuckAt = now
	}
	t.duty, t.dutySeq, t.dutyAt, t.driven, t.answered = perMille, p.next(), now, true, false
	t.unmoved++
	t.hot = t.hot || perMille > 0
	p.write(now, board.Append(nil, board.Duty{Seq: t.dutySeq, PerMille: uint16(perMille)}))
}

// request is what a person asked of the board and has not been answered yet.
type request struct {
	of    string
	step  byte // letter of the line whose answer is awaited; 'I' is the Info read back
	seq   uint16
	at    time.Duration
	send  bool         // the Commit is still to go out
	check uint16       // of the Propose line
	want  board.Stored // the settings proposed
}

// The names of requests in probe.Ack.
const (
	OfReset    = "latch reset"
	OfSettings = "settings"
)

// ResetLatches asks the board to clear the latches whose cause is gone. What became of it
// is in a later Batch's Acks. The keeper calls this only when a person asks.
func (p *Port) ResetLatches(now time.Duration) {
	if !p.begin(OfReset) {
		return
	}
	seq := p.next()
	p.talk.req = &request{of: OfReset, step: 'X', seq: seq, at: now}
	p.write(now, board.Append(nil, board.Reset{Seq: seq}))
}

// ProposeSettings changes the board's stored settings in the protocol's two steps and reads
// them back. The limit is taken from s.Limit, a true temperature at a 25 °C cold junction;
// s.LimitQ is not used. The window is in whole seconds. What became of it is in a later
// Batch's Acks: it is done only if the board reads back what was proposed.
func (p *Port) ProposeSettings(now time.Duration, s probe.Settings) {
	if !p.begin(OfSettings) {
		return
	}
	want, err := p.stored(s)
	if err != nil {
		p.tell(OfSettings, err.Error())
		return
	}
	f := board.Propose{Seq: p.next(), Stored: want}
	p.talk.req = &request{of: OfSettings, step: 'P', seq: f.Seq, at: now,
		check: f.Check(), want: want}
	p.write(now, board.Append(nil, f))
}

// stored puts settings into the protocol's units.
func (p *Port) stored(s probe.Settings) (board.Stored, error) {
	b := p.link.Board
	switch {
	case s.Guard < 1 || s.Guard > b.Channels:
		return board.Stored{}, fmt.Errorf("guard channel %d: the board has 1 to %d", s.Guard, b.Channels)
	case !(s.Limit > 0) || s.Limit > b.Ceiling: // the first is true for a NaN as well
		return board.Stored{}, fmt.Errorf("limit %.1f °C: the board takes up to %.1f °C",
			float64(s.Limit), float64(b.Ceiling))
	case s.Window < 2*time.Second || s.Window > time.Minute || s.Window%time.Second != 0:
		return board.Stored{}, fmt.Errorf("window %v: whole seconds, 2 to 60", s.Window)
	case s.MainsHz != 50 && s.MainsHz != 60:
		return board.Stored{}, fmt.Errorf("mains %d Hz: 50 or 60", s.MainsHz)
	}
	st := board.Stored{
		Guard: uint8(s.Guard), WindowS: uint8(s.Window / time.Second), MainsHz: uint8(s.MainsHz),
		LimitQ: min(thermocouple.ChipQuarters(b.Chip, s.Limit, coldAt), b.CeilingQ),
	}
	return st, st.Valid()
}

// begin reports whether a request may be sent, and tells why not.
func (p *Port) begin(of string) bool {
	why := ""
	switch {
	case p.link.State != probe.LinkUp || !p.talk.proven || p.talk.ask || p.link.Board == nil:
		why = "the board has not answered a query since it started"
	case p.talk.req != nil:
		why = "another request is under way"
	case p.talk.duty > 0:
		why = "the duty must be 0 first"
	default:
		return true
	}
	p.tell(of, why)
	return false
}

// answer takes in the board's answer to a request.
func (p *Port) answer(now time.Duration, a board.Ack) {
	r := p.talk.req
	if r == nil || a.Of != r.step || a.Seq != r.seq {
		return
	}
	if a.Result != board.ResultDone {
		// Some latches may have been cleared all the same: ask what stands.
		p.talk.ask = r.step == 'X'
		p.finish(refusal(a))
		return
	}
	switch r.step {
	case 'P':
		r.step, r.at, r.send = 'C', now, true
	case 'C':
		r.step, r.at = 'I', now
		p.talk.ask = true
	case 'X':
		p.talk.ask = true
		p.finish("")
	}
}

func refusal(a board.Ack) string {
	switch a.Result {
	case board.ResultHeating:
		return "refused: the board's duty is above 0"
	case board.ResultRange:
		return "refused: a value is out of the board's range"
	case board.ResultCheck:
		return "refused: the second step does not match the first"
	case board.ResultStands:
		return "the cause still stands: " + a.Latches.String()
	}
	return "refused"
}

// confirm compares the settings that the board reads back with those proposed.
func (p *Port) confirm(got board.Stored) {
	switch r := p.talk.req; {
	case r == nil || r.step != 'I':
	case got == r.want:
		p.finish("")
	default:
		p.finish(fmt.Sprintf("the board stored %+v instead of %+v", got, r.want))
	}
}

// finish ends the open request, if there is one; why is "" if it was done.
func (p *Port) finish(why string) {
	if r := p.talk.req; r != nil {
		p.talk.req = nil
		p.tell(r.of, why)
	}
}

func (p *Port) tell(of, why string) {
	p.batch.Acks = append(p.batch.Acks, probe.Ack{Of: of, Why: why})
}

var errNoOff = errors.New("the board did not answer duty 0; its dead man switches off " +
	"3 s after the last command")

// Close commands duty 0, waits up to Config.OffLimit for the board to accept it, and closes
// the port for good. The error says that the board has not answered, or that the port is gone
// and the board may still have had a duty above 0. Nothing is sent if the board has already
// accepted a duty of 0 as the last command, or has done no handshake since it started (then it
// never had a duty above 0). In lockstep, where the board has no time of its own, the caller
// commands 0 and collects the answer before it closes.
func (p *Port) Close(now time.Duration) error {
	err := p.off(now)
	p.forget("the port was closed")
	if p.stream != nil {
		p.shut()
	}
	p.closed = true
	p.to(now, probe.LinkClosed, nil)
	return err
}

func (p *Port) off(now time.Duration) error {
	t := &p.talk
	switch {
	case p.stream == nil || !t.proven:
		if t.hot { // unplugged while it had a duty: no 0 can be sent
			return fmt.Errorf("closing %s: %w", p.cfg.Name, errNoOff)
		}
		return nil
	case t.driven && t.duty == 0 && t.answered:
		return nil
	}
	p.sendDuty(now, 0)
	late := p.cfg.After(p.cfg.OffLimit)
	// A board that starts meanwhile is off as well: then it is not proven any more.
	for p.stream != nil {
		p.read(now)
		if p.stream == nil {
			break
		}
		if t.answered || !t.proven {
			return nil
		}
		select {
		case <-late:
			return fmt.Errorf("closing %s: %w", p.cfg.Name, errNoOff)
		default:
		}
	}
	return fmt.Errorf("closing %s: %w: %w", p.cfg.Name, errNoOff, p.cause)
}
