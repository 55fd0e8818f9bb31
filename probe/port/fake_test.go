package port

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"strawline/probe"
	"strawline/probe/board"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// Words of the chip from the bit map in the MAX31855 data sheet; the true temperature of
// the first by ITS-90 with the cold junction at 25 °C is 200.06 °C (computed apart from this
// program, figures in testdata).
const (
	word200  = 0x0C601900
	wordOpen = 0x00011881
)

var errVanished = errors.New("vanished")

// fake is a scripted board behind an in-memory stream that never waits.
type fake struct {
	in      [][]byte // what the next Reads give, one each
	end     error    // what Read gives once in is empty; nil is a time-out
	crash   bool     // Read panics
	deaf    bool     // the board answers nothing and accepts nothing
	mute    bool     // it sends no readings
	short   bool     // Write takes one byte less
	stuck   chan struct{}
	hang    chan struct{} // Close waits for it
	closed  chan struct{}
	dec     board.Decoder
	heard   []board.Frame
	wrote   int
	about   board.About
	numbers board.Numbers
	change  board.Change
	duty    board.Command
	seq     uint16
	result  board.Result // what it answers to requests instead; 0 is by the rules
	other   *board.Stored
	prompt  bool // a reading follows each Duty at once
	asked   bool // it has answered a query since it started
	wild    bool // a duty above 0 came before that
}

func newFake() *fake {
	return &fake{closed: make(chan struct{}), about: board.About{
		Version: board.Version, Name: "straw-uno", Boot: 7, Cause: board.CauseReset,
		Chip: "MAX31855K", Channels: 2, CeilingQ: 2000,
		Stored: board.Stored{Guard: 1, LimitQ: 1040, WindowS: 2, MainsHz: 50},
	}}
}

func (f *fake) SetReadTimeout(time.Duration) error { return nil }
func (f *fake) ResetInputBuffer() error            { return nil }

func (f *fake) Read(p []byte) (int, error) {
	if f.crash {
		_ = make([]int, 16)[len(p)] // what the library does with a file number of 1024
	}
	if len(f.in) == 0 {
		return 0, f.end
	}
	n := copy(p, f.in[0])
	f.in[0] = f.in[0][n:]
	if len(f.in[0]) == 0 {
		f.in = f.in[1:]
	}
	return n, nil
}

func (f *fake) Write(p []byte) (int, error) {
	if f.stuck != nil {
		<-f.stuck
		return 0, errVanished
	}
	if f.short {
		return len(p) - 1, nil
	}
	f.wrote += len(p)
	f.dec.Feed(p, func(fr board.Frame, err error) {
		if err != nil {
			panic(fmt.Sprintf("the port wrote a bad line: %v", err))
		}
		f.heard = append(f.heard, fr)
		if d, ok := fr.(board.Duty); ok && d.PerMille > 0 && !f.asked {
			f.wild = true
		}
		if !f.deaf {
			f.hear(fr)
		}
	})
	return len(p), nil
}

func (f *fake) Close() error {
	if f.hang != nil {
		<-f.hang
	}
	close(f.closed)
	return nil
}

func (f *fake) isClosed(t *testing.T) {
	t.Helper()
	select {
	case <-f.closed:
	case <-time.After(10 * time.Second):
		require.Fail(t, "the stream was not closed")
	}
}

// hear answers as the rules of the protocol say.
func (f *fake) hear(fr board.Frame) {
	ack := func(seq uint16, of byte, r board.Result) {
		if f.result != 0 && of != 'Q' {
			r = f.result
		}
		f.say(board.Ack{Seq: seq, Of: of, Result: r, Latches: f.about.Latches})
	}
	switch fr := fr.(type) {
	case board.Query:
		f.numbers.Start(fr.Seq)
		f.asked = true
		ack(fr.Seq, 'Q', board.ResultDone)
		f.say(board.Info{About: f.about})
	case board.Duty:
		f.duty.Take(0, &f.numbers, fr, f.about.Latches != 0)
		if f.prompt {
			f.say(f.reading(time.Hour, word200))
		}
	case board.Propose:
		if f.numbers.Accept(fr.Seq) {
			ack(fr.Seq, 'P', f.change.Propose(0, fr, f.duty.PerMille(), 2, f.about.CeilingQ))
		}
	case board.Commit:
		if f.numbers.Accept(fr.Seq) {
			st, r := f.change.Commit(0, fr, f.duty.PerMille())
			if f.other != nil {
				st = *f.other
			}
			if r == board.ResultDone {
				f.about.Stored = st
			}
			ack(fr.Seq, 'C', r)
		}
	case board.Reset:
		if f.numbers.Accept(fr.Seq) {
			if f.result == 0 {
				f.about.Latches = 0
			}
			ack(fr.Seq, 'X', board.ResultDone)
		}
	}
}

func (f *fake) say(frames ...board.Frame) {
	for _, fr := range frames {
		f.in = append(f.in, board.Append(nil, fr))
	}
}

// start is a start of the board: the empty line, then the boot line.
func (f *fake) start() {
	f.numbers.Start(board.StartOf(f.about.Boot))
	f.duty.Off()
	f.asked = false
	f.in = append(f.in, []byte("\r\n"))
	f.say(board.Boot{About: f.about})
}

func (f *fake) reading(at time.Duration, word uint32) board.Reading {
	f.seq++
	return board.Reading{Seq: f.seq, Millis: uint32(at / time.Millisecond), Channel: 1, Raw: word,
		Latches: f.about.Latches, Accepted: f.numbers.Last()}
}

// duties gives the per mille of each Duty frame heard.
func (f *fake) duties() (pm []int) {
	for _, fr := range f.heard {
		if d, ok := fr.(board.Duty); ok {
			pm = append(pm, int(d.PerMille))
		}
	}
	return pm
}

func (f *fake) queries() (n int) {
	for _, fr := range f.heard {
		if _, ok := fr.(board.Query); ok {
			n++
		}
	}
	return n
}

// rig is a port on fakes, with time as data: 50 ms a Poll, a reading each 250 ms.
type rig struct {
	t     *testing.T
	p     *Port
	b     *fake // what the next opening gives
	deny  error // or why it fails
	opens int
	now   time.Duration
	fire  map[time.Duration]bool // the limits that have passed
	links []probe.Link           // each change of state
	seen  probe.Batch            // all readings, boots and acks
}

func newRig(t *testing.T) *rig {
	r := &rig{t: t, b: newFake(), fire: map[time.Duration]bool{}}
	cfg := Config{Name: "/dev/ttyUSB7", WriteLimit: 251 * time.Millisecond, After: r.after}
	r.p = New(cfg, func() (Stream, error) {
		r.opens++
		if r.deny != nil {
			return nil, r.deny
		}
		return r.b, nil
	})
	return r
}

func (r *rig) after(d time.Duration) <-chan time.Time {
	if d != r.p.cfg.ReadWait && !r.fire[d] {
		return nil
	}
	c := make(chan time.Time, 1)
	c <- time.Time{}
	return c
}

// poll polls until the board's lines are taken in, at the same time.
func (r *rig) poll() probe.Link {
	for {
		b := r.p.Poll(r.now)
		if len(r.links) == 0 || r.links[len(r.links)-1].State != b.Link.State {
			r.links = append(r.links, b.Link)
		}
		r.seen.Readings = append(r.seen.Readings, b.Readings...)
		r.seen.Boots = append(r.seen.Boots, b.Boots...)
		r.seen.Acks = append(r.seen.Acks, b.Acks...)
		if r.p.stream == nil || len(r.b.in) == 0 {
			return b.Link
		}
	}
}

// run lets time pass, 50 ms a Poll, with Command called each 250 ms if duty is not negative.
func (r *rig) run(d time.Duration, duty int) {
	for end := r.now + d; r.now < end; {
		r.now += 50 * time.Millisecond
		if r.now%(250*time.Millisecond) == 0 {
			if !r.b.mute && r.p.stream != nil {
				r.b.say(r.b.reading(r.now, word200))
			}
			if duty >= 0 {
				r.p.Command(r.now, duty)
			}
		}
		r.poll()
	}
}

// up opens the port and runs until the handshake is done.
func (r *rig) up() {
	r.b.start()
	r.poll()
	r.run(500*time.Millisecond, -1)
	link := r.poll()
	require.Equal(r.t, probe.LinkUp, link.State)
	require.True(r.t, link.Heats)
}

func (r *rig) states() (s []probe.LinkState) {
	for _, l := range r.links {
		s = append(s, l.State)
	}
	return s
}
