package port

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe"
	"strawline/probe/board"
)

// For any bytes, split anywhere: each reading told stands in them as a whole line, and each
// whole line that follows a line end is told, in order.
func TestNoReadingWithoutItsLine(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := newRig(t)
		r.b.deaf, r.b.mute = true, true
		stream := append([]byte("\r\n"), board.Append(nil, board.Boot{About: r.b.about})...)
		var whole []uint16
		for i := range rapid.IntRange(1, 20).Draw(rt, "lines") {
			rd := r.b.reading(time.Duration(i)*250*ms, rapid.Uint32().Draw(rt, "word"))
			rd.Seq += uint16(rapid.IntRange(0, 1).Draw(rt, "skip"))
			r.b.seq = rd.Seq
			line := board.Append(nil, rd)
			switch rapid.IntRange(0, 5).Draw(rt, "harm") {
			case 0: // cut
				line = line[:rapid.IntRange(0, len(line)-1).Draw(rt, "cut")]
			case 1: // one byte changed: CRC-16 finds every burst of up to 16 bits
				at := rapid.IntRange(0, len(line)-1).Draw(rt, "at")
				line[at] ^= byte(rapid.IntRange(1, 255).Draw(rt, "bits"))
			case 2:
				line = rapid.SliceOfN(rapid.Byte(), 0, 200).Draw(rt, "garbage")
			default:
				if bytes.HasSuffix(stream, []byte("\n")) {
					whole = append(whole, rd.Seq)
				}
			}
			stream = append(stream, line...)
		}
		for rest := stream; len(rest) > 0; {
			n := rapid.IntRange(1, len(rest)).Draw(rt, "piece")
			r.b.in = append(r.b.in, rest[:n])
			rest = rest[n:]
		}
		r.poll()
		r.poll()
		told := r.seen.Readings
		for _, rd := range told {
			require.Contains(rt, string(stream), "\n"+string(lineOf(rd, stream)))
		}
		for _, seq := range whole {
			for len(told) > 0 && told[0].Seq != seq {
				told = told[1:]
			}
			require.NotEmpty(rt, told, "the whole line numbered %d was not told", seq)
			told = told[1:]
		}
	})
}

// lineOf spells the reading again; its clock is found in the stream, as a Reading has none.
func lineOf(rd probe.Reading, stream []byte) []byte {
	for i := range 20 {
		line := board.Append(nil, board.Reading{Seq: rd.Seq, Millis: uint32(250 * i),
			Channel: uint8(rd.Channel), Raw: rd.Raw, Latches: rd.Latches, Accepted: rd.Accepted,
			Refused: uint8(rd.Refused)})
		if bytes.Contains(stream, line) {
			return line
		}
	}
	return []byte("no such line")
}
