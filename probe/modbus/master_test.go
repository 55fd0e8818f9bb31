package modbus_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/modbus"
)

const (
	ms   = time.Millisecond
	wait = 100 * ms
	rest = 500 * ms
)

func regs(n int) []uint16 {
	list := make([]uint16, n)
	for i := range list {
		list[i] = uint16(1000 + i)
	}
	return list
}

func newSlave() *modbus.Slave {
	return &modbus.Slave{Unit: 17, Holding: regs(40), Input: regs(20)}
}

var ask = modbus.Request{Unit: 17, Function: modbus.ReadHolding, Register: 3, Count: 2}

// TestOutcomes: a module that goes wrong in each of its ways is told apart.
func TestOutcomes(t *testing.T) {
	for _, c := range []struct {
		mode modbus.Mode
		want modbus.Outcome
		text string
	}{
		{modbus.Answers, modbus.Good, "unit 17: good"},
		{modbus.StaysQuiet, modbus.Silent, "unit 17: no answer"},
		{modbus.AnswersLate, modbus.Silent, "unit 17: no answer"},
		{modbus.CutsShort, modbus.Short, "unit 17: short answer"},
		{modbus.SpoilsCRC, modbus.WrongCRC, "unit 17: wrong check"},
		{modbus.Refuses, modbus.Refused, "unit 17: refused: device failure"},
		{modbus.Poses, modbus.OtherUnit, "unit 17: answer of another unit"},
		{modbus.Wanders, modbus.OtherFunction, "unit 17: answer to another function"},
	} {
		t.Run(c.text, func(t *testing.T) {
			s, m := newSlave(), modbus.NewMaster(9600, wait, rest)
			s.Mode = c.mode
			p, err := m.Ask(0, ask)
			require.NoError(t, err)
			res := m.Feed(20*ms, s.Feed(p))
			if res.Outcome == modbus.Waiting {
				res = m.Feed(time.Second, nil)
			}
			assert.Equal(t, c.want, res.Outcome)
			assert.Equal(t, c.text, res.String())
			assert.Equal(t, ask, res.Request)
			if c.want == modbus.Good {
				assert.Equal(t, []byte{1003 >> 8, 1003 & 255, 1004 >> 8, 1004 & 255}, res.Data)
			} else {
				assert.Nil(t, res.Data)
			}
			assert.Equal(t, modbus.Waiting, m.Feed(2*time.Second, nil).Outcome, "told once")
			assert.Equal(t, uint64(1), s.Asked)
		})
	}
}

// TestWrongCRCOfException: an exception with a wrong check is told as such.
func TestWrongCRCOfException(t *testing.T) {
	s, m := newSlave(), modbus.NewMaster(9600, wait, rest)
	s.Mode, s.Refusal = modbus.Refuses, modbus.Busy
	p, err := m.Ask(0, ask)
	require.NoError(t, err)
	reply := s.Feed(p)
	reply[4] ^= 1
	assert.Equal(t, modbus.Waiting, m.Feed(ms, reply).Outcome)
	assert.Equal(t, modbus.WrongCRC, m.Feed(time.Second, nil).Outcome)
}

// TestLate: an answer after its time is late whether the master looked in between or not, and
// the line then rests.
func TestLate(t *testing.T) {
	for _, looked := range []bool{true, false} {
		s, m := newSlave(), modbus.NewMaster(9600, wait, rest)
		s.Mode = modbus.AnswersLate
		p, err := m.Ask(0, ask)
		require.NoError(t, err)
		require.Empty(t, s.Feed(p))
		if looked {
			assert.Equal(t, modbus.Silent, m.Feed(200*ms, nil).Outcome)
			_, err = m.Ask(300*ms, ask)
			assert.ErrorIs(t, err, modbus.ErrNotReady)
		}
		res := m.Feed(400*ms, s.Release())
		assert.Equal(t, modbus.Late, res.Outcome)
		assert.Nil(t, res.Data)
		assert.Nil(t, s.Release())
		assert.Equal(t, 900*ms, m.Ready())
		_, err = m.Ask(899*ms, ask)
		assert.ErrorIs(t, err, modbus.ErrNotReady)
		_, err = m.Ask(900*ms, ask)
		assert.NoError(t, err)
	}
}

// TestDeadline: the time allowed is that of both frames on the line and the unit's own.
func TestDeadline(t *testing.T) {
	// 8 + 9 characters of 11 bits at 9600 baud.
	until := wait + 17*11*time.Second/9600
	reply := newSlave().Feed(must(ask.Append(nil)))
	for _, c := range []struct {
		at   time.Duration
		want modbus.Outcome
	}{{until - ms, modbus.Good}, {until + ms, modbus.Late}} {
		m := modbus.NewMaster(9600, wait, rest)
		_, err := m.Ask(0, ask)
		require.NoError(t, err)
		assert.True(t, m.Open())
		assert.Equal(t, modbus.Waiting, m.Feed(ms, reply[:4]).Outcome)
		assert.Equal(t, c.want, m.Feed(c.at, reply[4:]).Outcome)
		assert.False(t, m.Open())
	}
}

func must(p []byte, err error) []byte {
	if err != nil {
		panic(err)
	}
	return p
}

// TestRest: after a good exchange the line is free 3.5 characters later; bytes that nobody asked
// for are counted and make it rest.
func TestRest(t *testing.T) {
	s, m := newSlave(), modbus.NewMaster(9600, wait, rest)
	p, err := m.Ask(0, ask)
	require.NoError(t, err)
	_, err = m.Ask(0, ask)
	require.ErrorIs(t, err, modbus.ErrNotReady)
	require.Equal(t, modbus.Good, m.Feed(20*ms, s.Feed(p)).Outcome)
	assert.Equal(t, 20*ms+modbus.Silence(9600), m.Ready())
	assert.Equal(t, modbus.Waiting, m.Feed(22*ms, []byte{1, 2, 3}).Outcome)
	assert.Equal(t, uint64(3), m.Stray())
	assert.Equal(t, 22*ms+rest, m.Ready())

	p, err = m.Ask(time.Second, ask)
	require.NoError(t, err)
	res := m.Feed(time.Second+ms, append(s.Feed(p), 0, 0))
	assert.Equal(t, modbus.Good, res.Outcome)
	assert.Equal(t, uint64(5), m.Stray())
	assert.Equal(t, time.Second+ms+rest, m.Ready())
}

// TestAskRefuses: nothing that writes, no broadcast and nothing beyond the last register can be
// asked, and a refused request opens nothing.
func TestAskRefuses(t *testing.T) {
	m := modbus.NewMaster(9600, 0, 0)
	for _, r := range []modbus.Request{
		{},
		{Unit: 0, Function: modbus.ReadInput, Count: 1},
		{Unit: 248, Function: modbus.ReadInput, Count: 1},
		{Unit: 1, Function: modbus.WriteOne, Count: 1},
		{Unit: 1, Function: modbus.WriteMultiple, Count: 1},
		{Unit: 1, Function: modbus.ReadInput, Count: 0},
		{Unit: 1, Function: modbus.ReadInput, Count: 126},
		{Unit: 1, Function: modbus.ReadInput, Register: 65535, Count: 2},
	} {
		_, err := m.Ask(0, r)
		assert.ErrorIs(t, err, modbus.ErrRequest, "%+v", r)
		assert.False(t, m.Open())
	}
	_, err := m.Ask(0, modbus.Request{Unit: 247, Function: modbus.ReadInput, Register: 65535,
		Count: 1})
	assert.NoError(t, err)
}

func request(t *rapid.T) modbus.Request {
	return modbus.Request{
		Unit:     rapid.ByteRange(1, 247).Draw(t, "unit"),
		Function: rapid.SampledFrom([]modbus.Function{3, 4}).Draw(t, "function"),
		Register: uint16(rapid.IntRange(0, 300).Draw(t, "register")),
		Count:    uint16(rapid.IntRange(1, 125).Draw(t, "count")),
	}
}

func moduleFor(t *rapid.T, r modbus.Request) *modbus.Slave {
	list := rapid.SliceOfN(rapid.Uint16(), 425, 425).Draw(t, "registers")
	return &modbus.Slave{Unit: r.Unit, Holding: list, Input: list}
}

// TestNoWay: whatever a Request holds, its bytes are those of 03 or 04, or there are none.
func TestNoWay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := modbus.Request{
			Unit:     rapid.Byte().Draw(t, "unit"),
			Function: modbus.Function(rapid.Byte().Draw(t, "function")),
			Register: rapid.Uint16().Draw(t, "register"),
			Count:    uint16(rapid.IntRange(0, 200).Draw(t, "count")),
		}
		p, err := r.Append([]byte("x"))
		if err != nil {
			require.Equal(t, "x", string(p))
			return
		}
		require.Contains(t, []byte{3, 4}, p[2])
		f, err := modbus.Decode(p[1:])
		require.NoError(t, err)
		require.Equal(t, modbus.Frame{Unit: r.Unit, Function: r.Function,
			Kind: modbus.KindRequest, Register: r.Register, Count: r.Count}, f)
	})
}

// TestRoundTrip: registers come back as they were, however either side's bytes are split.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := request(t)
		s, m := moduleFor(t, r), modbus.NewMaster(19200, wait, rest)
		p, err := m.Ask(0, r)
		require.NoError(t, err)
		var reply []byte
		for len(p) > 0 {
			n := rapid.IntRange(1, len(p)).Draw(t, "asked")
			reply = append(reply, s.Feed(p[:n])...)
			p = p[n:]
		}
		require.Len(t, reply, modbus.Expect(r))
		var got modbus.Result
		for len(reply) > 0 {
			require.Equal(t, modbus.Waiting, got.Outcome)
			n := rapid.IntRange(1, len(reply)).Draw(t, "answered")
			got = m.Feed(ms, reply[:n])
			reply = reply[n:]
		}
		require.Equal(t, modbus.Good, got.Outcome)
		for i := range int(r.Count) {
			have := uint16(got.Data[2*i])<<8 | uint16(got.Data[2*i+1])
			require.Equal(t, s.Input[int(r.Register)+i], have)
		}
	})
}

// TestCorruption: a reply with one or two wrong bits is never Good, nor is the request with such
// bits answered.
func TestCorruption(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := request(t)
		s, m := moduleFor(t, r), modbus.NewMaster(19200, wait, rest)
		p := must(r.Append(nil))
		spoil := func(p []byte) {
			a := rapid.IntRange(0, 8*len(p)-1).Draw(t, "bit")
			b := rapid.IntRange(0, 8*len(p)-1).Draw(t, "another")
			p[a/8] ^= 1 << (a % 8)
			if b != a {
				p[b/8] ^= 1 << (b % 8)
			}
		}
		reply := s.Feed(p)
		spoil(reply)
		_, err := modbus.Decode(reply)
		require.ErrorIs(t, err, modbus.ErrCRC)
		_, err = m.Ask(0, r)
		require.NoError(t, err)
		res := m.Feed(ms, reply)
		if res.Outcome == modbus.Waiting {
			res = m.Feed(time.Second, nil)
		}
		require.NotContains(t, []modbus.Outcome{modbus.Waiting, modbus.Good}, res.Outcome)
		require.Nil(t, res.Data)

		spoil(p)
		require.Empty(t, s.Feed(p))
	})
}

// TestEveryTwoBits does so for every pair of bits of one reply.
func TestEveryTwoBits(t *testing.T) {
	reply := newSlave().Feed(must(ask.Append(nil)))
	bits := 8 * len(reply)
	m := modbus.NewMaster(9600, wait, rest)
	now := time.Duration(0)
	for a := range bits {
		for b := a; b < bits; b++ {
			p := append([]byte(nil), reply...)
			p[a/8] ^= 1 << (a % 8)
			if b != a {
				p[b/8] ^= 1 << (b % 8)
			}
			now = max(now+time.Second, m.Ready())
			_, err := m.Ask(now, ask)
			require.NoError(t, err)
			res := m.Feed(now+ms, p)
			if res.Outcome == modbus.Waiting {
				res = m.Feed(now+time.Second, nil)
			}
			require.NotContains(t, []modbus.Outcome{modbus.Waiting, modbus.Good}, res.Outcome,
				"bits %d and %d", a, b)
		}
	}
}

// TestNeverAnothers: over a line whose module answers late, within time-out and rest together,
// or is cut off, no registers are ever taken for those of another request.
func TestNeverAnothers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, m := newSlave(), modbus.NewMaster(9600, wait, rest)
		modes := []modbus.Mode{modbus.Answers, modbus.AnswersLate, modbus.CutsShort,
			modbus.StaysQuiet, modbus.SpoilsCRC, modbus.Poses, modbus.Wanders}
		var now time.Duration
		var line []byte // on its way to the master
		var due time.Duration
		asked := modbus.Request{}
		good := 0
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			now += time.Duration(rapid.IntRange(1, 120).Draw(t, "ms")) * ms
			register := uint16(rapid.IntRange(0, 30).Draw(t, "register"))
			r := modbus.Request{Unit: 17, Function: modbus.ReadHolding, Register: register,
				Count: 2}
			if p, err := m.Ask(now, r); err == nil {
				asked = r
				s.Mode = rapid.SampledFrom(modes).Draw(t, "mode")
				line = s.Feed(p)
				due = now
				if s.Mode == modbus.AnswersLate {
					line = s.Release()
					late := rapid.IntRange(0, int((wait+rest)/ms)-1).Draw(t, "late")
					due = now + time.Duration(late)*ms
				}
			}
			var p []byte
			if now >= due {
				n := rapid.IntRange(0, len(line)).Draw(t, "bytes")
				p, line = line[:n], line[n:]
				due = now
			}
			if res := m.Feed(now, p); res.Outcome == modbus.Good {
				good++
				require.Equal(t, asked, res.Request)
				require.Equal(t, s.Holding[asked.Register],
					uint16(res.Data[0])<<8|uint16(res.Data[1]))
				require.Len(t, res.Data, 4)
			}
		}
	})
}

func BenchmarkExchange(b *testing.B) {
	m := modbus.NewMaster(9600, wait, rest)
	reply := newSlave().Feed(must(ask.Append(nil)))
	f := modbus.Format{Type: modbus.Float32, Order: modbus.CDAB, Scale: 1, Low: -1e9, High: 1e9}
	now, sum := time.Duration(0), 0.0
	b.ReportAllocs()
	b.SetBytes(int64(len(reply)))
	for b.Loop() {
		now += time.Second
		if _, err := m.Ask(now, ask); err != nil {
			b.Fatal(err)
		}
		res := m.Feed(now+ms, reply)
		v, _ := f.Value(res.Data)
		sum += v
	}
	require.NotZero(b, sum)
}

// TestNoAllocation: an exchange that ends well or ill takes no memory.
func TestNoAllocation(t *testing.T) {
	m := modbus.NewMaster(9600, wait, rest)
	reply := newSlave().Feed(must(ask.Append(nil)))
	now := time.Duration(0)
	assert.Zero(t, testing.AllocsPerRun(100, func() {
		now = max(now+time.Second, m.Ready())
		_, err := m.Ask(now, ask)
		if err != nil || m.Feed(now+ms, reply).Outcome != modbus.Good {
			panic("no good exchange")
		}
		now += time.Second
		_, err = m.Ask(now, ask)
		if err != nil || m.Feed(now+time.Second, reply[:6]).Outcome != modbus.Short {
			panic("not short")
		}
		now += 2 * time.Second
	}))
}
