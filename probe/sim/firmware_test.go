package sim

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/board"
)

func newFirmware() *firmware {
	stored := board.Stored{Guard: 1, LimitQ: 400, WindowS: 2, MainsHz: 50}
	keep := eeprom{readable: true, stored: stored}
	f := &firmware{keep: &keep, fixed: board.About{Name: "a", Chip: "b", Channels: 2, CeilingQ: 800}}
	f.boot(0, board.CausePower)
	return f
}

const openWord = 1<<16 | 1

func goodWord(q int32) uint32 { return uint32(q)<<18 | 25<<8 }

func TestLimitStandsWhileBlind(t *testing.T) {
	f := newFirmware()
	f.judge(0, goodWord(400))
	require.Zero(t, f.latches, "at the limit is not above it")
	f.judge(0, goodWord(401))
	require.Equal(t, probe.LatchHighLimit, f.latches)
	f.judge(0, goodWord(100))
	f.judge(0, openWord)
	assert.Equal(t, board.ResultStands, f.reset(), "one bad conversion: how hot it is, is unknown")
	f.judge(0, goodWord(100))
	assert.Equal(t, board.ResultDone, f.reset())
}

func TestLatchIsOfTheFourth(t *testing.T) {
	for word, want := range map[uint32]probe.Latch{
		openWord: probe.LatchOpen, 1<<16 | 2: probe.LatchShortGround,
		1<<16 | 4: probe.LatchShortSupply, 0: probe.LatchNoChip,
	} {
		f := newFirmware()
		for range 3 {
			f.judge(0, openWord)
		}
		f.judge(0, word)
		assert.Equal(t, want, f.latches, "%08X", word)
	}
}

func TestNewGuardIsUnknown(t *testing.T) {
	f := newFirmware()
	f.judge(0, goodWord(100))
	require.True(t, f.good())
	f.store(board.Stored{Guard: 2, LimitQ: 400, WindowS: 2, MainsHz: 50})
	assert.False(t, f.good(), "no heat before a conversion of the new guard channel")
	assert.False(t, newFirmware().good(), "nor before the first one after a start")
}

func TestHeatDropsProposal(t *testing.T) {
	f := newFirmware()
	n := f.numbers.Last()
	p := board.Propose{Seq: n + 1, Stored: f.keep.stored}
	for _, fr := range []board.Frame{
		p, board.Duty{Seq: n + 2, PerMille: 1}, board.Duty{Seq: n + 3},
		board.Commit{Seq: n + 4, Check: p.Check()},
	} {
		f.out = f.out[:0]
		require.True(t, f.obey(time.Second, fr))
	}
	assert.Equal(t, string(board.Append(nil, board.Ack{Seq: n + 4, Of: 'C',
		Result: board.ResultCheck})), string(f.out))
}
