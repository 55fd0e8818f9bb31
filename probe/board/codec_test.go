package board_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe"
	"strawline/probe/board"
)

var storedGen = rapid.Custom(func(t *rapid.T) board.Stored {
	return board.Stored{
		Guard:   rapid.Uint8Range(1, 8).Draw(t, "guard"),
		LimitQ:  rapid.Int16Range(1, 8191).Draw(t, "limit"),
		WindowS: rapid.Uint8Range(2, 60).Draw(t, "window"),
		MainsHz: rapid.SampledFrom([]uint8{50, 60}).Draw(t, "mains"),
	}
})

var latchGen = rapid.Custom(func(t *rapid.T) probe.Latch {
	return probe.Latch(rapid.Uint8Range(0, 0x7F).Draw(t, "latches"))
})

var aboutGen = rapid.Custom(func(t *rapid.T) board.About {
	name := rapid.StringMatching("[A-Za-z0-9-]{1,16}")
	s := storedGen.Draw(t, "stored")
	return board.About{
		Version:  board.Version,
		Name:     name.Draw(t, "name"),
		Boot:     rapid.Uint16().Draw(t, "boot"),
		Cause:    board.Cause(rapid.SampledFrom([]byte("PRWB")).Draw(t, "cause")),
		Chip:     name.Draw(t, "chip"),
		Channels: rapid.Uint8Range(s.Guard, 8).Draw(t, "channels"),
		CeilingQ: rapid.Int16Range(s.LimitQ, 8191).Draw(t, "ceiling"),
		Stored:   s,
		Latches:  latchGen.Draw(t, "latches"),
	}
})

var frameGen = rapid.Custom(func(t *rapid.T) board.Frame {
	seq := rapid.Uint16().Draw(t, "seq")
	switch rapid.IntRange(0, 8).Draw(t, "kind") {
	case 0:
		return board.Boot{About: aboutGen.Draw(t, "about")}
	case 1:
		return board.Info{About: aboutGen.Draw(t, "about")}
	case 2:
		return board.Reading{Seq: seq, Millis: rapid.Uint32().Draw(t, "millis"),
			Channel: rapid.Uint8Range(1, 8).Draw(t, "channel"), Raw: rapid.Uint32().Draw(t, "raw"),
			Latches: latchGen.Draw(t, "latches"), Accepted: rapid.Uint16().Draw(t, "accepted"),
			Refused: rapid.Uint8().Draw(t, "refused")}
	case 3:
		return board.Ack{Seq: seq, Of: rapid.SampledFrom([]byte("QPCX")).Draw(t, "of"),
			Result:  board.Result(rapid.SampledFrom([]byte("YHRCL")).Draw(t, "result")),
			Latches: latchGen.Draw(t, "latches")}
	case 4:
		return board.Duty{Seq: seq, PerMille: rapid.Uint16Range(0, 1000).Draw(t, "duty")}
	case 5:
		return board.Query{Seq: seq}
	case 6:
		return board.Propose{Seq: seq, Stored: storedGen.Draw(t, "stored")}
	case 7:
		return board.Commit{Seq: seq, Check: rapid.Uint16().Draw(t, "check")}
	}
	return board.Reset{Seq: seq}
})

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := frameGen.Draw(t, "frame")
		line := board.Append(nil, f)
		require.LessOrEqual(t, len(line), 96)
		got, err := board.Decode(line)
		require.NoError(t, err, "%q", line)
		require.Equal(t, f, got)
		require.Equal(t, line, board.Append(nil, got))
	})
}

// feed decodes the pieces one after the other and writes down what the decoder says.
func feed(pieces ...[]byte) []string {
	var d board.Decoder
	var said []string
	for _, p := range pieces {
		d.Feed(p, func(f board.Frame, err error) {
			said = append(said, fmt.Sprintf("%#v %v", f, err))
		})
	}
	return said
}

func TestAnySplit(t *testing.T) {
	noise := rapid.Custom(func(t *rapid.T) []byte {
		if rapid.Bool().Draw(t, "long") {
			return bytes.Repeat([]byte{rapid.Byte().Draw(t, "byte")}, 120)
		}
		return rapid.SliceOfN(rapid.SampledFrom([]byte("D,*\r\n\x000A9")), 0, 30).Draw(t, "noise")
	})
	rapid.Check(t, func(t *rapid.T) {
		var stream []byte
		for range rapid.IntRange(0, 12).Draw(t, "lines") {
			if rapid.IntRange(0, 3).Draw(t, "which") == 0 {
				stream = append(stream, noise.Draw(t, "noise")...)
			} else {
				stream = board.Append(stream, frameGen.Draw(t, "frame"))
			}
		}
		var pieces [][]byte
		for rest := stream; len(rest) > 0; {
			n := rapid.IntRange(1, len(rest)).Draw(t, "cut")
			pieces = append(pieces, rest[:n])
			rest = rest[n:]
		}
		require.Equal(t, feed(stream), feed(pieces...))
	})
}

// TestOneByteWrong changes each byte of a line to each other value: a check of 16 bits finds
// every error of 8 bits or fewer in a row, so that no changed line may be taken.
func TestOneByteWrong(t *testing.T) {
	good := board.Append(nil, board.Duty{Seq: 313, PerMille: 425})
	for i := range good {
		for v := range 256 {
			if byte(v) == good[i] {
				continue
			}
			line := bytes.Clone(good)
			line[i] = byte(v)
			_, err := board.Decode(line)
			assert.Error(t, err, "%q", line)
		}
	}
}

func TestAfterRubbish(t *testing.T) {
	line := board.Append(nil, board.Query{Seq: 5})
	want := feed(line)
	for name, junk := range map[string]string{
		"half a line": "R,12,33", "NULs": strings.Repeat("\x00", 500),
		"no line end": strings.Repeat("x", 100000), "ends": "\r\n\r\n\r\n", "stars": "***",
	} {
		got := feed([]byte(junk), []byte("\r\n"), line)
		assert.Equal(t, want[0], got[len(got)-1], name)
		assert.LessOrEqual(t, len(got), 2, name)
	}
	var d board.Decoder
	d.Feed([]byte("D,1"), func(board.Frame, error) { assert.Fail(t, "half a line said something") })
	d.Reset()
	n := 0
	d.Feed(line, func(f board.Frame, err error) {
		n++
		assert.Equal(t, board.Query{Seq: 5}, f)
	})
	assert.Equal(t, 1, n)
}

func TestWrongFramesHaveNoLine(t *testing.T) {
	about := board.About{Version: 1, Name: "a", Cause: 'P', Chip: "b", Channels: 1, CeilingQ: 10,
		Stored: board.Stored{Guard: 1, LimitQ: 10, WindowS: 2, MainsHz: 50}}
	require.NoError(t, board.Valid(board.Boot{About: about}))
	with := func(change func(*board.About)) board.Frame {
		a := about
		change(&a)
		return board.Boot{About: a}
	}
	for i, f := range []board.Frame{
		nil, board.Duty{PerMille: 1001}, board.Reading{}, board.Reading{Channel: 9},
		board.Reading{Channel: 1, Latches: 0x80}, board.Propose{}, board.Ack{},
		board.Ack{Of: 'Q', Result: 'N'}, board.Ack{Of: 'Q', Result: 'Y', Latches: 0x80},
		with(func(a *board.About) { a.Version = 2 }),
		with(func(a *board.About) { a.Name = "" }),
		with(func(a *board.About) { a.Name = "a,b" }),
		with(func(a *board.About) { a.Chip = strings.Repeat("x", 17) }),
		with(func(a *board.About) { a.Cause = 0 }),
		with(func(a *board.About) { a.Channels = 0 }),
		with(func(a *board.About) { a.CeilingQ = -1 }),
		with(func(a *board.About) { a.CeilingQ = 9 }),
		with(func(a *board.About) { a.Stored.Guard = 2 }),
		with(func(a *board.About) { a.Stored.WindowS = 61 }),
		with(func(a *board.About) { a.Stored.MainsHz = 55 }),
		with(func(a *board.About) { a.Latches = 0x80 }),
	} {
		assert.Error(t, board.Valid(f), "%d", i)
		assert.Equal(t, "x", string(board.Append([]byte("x"), f)), "%d", i)
	}
}
