package main

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/board"
	"strawline/probe/port"
	"strawline/probe/sim"
)

// lockstep is a board whose time is granted: probe/sim's own, or the firmware's on the bench.
type lockstep interface {
	Grant(sent uint64) (said uint64, err error)
	Opened()
}

// talker is the smallest host of such a board. What it hears goes into told, in a form that is the
// same for both boards as long as they do the same.
type talker struct {
	t         *testing.T
	b         lockstep
	s         port.Stream
	dec       board.Decoder
	sent, got uint64
	number    uint16
	about     *board.About
	reading   board.Reading
	refused   int
	told      []string
}

// opened tells the board that its link was opened, and waits for its first reading.
func (h *talker) opened() {
	h.sent, h.got, h.dec = 0, 0, board.Decoder{}
	h.b.Opened()
	require.NoError(h.t, h.s.SetReadTimeout(5*time.Second))
	h.about = nil
	h.grants(8)
	require.NotNil(h.t, h.about, "a boot line")
	h.number = board.StartOf(h.about.Boot)
	h.note()
}

func (h *talker) write(p []byte) {
	n, err := h.s.Write(p)
	require.NoError(h.t, err)
	h.sent += uint64(n)
}

func (h *talker) send(f board.Frame) { h.write(board.Append(nil, f)) }

func (h *talker) next() uint16 {
	h.number++
	return h.number
}

// grants lets n steps of 250 ms go by.
func (h *talker) grants(n int) {
	var buf [512]byte
	for range n {
		said, err := h.b.Grant(h.sent)
		require.NoError(h.t, err)
		for h.got < said {
			n, err := h.s.Read(buf[:])
			require.NoError(h.t, err)
			require.Positive(h.t, n, "the board said more than came")
			h.got += uint64(n)
			h.dec.Feed(buf[:n], h.hear)
		}
		require.Equal(h.t, said, h.got)
	}
}

func (h *talker) hear(f board.Frame, err error) {
	require.NoError(h.t, err)
	switch f := f.(type) {
	case board.Boot:
		h.about = &f.About
		h.told = append(h.told, fmt.Sprintf("boot %c %+v %v", f.Cause, f.Stored, f.Latches))
	case board.Info:
		h.told = append(h.told, fmt.Sprintf("info %c %+v %v", f.Cause, f.Stored, f.Latches))
	case board.Ack:
		h.told = append(h.told, fmt.Sprintf("ack %d %c %c %v", f.Seq-board.StartOf(h.about.Boot),
			f.Of, f.Result, f.Latches))
	case board.Reading:
		h.reading = f
		h.refused += int(f.Refused)
	}
}

// note puts down what the last reading said, and how many lines were refused.
func (h *talker) note() {
	h.told = append(h.told, fmt.Sprintf("latches %v accepted %d refused %d", h.reading.Latches,
		h.reading.Accepted-board.StartOf(h.about.Boot), h.refused))
	h.refused = 0
}

// seconds lets time go by, with a duty each second.
func (h *talker) seconds(n int, perMille uint16) {
	for range n {
		h.send(board.Duty{Seq: h.next(), PerMille: perMille})
		h.grants(4)
	}
	h.note()
}

// say sends frames and notes what came of them within half a second.
func (h *talker) say(frames ...board.Frame) {
	for _, f := range frames {
		h.send(f)
	}
	h.grants(2)
	h.note()
}

// conversation has each rule of the protocol's comment at least once. Both boards have an open
// thermocouple from 60 s to 62 s after the power came on.
func conversation(h *talker) []string {
	h.opened()
	stored := board.Stored{Guard: 1, LimitQ: 1027, WindowS: 2, MainsHz: 50}
	h.say(board.Query{Seq: h.next()})
	h.seconds(2, 300)
	h.say(board.Reset{Seq: h.next()}, board.Propose{Seq: h.next(), Stored: stored},
		board.Commit{Seq: h.next()}) // H, H, H
	h.say(board.Duty{Seq: h.number + 9, PerMille: 900}, board.Duty{Seq: h.number, PerMille: 900})
	h.write([]byte("D,1,1000*0000\r\nrubbish\r\n\r\n\x00\r\n"))
	h.write(board.Append(nil, board.Reading{Channel: 1}))
	h.say(board.Duty{Seq: h.number + 30000}) // 0 with any number
	h.say(board.Reset{Seq: h.next()})
	h.seconds(1, 1000)
	h.grants(16) // silence
	h.note()
	h.seconds(2, 1000) // gives nothing back
	h.say(board.Reset{Seq: h.next()})
	p := board.Propose{Seq: h.next(), Stored: stored}
	p.Stored.WindowS = 10
	h.say(p)
	h.say(board.Commit{Seq: h.next(), Check: p.Check() + 1})
	h.say(board.Commit{Seq: h.next(), Check: p.Check()})
	p.Seq, p.Stored.LimitQ = h.next(), 1268
	h.say(p) // R: above the ceiling
	p.Seq, p.Stored.LimitQ, p.Stored.Guard = h.next(), 1000, 2
	h.say(p) // R: no such channel
	p.Seq, p.Stored.Guard = h.next(), 1
	h.say(p)
	h.grants(41)
	h.say(board.Commit{Seq: h.next(), Check: p.Check()}) // C: too late
	p.Seq = h.next()
	h.say(p)
	h.say(board.Duty{Seq: h.next(), PerMille: 1})
	h.say(board.Duty{Seq: h.next()})
	h.say(board.Commit{Seq: h.next(), Check: p.Check()}) // C: forgotten
	p.Seq = h.next()
	h.say(p)
	h.say(board.Commit{Seq: h.next(), Check: p.Check()})
	h.say(board.Query{Seq: h.next() + 40000})
	h.number += 40000
	h.seconds(1, 0)
	for h.reading.Latches == 0 { // until the thermocouple opens
		require.Less(h.t, h.reading.Millis, uint32(70_000))
		h.send(board.Duty{Seq: h.next(), PerMille: 100})
		h.grants(4)
	}
	h.note()
	h.say(board.Reset{Seq: h.next()}) // L: it stands, unless the fault is over
	h.grants(12)
	h.say(board.Reset{Seq: h.next()})
	h.seconds(1, 500)
	h.opened()
	h.say(board.Query{Seq: h.next()})
	return h.told
}

// startBench starts a bench that waits for grants and gives the path of its terminal.
func startBench(t *testing.T, b bench, args ...string) (path string, r *sim.Remote) {
	t.Helper()
	dir, err := os.MkdirTemp("", "strawline-bench-") // a socket's path must be short
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, os.RemoveAll(dir)) })
	socket := filepath.Join(dir, "grants")
	cmd := exec.Command(b.program, append([]string{b.firmware, "--grants", socket}, args...)...)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		assert.NoError(t, cmd.Process.Signal(syscall.SIGTERM))
		assert.NoError(t, cmd.Wait())
		assert.NoFileExists(t, socket)
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	path, ok := strings.CutPrefix(strings.TrimSpace(line), "pty ")
	require.True(t, ok, line)
	r, err = sim.Dial(socket)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, r.Close()) })
	return path, r
}

// firmwareLikeSim: the firmware says what probe/sim says to the same lines at the same times.
func firmwareLikeSim(t *testing.T, b bench) {
	faults := filepath.Join(t.TempDir(), "faults")
	require.NoError(t, os.WriteFile(faults, []byte("60 fault open 2\n"), 0o600))
	path, remote := startBench(t, b, "--stored", "1,1027,2,50", "--script", faults)
	said, err := remote.Grant(0)
	require.NoError(t, err, "nothing is open: time goes on and nothing is taken")
	assert.Zero(t, said)
	stream, err := port.OpenSerial(path, 38400)()
	require.NoError(t, err)
	got := conversation(&talker{t: t, b: remote, s: stream})
	require.NoError(t, stream.Close())

	fault, err := sim.ParseFault("open@60s+2s")
	require.NoError(t, err)
	simulated := sim.New(sim.Config{Faults: []sim.Fault{fault}})
	memory, err := simulated.Memory()
	require.NoError(t, err)
	_, err = simulated.Grant(0)
	require.NoError(t, err)
	conn, err := memory.Open()
	require.NoError(t, err)
	want := conversation(&talker{t: t, b: simulated, s: conn})
	require.NoError(t, simulated.Close())
	assert.Equal(t, want, got)
	t.Logf("%d answers and readings the same", len(got))

	_, err = remote.Grant(0)
	assert.Error(t, err, "fewer bytes than were taken")
}
