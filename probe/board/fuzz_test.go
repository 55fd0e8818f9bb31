package board_test

import (
	"bytes"
	"encoding/hex"
	"testing"

	"github.com/stretchr/testify/require"

	"strawline/probe/board"
)

// FuzzDecoder feeds any bytes whole and one by one: the same must be said, a frame must
// spell the bytes that it came from, and memory stays as it is.
func FuzzDecoder(f *testing.F) {
	for _, r := range rows(f, "good") {
		f.Add([]byte(r[0] + "\r\n"))
	}
	for i, r := range rows(f, "bad") {
		if i%8 == 0 {
			line, err := hex.DecodeString(r[1])
			require.NoError(f, err)
			f.Add(append(line, "\r\nQ,16*14D9\r\n"...))
		}
	}
	f.Fuzz(func(t *testing.T, in []byte) {
		var whole board.Decoder
		var back []byte
		frames := 0
		whole.Feed(in, func(fr board.Frame, err error) {
			if err != nil {
				require.Nil(t, fr)
				require.LessOrEqual(t, len(err.Error()), 160)
				return
			}
			frames++
			line := board.Append(nil, fr)
			require.True(t, bytes.Contains(in, line), "%q", line)
			back = append(back, line...)
		})
		again := 0
		var one board.Decoder
		for i := range in {
			one.Feed(in[i:i+1], func(fr board.Frame, err error) {
				if err == nil {
					again++
				}
			})
		}
		require.Equal(t, frames, again)
		n := 0
		whole.Reset()
		whole.Feed(back, func(fr board.Frame, err error) {
			require.NoError(t, err)
			n++
		})
		require.Equal(t, frames, n)
	})
}

func BenchmarkDecodeReading(b *testing.B) {
	line := board.Append(nil, board.Reading{Seq: 1, Millis: 250, Channel: 1, Raw: 0x0C9B1A80})
	benchmarkDecode(b, line)
}

func BenchmarkDecodeDuty(b *testing.B) {
	benchmarkDecode(b, board.Append(nil, board.Duty{Seq: 313, PerMille: 425}))
}

func benchmarkDecode(b *testing.B, line []byte) {
	var d board.Decoder
	n := 0
	count := func(board.Frame, error) { n++ }
	b.ReportAllocs()
	b.SetBytes(int64(len(line)))
	for b.Loop() {
		d.Feed(line, count)
	}
	require.Positive(b, n)
}

func BenchmarkAppendReading(b *testing.B) {
	var buf []byte
	var f board.Frame = board.Reading{Seq: 1, Millis: 250, Channel: 1, Raw: 0x0C9B1A80}
	b.ReportAllocs()
	for b.Loop() {
		buf = board.Append(buf[:0], f)
	}
	require.NotEmpty(b, buf)
}
