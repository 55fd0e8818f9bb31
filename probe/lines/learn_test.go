package lines_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/lines"
	"strawline/probe/temp"
)

func questions(r *lines.Reader) []string {
	var out []string
	for _, q := range r.Questions() {
		out = append(out, q.What)
	}
	return out
}

func TestRawWordsThatJump(t *testing.T) {
	next := learnt(t, lines.Hint{}, "0x0B541810\r\n")
	require.Equal(t, "1=0B581820", next("0x0B581820\r\n"))
	for _, far := range []string{"0x0BB81820", "0x0B584820", "0x0B591820", "0x0B581821", "0x00000000",
		"0xFFFFFFFF", "0x8B581820"} {
		require.Equal(t, "x 1=0B581820", next(far+"\r\n", "0x0B581820\r\n"), far)
	}
	require.Equal(t, "x", next("0xB581820\r\n"), "a word learnt with its zeros keeps them")
	require.Equal(t, "1=00010001 1=00010001 1=00010001", next("0x00010001\r\n", "0x00010001\r\n",
		"0x00010001\r\n"), "the word of an open probe that stays")

	next = learnt(t, lines.Hint{Chip: "MAX31855K"}, "41810\r\n")
	require.Equal(t, "x 1=00041810", next("441810\r\n", "41810\r\n"), "one digit and a whole word")
	require.Equal(t, "x 1=00041810", next("1810\r\n", "41810\r\n"), "a word without its first digit")
	require.Equal(t, "x x", next("441810410\r\n", "4181g\r\n"))
}

func TestDecimalsAreKept(t *testing.T) {
	odd := []string{"C = 181.5\r\n", "C = 181.5\r\n", "C = 181.5\r\n", "C = 181.5\r\n", "C = 181.5\r\n"}
	next := learnt(t, lines.Hint{}, "C = 181.25\r\n", "C = 181.50\r\n")
	require.Equal(t, "x x x x x", next(odd...), "zeros at the end were printed")
	next = learnt(t, lines.Hint{}, "C = 181.25\r\n", "C = 181.25\r\n", "C = 181.25\r\n")
	require.Equal(t, "x x x 1=181.5 1=181.5", next(odd...), "they never were")
	next = learnt(t, lines.Hint{}, "C = 181.25\r\n", "C = 181.25\r\n", "C = 181.25\r\n")
	for range 6 {
		require.Equal(t, "x", next(odd[0]))
		for range 14 {
			require.Equal(t, "1=181.25", next("C = 181.25\r\n"))
		}
	}
	require.Equal(t, "x", next("C = 181.25e0\r\n"))
}

// Noise among the first lines does not become part of the shape.
func TestNoiseWhileLearning(t *testing.T) {
	r, now := lines.New(lines.Hint{}), time.Duration(0)
	feed(r, &now, "x\r\n", "C = 181.25\r\n", "C = 181.255\r\n", "C = 0181.25\r\n")
	_, _, known := r.Understood()
	require.False(t, known)
	feed(r, &now, "Q 5\r\n", "Q 6\r\n", "C = 181.25\r\n", "C = 181.25\n", "C = 181.25\r\n",
		"C = 181.25\r\n", "C = 181.25\r\n", "C = 181.25\r\n", "C = 181.25\r\n")
	shape, _, known := r.Understood()
	require.True(t, known)
	require.Len(t, shape.Lines, 1)
	slot := shape.Lines[0].Slots[0]
	require.Equal(t, [3]int{2, 2, 0}, [3]int{slot.MinDec, slot.MaxDec, slot.Width})
	require.Equal(t, lines.CRLF, shape.Lines[0].End)
	require.Equal(t, "x x x", say(feed(r, &now, "C = 0181.25\r\n", "C = 181.255\r\n", "Q 7\r\n")))
}

func TestPaddedNumbers(t *testing.T) {
	next := learnt(t, lines.Hint{}, "C = 0098.50\r\n")
	require.Equal(t, "1=99.5 x x", next("C = 0099.50\r\n", "C = 099.50\r\n", "C = 00099.50\r\n"))
}

func TestFaultInWordsDropsWhatIsHeld(t *testing.T) {
	next := learnt(t, lines.Hint{}, "C = 181.25\r\n")
	require.Equal(t, "x 1=open", next("C = 1199.00\r\n", "Error: probe open\r\n", "C = 1199.00\r\n",
		"C = 1199.00\r\n"))
}

func TestOldColdJunctionIsNotGiven(t *testing.T) {
	r, now := lines.New(lines.Hint{}), time.Duration(0)
	for range 6 {
		feed(r, &now, "Internal C = 24.06\r\n", "C = 181.25\r\n")
	}
	for i := range 40 {
		for _, it := range feed(r, &now, "C = 181.25\r\n") {
			require.Equal(t, i < 31, it.HasCold, i)
		}
	}
}

func TestColdJunctionThatJumps(t *testing.T) {
	r, now := lines.New(lines.Hint{}), time.Duration(0)
	line := func(cold float64) []lines.Item {
		return feed(r, &now, fmt.Sprintf("T 181.25 C, chip %.2f C\r\n", cold))
	}
	for range 6 {
		line(24.06)
	}
	for _, step := range []struct {
		cold float64
		has  bool
	}{{24.12, true}, {124.12, false}, {24.12, true}, {34, false}, {34, false}, {34, true}} {
		items := line(step.cold)
		require.Len(t, items, 1)
		require.Equal(t, step.has, items[0].HasCold, step.cold)
	}
}

// What could be a probe as well as a clock is asked, not guessed.
func TestColumnsThatCouldBeEither(t *testing.T) {
	c := lines.Hint{Unit: pointer(temp.Celsius)}
	for name, print := range map[string]func(i int) string{
		"a count that could be degrees": func(i int) string { return fmt.Sprintf("%d,24.06\r\n", 181+i) },
		"ms that could be degrees":      func(i int) string { return fmt.Sprintf("%d,181.25\r\n", 1200+250*i) },
		"seconds":                       func(i int) string { return fmt.Sprintf("%.1f,181.25\r\n", 12+float64(i)/2) },
		"two of a kind":                 func(int) string { return "24.06 23.81\r\n" },
		"whole degrees that agree":      func(int) string { return "20;68\r\n" },
		"an unknown word":               func(int) string { return "foo=20.5\r\n" },
		"two unknown words":             func(int) string { return "foo=20.5 bar=21.5\r\n" },
	} {
		r, now := lines.New(c), time.Duration(0)
		for i := range 6 {
			require.Empty(t, feed(r, &now, print(i)), name)
		}
		require.Contains(t, questions(r), "columns", name)
		for _, q := range r.Questions() {
			for _, choice := range q.Choices {
				require.NotEmpty(t, choice, name)
			}
		}
	}
	r, now := lines.New(c), time.Duration(0)
	require.Empty(t, feed(r, &now, "x\r\n", "181,5\r\n", "181,25\r\n", "181,5\r\n", "181,25\r\n"))
	require.Equal(t, []string{"decimal_comma"}, questions(r))
	r = lines.New(lines.Hint{})
	require.Empty(t, feed(r, &now, "x\r\n", "181.25\r\n", "24.06\r\n", "181.25\r\n", "24.06\r\n",
		"181.25\r\n", "24.06\r\n", "181.25\r\n", "24.06\r\n"))
	require.Equal(t, "columns", questions(r)[0], "two things take turns")
}

// Every choice of columns that is offered is one that the shop file can have.
func TestChoicesAreAnswers(t *testing.T) {
	r, now := lines.New(lines.Hint{}), time.Duration(0)
	for i := range 6 {
		feed(r, &now, fmt.Sprintf("%d,181.25,24.06\r\n", 152340+250*i))
	}
	require.Len(t, r.Questions()[0].Choices, 5)
	require.Equal(t, `["count", "hot", "cold"]`, r.Questions()[0].Choices[1])
	h := lines.Hint{Unit: pointer(temp.Celsius), Columns: columns(t, "count", "hot", "cold")}
	for i := range 2 {
		r = lines.New(h)
		line := "%d,181.25,24.06\r\n"
		if i == 1 {
			line = "%d,181.25,24.06,1.00\r\n" // a list of three numbers says nothing of four
		}
		n := 0
		for i := range 6 {
			n += len(feed(r, &now, fmt.Sprintf(line, 152340+250*i)))
		}
		require.Equal(t, i == 0, n > 0)
	}
}

func TestOpenDoorIsNoOpenProbe(t *testing.T) {
	next := learnt(t, lines.Hint{}, "{\"oven_c\":181.25,\"door\":\"open\"}\r\n")
	require.Equal(t, "1=181.25", next("{\"oven_c\":181.25,\"door\":\"open\"}\r\n"))
	fine := "{\"oven_c\":181.25,\"fault\":\"none\"}\r\n"
	next = learnt(t, lines.Hint{}, fine, fine, fine, "{\"oven_c\":181.25,\"fault\":\"open\"}\r\n")
	require.Equal(t, "1=181.25 1=open", next(fine, "{\"oven_c\":181.25,\"fault\":\"open\"}\r\n"))
}

func TestNumbersThatMeanNone(t *testing.T) {
	next := learnt(t, lines.Hint{}, "C = 0.00\r\n")
	require.Equal(t, "1=no chip", next("C = 0.00\r\n"))
	require.Equal(t, "1=181.25 1=181.25 1=181.25", next("C = 181.25\r\n", "C = 181.25\r\n", "C = 181.25\r\n"))
	require.Equal(t, "1=no chip 1=no chip 1=181.25", next("C = 0.00\r\n", "C = 1023.75\r\n", "C = 181.25\r\n"))
	next = learnt(t, lines.Hint{}, "F = 358.25\r\n")
	require.Equal(t, "1=no chip 1=no chip 1=no chip 1=open", next("F = 32.00\r\n", "F = 1874.75\r\n",
		"F = -196.60\r\n", "F = 2001.00\r\n"), "in °F, converted or not")
}

func TestCommaBeforeOneDigitOrTwo(t *testing.T) {
	r, now := lines.New(lines.Hint{Unit: pointer(temp.Celsius)}), time.Duration(0)
	require.Empty(t, feed(r, &now, "x\r\n", "181,05\r\n", "181,5\r\n", "181,05\r\n", "181,05\r\n"))
	require.Equal(t, []string{"decimal_comma"}, questions(r))
}
