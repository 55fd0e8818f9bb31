package main

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control/shop"
	"strawline/probe/board"
	"strawline/probe/lines"
	"strawline/probe/port"
	"strawline/probe/temp"
)

// fed gives a reader the same lines twelve times; {n} in them is a count.
func fed(hint lines.Hint, text string) *lines.Reader {
	r := lines.New(hint)
	for i := range 12 {
		line := strings.ReplaceAll(text, "{n}", fmt.Sprint(500*i))
		r.Feed(time.Duration(i)*500*time.Millisecond, []byte(line), func(lines.Item) {})
	}
	return r
}

// TestWhatIsOfferedAnswersTheQuestion: with each answer pasted as it is offered, the lines are
// then understood, or leave another question.
func TestWhatIsOfferedAnswersTheQuestion(t *testing.T) {
	base := shop.Board{Name: newName, Kind: shop.Lines, Port: "/dev/x", Baud: 9600}
	for _, c := range []struct{ text, ask string }{
		{"Oven temperature: 181.25\r\n", "unit"},
		{"C = 358.25\r\nF = 181.25\r\n", "columns"},
		{"181.25,24.06,\r\n", "columns"},
		{"{n},181.25,24.06\r\n", "columns"},
		{"{n};181.25;24.06;19\r\n", "columns"},
		{"(181.25, 24.0625)\r\n", "columns"},
		{"foo: 181.25\r\n", "columns"},
		{"0x16A8\r\n", "chip"},
		{"181,25\r\n", "decimal_comma"},
	} {
		r := fed(lines.Hint{}, c.text)
		require.NotEmpty(t, r.Questions(), c.text)
		q := r.Questions()[0]
		require.Equal(t, c.ask, q.What, c.text)
		offered := 0
		for _, choice := range questionOf(q, base, temp.Celsius).Choices {
			if choice.Paste == "" {
				continue
			}
			offered++
			s, err := shop.Parse("pasted", []byte(choice.Paste))
			require.NoError(t, err, choice.Paste)
			hint, err := lineHint(s.Boards[0].Lines)
			require.NoError(t, err)
			again := fed(hint, c.text)
			_, _, ok := again.Understood()
			for _, still := range again.Questions() {
				if still.What == c.ask {
					ok = false
					break
				}
				ok = true
			}
			assert.True(t, ok, "%q answered %s is still asked: %+v", c.text, choice.Says,
				again.Questions())
		}
		// That the units of C and F are the wrong way round is nothing a shop file can say.
		assert.Equal(t, !strings.HasPrefix(c.text, "C = "), offered > 0, c.text)
	}
}

func TestQuestionsInTheShopFilesWords(t *testing.T) {
	base := shop.Board{Name: newName, Kind: shop.Lines, Port: "/dev/x", Baud: 9600}
	q := questionOf(lines.Question{What: "baud", Choices: []string{"9600", "115200"}, Why: "\x1bno"},
		base, temp.Celsius)
	require.Equal(t, "baud = 115200", q.Choices[1].lines[0])
	require.Contains(t, q.Choices[1].Paste, "baud = 115200\n")
	require.Equal(t, `\x1Bno`, q.Why)

	q = questionOf(lines.Question{What: "decimal_comma", Choices: []string{"true", "false"}}, base,
		temp.Celsius)
	require.Equal(t, "decimal", q.Key, "the shop file's own word")
	text := q.text(base, temp.Celsius, "/home/s/shop.toml", "")
	require.Contains(t, text, "  paste into /home/s/shop.toml\n    [[board]]\n")
	require.Contains(t, text, "    decimal = \",\"\n  or\n    decimal = \".\"\n")
	text = q.text(base, temp.Celsius, "/home/s/shop.toml", "temper")
	require.Contains(t, text, "put under the board temper of /home/s/shop.toml")
	require.NotContains(t, text, "[[board]]")

	q = questionOf(lines.Question{What: "columns", Choices: []string{
		`["kiln: hot"]`, `["count", "hot", "cold"]`, `["kiln: cold"]`, "give each line a word"}},
		base, temp.Celsius)
	require.Equal(t, []string{`columns = ["kiln"]`}, q.Choices[0].lines)
	require.Equal(t, []string{"columns = [2]", "cold_column = 3"}, q.Choices[1].lines)
	require.Empty(t, q.Choices[2].Paste, "no board has a cold junction alone")
	require.Contains(t, q.text(base, temp.Celsius, "x", ""), "or: ")
}

func TestVisibleHidesNothing(t *testing.T) {
	for in, want := range map[string]string{
		"oven: 181.25 °C": "oven: 181.25 °C", "a\x00b\tc": `a\x00b\x09c`, "\xb0C": `\xB0C`,
		"\x1b[2J": `\x1B[2J`, "a\u202eb": `a\xE2\x80\xAEb`, "\u009b1m": `\xC2\x9B1m`, "": "",
	} {
		require.Equal(t, want, visible(in))
	}
}

func TestLinesAreCutAsTheyCame(t *testing.T) {
	var c cutter
	var got []string
	keep := func(s string) { got = append(got, s) }
	c.feed(0, []byte("a\r\nb\rc\n\n\r\nd"), keep)
	require.Equal(t, []string{"a", "b", "c"}, got)
	c.tend(lull-1, keep)
	require.Len(t, got, 3)
	c.tend(lull, keep)
	c.tend(2*lull, keep)
	require.Equal(t, "d (no line end)", got[3])
	c.feed(0, []byte(strings.Repeat("x", mostShown+7)+"\n"), keep)
	require.Equal(t, strings.Repeat("x", mostShown)+" (and 7 bytes)", got[4])
	require.Len(t, got, 5)
}

func TestTheKindIsToldByWhatComes(t *testing.T) {
	frame := string(board.Append(nil, board.Reading{Seq: 1, Channel: 1, Raw: 0x0C601900}))
	for _, c := range []struct {
		name, text    string
		ours, garbled bool
	}{
		{"frames", frame + frame, true, false},
		{"one frame is not enough", frame, false, false},
		{"a wrong check", strings.Repeat("R"+frame[1:len(frame)-6]+"0000\r\n", 9), false, false},
		{"the host's own frames, as an echo",
			strings.Repeat(string(board.Append(nil, board.Query{Seq: 1})), 9), false, false},
		{"text", strings.Repeat("oven 9°C\r\n", 9), false, false},
		{"text in Latin-1", strings.Repeat("\x1b[32m9\xb0C\x1b[0m\r\n", 9), false, false},
		{"another speed", strings.Repeat("\xf8\x80\x1c\xe6\xfe\x80\x26\x00", 9), false, true},
		{"too little to judge", "\xf8\x80\x1c\xe6", false, false},
	} {
		var tell teller
		for i := range len(c.text) { // byte by byte, as a slow line has it
			tell.feed(settleTime, []byte(c.text[i:i+1]))
		}
		assert.Equal(t, c.ours, tell.ours(), c.name)
		assert.Equal(t, c.garbled, tell.garbled(), c.name)
		var boot teller
		boot.feed(settleTime-1, []byte(c.text))
		assert.False(t, boot.garbled(), "while it boots: "+c.name)
	}
}

// TestAnOpenPortIsHandedOn: a board that has shown that it is ours is not opened again.
func TestAnOpenPortIsHandedOn(t *testing.T) {
	opens, heard := 0, ""
	tp := &tap{open: func() (port.Stream, error) { opens++; return &fewBytes{text: "abc"}, nil },
		heard: func(p []byte) { heard += string(p) }}
	first, err := tp.opener()
	require.NoError(t, err)
	buf := make([]byte, 2)
	_, err = first.Read(buf)
	require.NoError(t, err)
	tp.keep = true
	second, err := tp.opener()
	require.NoError(t, err)
	require.Same(t, first, second)
	require.Equal(t, 1, opens)
	_, err = second.Read(buf)
	require.Error(t, err, "the stream has ended")
	require.Equal(t, "abc", heard)

	tp.keep = true // but what has ended is opened anew
	_, err = tp.opener()
	require.NoError(t, err)
	require.Equal(t, 2, opens)
	_, err = tp.opener()
	require.NoError(t, err)
	require.Equal(t, 3, opens)
}

// fewBytes is a stream that ends with its last byte.
type fewBytes struct {
	port.Stream
	text string
}

func (f *fewBytes) Read(p []byte) (int, error) {
	n := copy(p, f.text)
	if f.text = f.text[n:]; f.text == "" {
		return n, assert.AnError
	}
	return n, nil
}
