package sim_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"strawline/probe/board"
	"strawline/probe/sim"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// stream is what host needs of an open link.
type stream interface {
	Read([]byte) (int, error)
	Write([]byte) (int, error)
	SetReadTimeout(time.Duration) error
	Close() error
}

// host is the smallest program that speaks to a board in lockstep.
type host struct {
	testing.TB
	b       *sim.Board
	s       stream
	open    func() (stream, error)
	dec     board.Decoder
	sent    uint64
	got     uint64
	seq     uint16
	raw     []byte // all that came in this opening
	frames  []board.Frame
	bad     int
	ended   bool
	reading board.Reading // the last of channel 1
}

// newHost opens a board over memory and waits for its boot line and first reading.
func newHost(t testing.TB, cfg sim.Config) *host {
	t.Helper()
	b := sim.New(cfg)
	m, err := b.Memory()
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, b.Close()) })
	h := &host{TB: t, b: b, open: func() (stream, error) { return m.Open() }}
	h.opened()
	h.run(7)
	require.IsType(t, board.Boot{}, h.frames[0])
	h.seq = board.StartOf(h.frames[0].(board.Boot).Boot)
	return h
}

func (h *host) opened() {
	h.Helper()
	if h.s != nil {
		require.NoError(h, h.s.Close())
	}
	s, err := h.open()
	require.NoError(h, err)
	require.NoError(h, s.SetReadTimeout(10*time.Second))
	h.b.Opened()
	h.s, h.dec, h.sent, h.got, h.ended = s, board.Decoder{}, 0, 0, false
	h.raw, h.frames = nil, nil
}

func (h *host) write(p []byte) {
	h.Helper()
	n, err := h.s.Write(p)
	require.NoError(h, err)
	require.Equal(h, len(p), n)
	h.sent += uint64(n)
}

func (h *host) send(f board.Frame) {
	h.Helper()
	h.write(board.Append(nil, f))
}

// next gives the next command number.
func (h *host) next() uint16 {
	h.seq++
	return h.seq
}

func (h *host) duty(perMille uint16) {
	h.Helper()
	h.send(board.Duty{Seq: h.next(), PerMille: perMille})
}

// run grants n steps and reads all that the board said.
func (h *host) run(n int) {
	h.Helper()
	for range n {
		said, err := h.b.Grant(h.sent)
		require.NoError(h, err)
		for !h.ended && h.got < said {
			var buf [512]byte
			n, err := h.s.Read(buf[:])
			if err != nil {
				h.ended = true
				break
			}
			require.Positive(h, n, "the board said more than came")
			h.got += uint64(n)
			h.raw = append(h.raw, buf[:n]...)
			h.dec.Feed(buf[:n], h.frame)
		}
		if !h.ended {
			require.Equal(h, said, h.got)
		}
	}
}

func (h *host) frame(f board.Frame, err error) {
	if err != nil {
		h.bad++
		return
	}
	h.frames = append(h.frames, f)
	if r, ok := f.(board.Reading); ok && r.Channel == 1 {
		h.reading = r
	}
}

// heat repeats a duty once a second for so many seconds.
func (h *host) heat(perMille uint16, seconds int) {
	h.Helper()
	for range seconds {
		h.duty(perMille)
		h.run(4)
	}
}

// ack sends a frame, grants one step and gives the Ack that came.
func (h *host) ack(f board.Frame) board.Ack {
	h.Helper()
	from := len(h.frames)
	h.send(f)
	h.run(1)
	for _, f := range h.frames[from:] {
		if a, ok := f.(board.Ack); ok {
			return a
		}
	}
	require.Fail(h, "no answer", "%#v", f)
	return board.Ack{}
}
