package board_test

import (
	"encoding/hex"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/board"
)

// rows gives the rows of vectors.txt of one kind, cut at the spaces, the kind left out.
func rows(t testing.TB, kind string) [][]string {
	t.Helper()
	b, err := os.ReadFile("../../testdata/board/vectors.txt")
	require.NoError(t, err)
	var out [][]string
	for _, row := range strings.Split(string(b), "\n") {
		if w := strings.Split(row, " "); w[0] == kind {
			out = append(out, w[1:])
		}
	}
	require.NotEmpty(t, out, kind)
	return out
}

func number(t testing.TB, s string) uint16 {
	t.Helper()
	v, err := strconv.ParseUint(s, 10, 16)
	require.NoError(t, err)
	return uint16(v)
}

func TestCRC(t *testing.T) {
	for _, r := range rows(t, "crc") {
		got := fmt.Sprintf("%04X", board.CRC([]byte(r[1])))
		if strings.HasPrefix(r[0], "other-") {
			assert.NotEqual(t, r[2], got, r[0])
		} else {
			assert.Equal(t, r[2], got, r[1])
		}
	}
}

// words writes the fields of f as vectors.txt does.
func words(f board.Frame) string {
	stored := func(s board.Stored) string {
		return fmt.Sprintf("%d %d %d %d", s.Guard, s.LimitQ, s.WindowS, s.MainsHz)
	}
	about := func(a board.About) string {
		return fmt.Sprintf("%d %s %d %c %s %d %d %s %02X", a.Version, a.Name, a.Boot, a.Cause,
			a.Chip, a.Channels, a.CeilingQ, stored(a.Stored), uint8(a.Latches))
	}
	switch f := f.(type) {
	case board.Boot:
		return "B " + about(f.About)
	case board.Info:
		return "I " + about(f.About)
	case board.Reading:
		return fmt.Sprintf("R %d %d %d %08X %02X %d %d", f.Seq, f.Millis, f.Channel, f.Raw,
			uint8(f.Latches), f.Accepted, f.Refused)
	case board.Ack:
		return fmt.Sprintf("A %d %c %c %02X", f.Seq, f.Of, f.Result, uint8(f.Latches))
	case board.Duty:
		return fmt.Sprintf("D %d %d", f.Seq, f.PerMille)
	case board.Query:
		return fmt.Sprintf("Q %d", f.Seq)
	case board.Propose:
		return fmt.Sprintf("P %d %s", f.Seq, stored(f.Stored))
	case board.Commit:
		return fmt.Sprintf("C %d %04X", f.Seq, f.Check)
	case board.Reset:
		return fmt.Sprintf("X %d", f.Seq)
	}
	return fmt.Sprintf("%T", f)
}

func TestGoodLines(t *testing.T) {
	for _, r := range rows(t, "good") {
		line := r[0] + "\r\n"
		f, err := board.Decode([]byte(line))
		require.NoError(t, err, line)
		assert.Equal(t, strings.Join(r[1:], " "), words(f))
		assert.NoError(t, board.Valid(f))
		assert.Equal(t, line, string(board.Append(nil, f)))
		if p, ok := f.(board.Propose); ok {
			assert.Equal(t, line[len(line)-6:len(line)-2], fmt.Sprintf("%04X", p.Check()))
		}
	}
}

func TestBadLines(t *testing.T) {
	kinds := map[string]error{"long": board.ErrLong, "form": board.ErrForm, "crc": board.ErrCRC,
		"version": board.ErrVersion, "range": board.ErrRange}
	for _, r := range rows(t, "bad") {
		line, err := hex.DecodeString(r[1])
		require.NoError(t, err)
		var said []error
		var d board.Decoder
		d.Feed(line, func(f board.Frame, err error) {
			assert.Nil(t, f, "%q", line)
			said = append(said, err)
		})
		require.Len(t, said, 1, "%q", line)
		assert.ErrorIs(t, said[0], kinds[r[0]], "%q", line)
		var le *board.LineError
		require.ErrorAs(t, said[0], &le)
		assert.LessOrEqual(t, len(le.Line), 24)
	}
}

func TestNumberWindow(t *testing.T) {
	for _, r := range rows(t, "window") {
		var n board.Numbers
		n.Start(number(t, r[0]))
		assert.Equal(t, r[2] == "1", n.Fits(number(t, r[1])), r)
		assert.Equal(t, r[2] == "1", n.Accept(number(t, r[1])), r)
		assert.Equal(t, number(t, r[3]), n.Last(), r)
	}
	for _, r := range rows(t, "zero") {
		var n board.Numbers
		n.Start(number(t, r[0]))
		var c board.Command
		require.True(t, c.Take(0, &n, board.Duty{Seq: n.Next(), PerMille: 500}, false))
		n.Start(number(t, r[0]))
		assert.True(t, c.Take(0, &n, board.Duty{Seq: number(t, r[1])}, false), r)
		assert.Zero(t, c.PerMille(), r)
		assert.Equal(t, number(t, r[2]), n.Last(), r)
	}
	for _, r := range rows(t, "start") {
		assert.Equal(t, number(t, r[1]), board.StartOf(number(t, r[0])))
	}
}

// TestPackageComment decodes the worked lines of the package comment.
func TestPackageComment(t *testing.T) {
	doc, err := os.ReadFile("doc.go")
	require.NoError(t, err)
	seen := map[byte]int{}
	for _, row := range strings.Split(string(doc), "\n") {
		line, ok := strings.CutPrefix(row, "//\t")
		if !ok || len(line) < 5 || line[len(line)-5] != '*' {
			continue
		}
		f, err := board.Decode([]byte(line + "\r\n"))
		require.NoError(t, err, line)
		assert.Equal(t, line+"\r\n", string(board.Append(nil, f)))
		seen[line[0]]++
	}
	for _, letter := range []byte("BIRADQPCX") {
		assert.Equal(t, 1, seen[letter], "%c", letter)
	}
}
