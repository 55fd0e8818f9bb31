package sim_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/board"
	"strawline/probe/sim"
	"strawline/probe/thermocouple"
)

func faults(t testing.TB, names ...string) []sim.Fault {
	t.Helper()
	var out []sim.Fault
	for _, s := range names {
		f, err := sim.ParseFault(s)
		require.NoError(t, err)
		out = append(out, f)
	}
	return out
}

func TestBoot(t *testing.T) {
	b := sim.New(sim.Config{Seed: 1})
	m, err := b.Memory()
	require.NoError(t, err)
	h := &host{TB: t, b: b, open: func() (stream, error) { return m.Open() }}
	h.opened()
	defer func() { require.NoError(t, b.Close()) }()
	// Deaf for 1.5 s: six steps, in which a duty with the right number is thrown away.
	h.seq = board.StartOf(2)
	h.duty(1000)
	h.run(6)
	assert.Empty(t, h.raw)
	h.run(1)
	boot := h.frames[0].(board.Boot)
	assert.Equal(t, "\r\n", string(h.raw[:2]), "a half line in the cable ends here")
	assert.Equal(t, uint16(2), boot.Boot, "power, then DTR")
	assert.Equal(t, board.CauseReset, boot.Cause)
	assert.Equal(t, "MAX31855K", boot.Chip)
	assert.Equal(t, board.Stored{Guard: 1, LimitQ: thermocouple.ChipQuarters("MAX31855K", 260, 25),
		WindowS: 2, MainsHz: 50}, boot.Stored)
	assert.Equal(t, thermocouple.ChipQuarters("MAX31855K", 320, 25), boot.CeilingQ)
	assert.Zero(t, boot.Latches)
	first := h.frames[1].(board.Reading)
	assert.Equal(t, board.Reading{Channel: 1, Millis: 250, Raw: first.Raw,
		Accepted: board.StartOf(2)}, first)
	h.run(8)
	assert.Zero(t, b.Truth().Joules)
	assert.Len(t, h.frames, 10, "one reading a step")
	assert.Equal(t, uint32(2250), h.reading.Millis)
	assert.Equal(t, uint16(8), h.reading.Seq)
}

func TestWordsOfTwoChannels(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 3, Room: true, Start: 200, Noise: -1})
	h.run(1)
	hot, cold, fault := thermocouple.Decode("MAX31855K", h.reading.Raw)
	assert.Equal(t, probe.FaultNone, fault)
	assert.InDelta(t, float64(h.b.Truth().Probe), float64(hot), 0.15, "half a quarter and a bit")
	assert.InDelta(t, 22, float64(cold), 0.1)
	room := h.frames[len(h.frames)-1].(board.Reading)
	assert.Equal(t, uint8(2), room.Channel)
	hot, _, _ = thermocouple.Decode("MAX31855K", room.Raw)
	assert.InDelta(t, 22, float64(hot), 0.2)
	// The cold junction goes 63.2 % of its 6 °C in 20 min.
	h.run(20*60*4 - 8)
	_, cold, _ = thermocouple.Decode("MAX31855K", h.reading.Raw)
	assert.InDelta(t, 22+6*0.632, float64(cold), 0.05)
}

func TestNoiseIsUniform(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 4})
	lo, hi, sum, n := 100.0, 0.0, 0.0, 0
	for range 4000 {
		h.run(1)
		hot, _, _ := thermocouple.Decode("MAX31855K", h.reading.Raw)
		lo, hi, sum, n = min(lo, float64(hot)), max(hi, float64(hot)), sum+float64(hot), n+1
	}
	assert.InDelta(t, 22, sum/float64(n), 0.05)
	assert.InDelta(t, 21.5, lo, 0.2)
	assert.InDelta(t, 22.5, hi, 0.2)
}

func TestDeadManTiming(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1})
	h.duty(1000)
	h.run(11)
	assert.True(t, h.b.Truth().Output)
	assert.Zero(t, h.reading.Latches)
	h.run(1) // 3 s after the command
	assert.False(t, h.b.Truth().Output)
	assert.Equal(t, probe.LatchHostSilent, h.reading.Latches)
	on := h.b.Truth().On
	assert.InDelta(t, float64(3*time.Second), float64(on), float64(20*time.Millisecond),
		"a mains cycle: the command may come within one")
	h.heat(1000, 5)
	assert.Equal(t, on, h.b.Truth().On, "new commands give nothing back")
	assert.Equal(t, h.seq, h.reading.Accepted)
	assert.Equal(t, board.ResultDone, h.ack(board.Reset{Seq: h.next()}).Result)
	h.run(40)
	assert.Equal(t, on, h.b.Truth().On, "the duty was lost with the latch")
	h.heat(1000, 1)
	assert.Greater(t, h.b.Truth().On, on)
}

func TestDutyZeroNeverLatches(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1})
	h.heat(500, 2)
	h.send(board.Duty{Seq: h.seq + 1000}) // far outside the window: taken, and moves nothing
	h.run(100)
	assert.False(t, h.b.Truth().Output)
	assert.Zero(t, h.reading.Latches)
	assert.Equal(t, h.seq, h.reading.Accepted)
	h.heat(500, 1)
	assert.True(t, h.b.Truth().On > 0 && h.reading.Accepted == h.seq)
}

// TestDutyZeroAtOnce: with 12.5 cycles in a step a command may come within a cycle.
func TestDutyZeroAtOnce(t *testing.T) {
	for steps := 1; steps <= 2; steps++ {
		h := newHost(t, sim.Config{Seed: 1})
		h.duty(1000)
		h.run(steps)
		on := h.b.Truth().On
		h.duty(0)
		h.run(4)
		assert.Equal(t, on, h.b.Truth().On, "%d", steps)
	}
}

func TestRefused(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1})
	h.duty(100)
	h.run(1)
	good := board.Append(nil, board.Duty{Seq: h.seq, PerMille: 1000})
	h.write(good)                                               // a replay
	h.send(board.Duty{Seq: h.seq + 9, PerMille: 1000})          // too far ahead
	h.send(board.Reset{Seq: h.seq})                             // replays of every kind
	h.send(board.Commit{Seq: h.seq})                            // of numbered line
	h.send(board.Reading{Channel: 1})                           // an echo
	h.write([]byte("D,1,1000*0000\r\nrubbish\r\n\r\n\x00\r\n")) // three bad, one empty
	h.run(1)
	assert.Equal(t, uint8(8), h.reading.Refused)
	assert.Equal(t, h.seq, h.reading.Accepted)
	h.run(1)
	assert.Zero(t, h.reading.Refused, "counted once")
	for range 300 {
		h.write([]byte("x\r\n"))
	}
	h.run(1)
	assert.Equal(t, uint8(255), h.reading.Refused)
	h.duty(0)
	h.run(40)
	for _, f := range h.frames {
		_, answer := f.(board.Ack)
		assert.False(t, answer, "a refused line has no answer")
	}
}

func TestQuery(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1})
	from := len(h.frames)
	h.send(board.Query{Seq: 40000})
	h.run(1)
	assert.Equal(t, board.Ack{Seq: 40000, Of: 'Q', Result: board.ResultDone}, h.frames[from])
	info := h.frames[from+1].(board.Info)
	assert.Equal(t, h.frames[0].(board.Boot).About, info.About)
	assert.Equal(t, uint16(40000), h.reading.Accepted)
	h.send(board.Duty{Seq: 40008, PerMille: 1000})
	h.run(1)
	assert.Equal(t, uint16(40008), h.reading.Accepted)
	assert.True(t, h.b.Truth().Output)
}

func TestBadConversions(t *testing.T) {
	// Bad conversions at the ends of the steps that begin in the fault.
	for name, c := range map[string]struct {
		fault string
		latch probe.Latch
	}{
		"three": {"open@10s+750ms", 0}, "four": {"open@10s+1s", probe.LatchOpen},
	} {
		t.Run(name, func(t *testing.T) {
			h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, c.fault)})
			h.run(1)
			h.heat(1000, 8)
			require.Equal(t, 10*time.Second, h.b.Truth().Now)
			require.True(t, h.b.Truth().Output)
			h.duty(1000)
			h.run(1)
			assert.False(t, h.b.Truth().Output, "off in the sample of the first one")
			h.run(2)
			assert.Zero(t, h.reading.Latches)
			h.run(1)
			assert.Equal(t, c.latch, h.reading.Latches)
			h.heat(1000, 2)
			assert.Equal(t, c.latch == 0, h.b.Truth().Output)
			if c.latch != 0 {
				assert.Equal(t, board.ResultDone, h.ack(board.Reset{Seq: h.next()}).Result)
			}
		})
	}
}

func TestHighLimit(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Noise: -1, Limit: 60})
	limit := thermocouple.ChipQuarters("MAX31855K", 60, 25)
	before := int16(0)
	for i := 0; h.reading.Latches == 0; i++ {
		require.Less(t, i, 600)
		if i%4 == 0 {
			h.duty(1000)
		}
		before = int16(int32(h.reading.Raw) >> 18)
		require.LessOrEqual(t, before, limit)
		h.run(1)
	}
	assert.Equal(t, probe.LatchHighLimit, h.reading.Latches)
	assert.Greater(t, int16(int32(h.reading.Raw)>>18), limit, "in the very sample that passed it")
	assert.False(t, h.b.Truth().Output)
	a := h.ack(board.Reset{Seq: h.next()})
	assert.Equal(t, board.ResultStands, a.Result)
	assert.Equal(t, probe.LatchHighLimit, a.Latches)
	h.b.Door(true)
	for i := 0; int16(int32(h.reading.Raw)>>18) > limit; i++ {
		require.Less(t, i, 14400)
		h.run(1)
	}
	assert.Equal(t, probe.LatchHighLimit, h.reading.Latches, "nothing but a reset clears it")
	assert.Equal(t, board.ResultDone, h.ack(board.Reset{Seq: h.next()}).Result)
}

func TestLatchWhoseCauseStands(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, Faults: faults(t, "open@2s+10s")})
	h.run(10)
	assert.Equal(t, board.ResultStands, h.ack(board.Reset{Seq: h.next()}).Result)
	h.run(40)
	assert.Equal(t, probe.LatchOpen, h.reading.Latches)
	assert.Equal(t, board.ResultDone, h.ack(board.Reset{Seq: h.next()}).Result)
	assert.Zero(t, h.reading.Latches)
	h.duty(1000)
	assert.Equal(t, board.ResultHeating, h.ack(board.Reset{Seq: h.next()}).Result)
}

func TestSettings(t *testing.T) {
	h := newHost(t, sim.Config{Seed: 1, BadCRC: true})
	assert.Equal(t, probe.LatchConfig, h.frames[0].(board.Boot).Latches)
	h.heat(1000, 2)
	assert.Zero(t, h.b.Truth().On, "no heat with unreadable settings")
	assert.Equal(t, board.ResultStands, h.ack(board.Reset{Seq: h.next()}).Result)
	ceiling := h.frames[0].(board.Boot).CeilingQ
	p := board.Propose{Stored: board.Stored{Guard: 1, LimitQ: ceiling + 1, WindowS: 10, MainsHz: 60}}
	p.Seq = h.next()
	assert.Equal(t, board.ResultRange, h.ack(p).Result, "above the compiled ceiling")
	p.Stored.LimitQ, p.Stored.Guard, p.Seq = ceiling, 2, h.next()
	assert.Equal(t, board.ResultRange, h.ack(p).Result, "no such channel")
	p.Stored.Guard, p.Seq = 1, h.next()
	assert.Equal(t, board.ResultDone, h.ack(p).Result)
	h.heat(0, 5) // the host goes on commanding 0
	assert.Equal(t, board.ResultCheck,
		h.ack(board.Commit{Seq: h.next(), Check: p.Check() + 1}).Result)
	p.Seq = h.next()
	assert.Equal(t, board.ResultDone, h.ack(p).Result)
	h.run(36)
	a := h.ack(board.Commit{Seq: h.next(), Check: p.Check()})
	assert.Equal(t, board.Ack{Seq: h.seq, Of: 'C', Result: board.ResultDone}, a)
	h.heat(1000, 1)
	assert.True(t, h.b.Truth().Output)
	p.Seq = h.next()
	assert.Equal(t, board.ResultHeating, h.ack(p).Result)
	h.opened()
	h.run(7)
	assert.Equal(t, p.Stored, h.frames[0].(board.Boot).Stored, "kept through the restart")
	assert.False(t, h.b.Truth().Output)
	h.seq = board.StartOf(h.frames[0].(board.Boot).Boot)
	p.Seq = h.next()
	assert.Equal(t, board.ResultDone, h.ack(p).Result)
	h.run(41)
	assert.Equal(t, board.ResultCheck,
		h.ack(board.Commit{Seq: h.next(), Check: p.Check()}).Result, "after more than 10 s")
}
