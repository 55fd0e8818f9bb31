package port

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/board"
)

func TestHandshake(t *testing.T) {
	r := newRig(t)
	r.b.deaf = true
	r.b.start()
	link := r.poll()
	require.NotNil(t, link.Board, "the boot line names it")
	assert.Equal(t, "MAX31855K", link.Board.Chip)
	assert.Equal(t, "reset", link.Board.Cause)
	assert.Equal(t, int16(1040), link.Board.Settings.LimitQ)
	// 1040 quarters are 260.00 °C on the chip's line; the straight line is within 4 °C there.
	assert.InDelta(t, 260, float64(link.Board.Settings.Limit), 4)
	r.run(3*time.Second, 500)
	assert.Equal(t, 4, r.b.queries(), "at 0, 1, 2 and 3 s")
	assert.False(t, r.p.link.Heats)
	assert.Empty(t, r.b.duties(), "an unproven board gets no duty")
	r.b.deaf = false
	r.run(time.Second, 500)
	r.run(time.Second, 500)
	assert.True(t, r.p.link.Heats)
	assert.Equal(t, 5, r.b.queries())
	assert.Equal(t, uint16(500), r.b.duty.PerMille())
}

// A board that did not restart on opening gives readings without a boot line.
func TestReadingsWithoutABootLine(t *testing.T) {
	r := newRig(t)
	r.run(600*ms, -1) // the first line is dropped, the second asks
	assert.Equal(t, 1, r.b.queries())
	assert.True(t, r.p.link.Heats)
	assert.Empty(t, r.seen.Readings, "no chip was known")
	assert.Empty(t, r.seen.Boots, "nothing says that it has just started")
	r.run(time.Second, -1)
	assert.Len(t, r.seen.Readings, 4)
}

func TestAckAndInfoMustBeOurs(t *testing.T) {
	for name, answer := range map[string]func(*fake, uint16){
		"info alone":   func(f *fake, _ uint16) { f.say(board.Info{About: f.about}) },
		"ack alone":    func(f *fake, q uint16) { f.say(board.Ack{Seq: q, Of: 'Q', Result: 'Y'}) },
		"other number": func(f *fake, q uint16) { ackInfo(f, q-1, 'Q', 'Y') },
		"other letter": func(f *fake, q uint16) { ackInfo(f, q, 'X', 'Y') },
		"refused":      func(f *fake, q uint16) { ackInfo(f, q, 'Q', 'H') },
		"wrong order": func(f *fake, q uint16) {
			f.say(board.Info{About: f.about})
			ackOf(f, q)
		},
		"boot between": func(f *fake, q uint16) {
			ackOf(f, q)
			f.start()
			f.say(board.Info{About: f.about})
		},
		"no settings": func(f *fake, q uint16) {
			f.about.Latches = probe.LatchConfig
			ackInfo(f, q, 'Q', 'Y')
		},
		"unknown chip":  func(f *fake, q uint16) { f.about.Chip = "X1"; ackInfo(f, q, 'Q', 'Y') },
		"endless limit": func(f *fake, q uint16) { f.about.CeilingQ = 8191; ackInfo(f, q, 'Q', 'Y') },
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t)
			r.b.deaf = true
			r.b.start()
			r.poll()
			r.poll()
			require.Equal(t, 1, r.b.queries())
			answer(r.b, r.b.heard[0].(board.Query).Seq)
			r.run(500*ms, 400)
			assert.False(t, r.p.link.Heats)
			for _, d := range r.b.duties() {
				assert.Zero(t, d)
			}
		})
	}
}

func ackOf(f *fake, seq uint16) { f.say(board.Ack{Seq: seq, Of: 'Q', Result: board.ResultDone}) }

func ackInfo(f *fake, seq uint16, of byte, res board.Result) {
	f.say(board.Ack{Seq: seq, Of: of, Result: res}, board.Info{About: f.about})
}

func TestRestartInTheMiddle(t *testing.T) {
	r := newRig(t)
	r.up()
	r.run(2*time.Second, 600)
	require.True(t, r.p.link.Heats)
	r.b.about.Boot, r.b.about.Cause = 8, board.CauseWatchdog
	r.b.deaf = true
	r.b.start()
	before := len(r.b.duties())
	r.run(2*time.Second, 600)
	require.Len(t, r.seen.Boots, 2)
	assert.Equal(t, "watchdog", r.seen.Boots[1].Cause)
	assert.Equal(t, probe.LinkUp, r.p.link.State)
	assert.False(t, r.p.link.Heats)
	assert.Len(t, r.b.duties(), before, "no duty before the handshake is done again")
	r.b.deaf = false
	r.run(2*time.Second, 600)
	assert.True(t, r.p.link.Heats)
}

// The boot line was lost: the board's clock tells, and the Info brings the start's number.
func TestRestartWithoutItsBootLine(t *testing.T) {
	r := newRig(t)
	r.up()
	r.run(3*time.Second, 600)
	r.b.about.Boot = 8
	r.b.numbers.Start(board.StartOf(8))
	late := r.b.reading(10*ms, word200)
	r.b.mute = true
	r.b.deaf = true
	r.b.say(late)
	r.poll()
	r.poll()
	assert.False(t, r.p.link.Heats)
	assert.Nil(t, r.p.link.Board)
	n := len(r.seen.Readings)
	r.b.deaf = false
	r.run(2*time.Second, 600) // an Info shows the start, the next completes the handshake
	assert.Len(t, r.seen.Readings, n)
	require.Len(t, r.seen.Boots, 2)
	assert.Equal(t, uint16(8), r.seen.Boots[1].Boot)
	assert.True(t, r.p.link.Heats)
}

// Its clock of 32 bits goes round once in 49.7 days; that is no restart.
func TestClockGoesRound(t *testing.T) {
	r := newRig(t)
	r.up()
	r.p.talk.millis = 0
	for _, m := range []uint32{1 << 31, 1<<32 - 100, 150, 0} {
		rd := r.b.reading(0, word200)
		rd.Millis = m
		if m == 1<<31 {
			r.p.talk.millis = m
		}
		r.b.say(rd)
		r.poll()
		assert.True(t, r.p.link.Heats, "at %d ms", m)
	}
}

func TestAnotherVersionIsForReadingOnly(t *testing.T) {
	r := newRig(t)
	r.up()
	r.run(time.Second, 700)
	// The check of "B,2,straw-uno" was computed apart from this program, with a table-driven
	// CRC-16/CCITT-FALSE.
	r.b.in = append(r.b.in, []byte("B,2,straw-uno*348B\r\n"))
	n := len(r.b.heard)
	r.run(5*time.Second, 700)
	assert.Equal(t, probe.LinkUp, r.p.link.State)
	assert.False(t, r.p.link.Heats)
	assert.ErrorContains(t, r.p.Err(), "another version")
	assert.Len(t, r.b.heard, n, "nothing is sent to it")
}

func TestSilenceForgetsTheDuty(t *testing.T) {
	r := newRig(t)
	r.up()
	r.run(2*time.Second, 800)
	require.Equal(t, uint16(800), r.b.duty.PerMille())
	r.b.mute = true
	r.run(1500*ms, 800)
	assert.Equal(t, probe.LinkSilent, r.p.link.State)
	assert.False(t, r.p.link.Heats)
	assert.Zero(t, r.b.duty.PerMille(), "0 is sent although nothing is heard")
	r.b.mute = false
	r.b.deaf = true
	r.run(3*time.Second, 800)
	assert.Equal(t, probe.LinkUp, r.p.link.State)
	assert.False(t, r.p.link.Heats, "not before the handshake is done again")
	assert.Zero(t, r.b.duties()[len(r.b.duties())-1])
}
