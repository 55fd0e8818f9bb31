package modbus

import (
	"errors"
	"fmt"
	"time"
)

// Outcome is what became of a request.
type Outcome uint8

// The outcomes. Only Good has data.
const (
	Waiting       Outcome = iota // nothing to tell
	Good                         // the registers came in time
	Refused                      // an exception in the reply's place
	Silent                       // not a byte before the time was up
	Short                        // the time was up with a part of the reply
	WrongCRC                     // as many bytes as expected, the check wrong
	OtherUnit                    // a good frame of another unit
	OtherFunction                // a good frame of this unit to another function
	OtherCount                   // a good frame of this unit with another count of registers
	Late                         // a good reply, after the time was up: not to be believed
)

// String gives the outcome in words.
func (o Outcome) String() string {
	words := [...]string{"waiting", "good", "refused", "no answer", "short answer", "wrong check",
		"answer of another unit", "answer to another function",
		"answer with another count of registers", "late answer"}
	if int(o) < len(words) {
		return words[o]
	}
	return "unknown outcome"
}

// Result is what a Master has to tell, each once.
type Result struct {
	Outcome   Outcome
	Request   Request   // the one that it is about; not with Waiting
	Exception Exception // with Refused
	Data      []byte    // with Good: two bytes a register, high byte first; until the next Ask
}

// String says it in words: "unit 17: refused: illegal address".
func (r Result) String() string {
	switch r.Outcome {
	case Waiting:
		return "waiting"
	case Refused:
		return fmt.Sprintf("unit %d: refused: %v", r.Request.Unit, r.Exception)
	}
	return fmt.Sprintf("unit %d: %v", r.Request.Unit, r.Outcome)
}

// ErrNotReady says that a request is under way or that the line still rests.
var ErrNotReady = errors.New("the line is not free for a request yet")

// Master asks one request at a time of a line and judges what comes back. Times are on the
// caller's clock. Nothing is allocated after NewMaster.
type Master struct {
	baud       int
	wait, rest time.Duration

	req   Request
	open  bool // a request waits for its outcome
	late  bool // its time ran out, and the answer may still come
	until time.Duration
	ready time.Duration
	buf   [MaxFrame]byte
	n     int
	frame [requestBytes]byte
	stray uint64
}

// NewMaster makes a master for a line of so many baud. wait is how long a unit may take to
// answer, the time of both frames on the line not counted; 200 ms unless above zero. rest is the
// quiet that the line gets after an exchange that did not end well; 1 s unless above zero. Both
// defaults are our choice: no module's figures were at hand.
func NewMaster(baud int, wait, rest time.Duration) *Master {
	if wait <= 0 {
		wait = 200 * time.Millisecond
	}
	if rest <= 0 {
		rest = time.Second
	}
	return &Master{baud: baud, wait: wait, rest: rest}
}

// Ready gives the time from which Ask may be called; it moves on while stray bytes come.
func (m *Master) Ready() time.Duration { return m.ready }

// Open reports whether a request waits for its outcome.
func (m *Master) Open() bool { return m.open }

// Stray counts the bytes that came when none was due.
func (m *Master) Stray() uint64 { return m.stray }

// Ask begins an exchange and gives the bytes to send; they stay as they are until the next Ask.
// The error is an ErrRequest, or ErrNotReady while a request is open and before Ready.
func (m *Master) Ask(now time.Duration, r Request) ([]byte, error) {
	if m.open || now < m.ready {
		return nil, ErrNotReady
	}
	p, err := r.Append(m.frame[:0])
	if err != nil {
		return nil, err
	}
	m.req, m.open, m.late, m.n = r, true, false, 0
	m.until = now + m.wait + Transfer(m.baud, requestBytes+Expect(r))
	return p, nil
}

// Feed takes the bytes that came by now, none of them as well, and tells what became of the
// request, once. A reply whose last byte was handed over after its time is Late, whether or not
// Silent or Short had been told by then. Bytes behind a whole reply, and bytes when no request
// is open, are counted as stray and never taken for a reply.
func (m *Master) Feed(now time.Duration, p []byte) Result {
	if !m.open {
		m.stray += uint64(len(p))
		if len(p) > 0 {
			m.ready = max(m.ready, now+m.rest)
		}
	}
	for i := 0; i < len(p) && (m.open || m.late); i++ {
		m.buf[m.n] = p[i]
		m.n++
		if o, e := judge(m.req, m.buf[:m.n]); o != Waiting {
			return m.end(now, o, e, len(p)-i-1)
		}
	}
	if !m.open || now <= m.until {
		return Result{}
	}
	m.open, m.late = false, true
	m.ready = now + m.rest
	o := Short
	switch {
	case m.n == 0:
		o = Silent
	case m.n >= Expect(m.req), m.n >= exceptionBytes && m.n == announced(m.buf[:m.n]):
		o, m.late = WrongCRC, false
	}
	return Result{Outcome: o, Request: m.req}
}

// end closes an exchange whose frame is whole, with so many bytes behind it.
func (m *Master) end(now time.Duration, o Outcome, e Exception, behind int) Result {
	told := !m.open // when its time ran out
	m.open, m.late = false, false
	if !told {
		m.stray += uint64(behind)
	}
	well := o == Good || o == Refused
	quiet := m.rest
	switch {
	case well && now > m.until:
		o = Late
	case told:
		o = Waiting
	case well && behind == 0:
		quiet = Silence(m.baud)
	}
	m.ready = max(m.ready, now+quiet)
	res := Result{Outcome: o, Request: m.req}
	switch o {
	case Waiting:
		return Result{}
	case Good:
		res.Data = m.buf[3 : m.n-2]
	case Refused:
		res.Exception = e
	}
	return res
}

// judge says what the first bytes of an answer are, Waiting if that is open. It is asked after
// each byte, so how the bytes were split cannot matter.
func judge(r Request, p []byte) (Outcome, Exception) {
	n, want := len(p), Expect(r)
	if n < exceptionBytes {
		return Waiting, 0
	}
	said := announced(p)
	if n == said && CRC(p) == 0 {
		switch {
		case p[0] != r.Unit:
			return OtherUnit, 0
		case p[1] == byte(r.Function)|exceptionBit:
			return Refused, Exception(p[2])
		case p[1] != byte(r.Function):
			return OtherFunction, 0
		case n != want:
			return OtherCount, 0
		}
		return Good, 0
	}
	if n >= want && n >= said {
		return WrongCRC, 0
	}
	return Waiting, 0
}

// announced is the length that an answer's own first bytes stand for; 0 if they stand for none.
// Five bytes at least must be there.
func announced(p []byte) int {
	switch f := p[1]; {
	case f&exceptionBit != 0:
		return exceptionBytes
	case (f == byte(ReadHolding) || f == byte(ReadInput)) && p[2] >= 2 && p[2] <= 2*MaxCount &&
		p[2]%2 == 0:
		return replyOverhead + int(p[2])
	case f == byte(WriteOne), f == byte(WriteMultiple):
		return requestBytes
	}
	return 0
}
