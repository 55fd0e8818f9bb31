package lines_test

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/lines"
	"strawline/probe/temp"
)

// hints are what a fuzzed stream is read with, by a number.
func hints(t testing.TB) []lines.Hint {
	c, f := temp.Celsius, temp.Fahrenheit
	return []lines.Hint{
		{}, {Unit: &c}, {Unit: &f, Chip: "MAX31855K"},
		{Unit: &c, DecimalComma: pointer(true)},
		{Unit: &c, Columns: columns(t, "hot", "cold")},
		{Unit: &c, Columns: columns(t, "count", "hot 2", "cold")},
	}
}

var (
	numbers  = regexp.MustCompile(`\d+([.,]\d+)?([eE][-+]?\d+)?`)
	hexWords = regexp.MustCompile(`[0-9A-Fa-f]+`)
)

// printedNumbers finds the numbers of a text without their signs, in another way than the
// reader does.
func printedNumbers(in []byte) map[float64]bool {
	out := map[float64]bool{}
	for _, m := range numbers.FindAll(in, -1) {
		for _, text := range [][]byte{m, bytes.Split(m, []byte("e"))[0], bytes.Split(m, []byte("E"))[0]} {
			v, err := strconv.ParseFloat(string(bytes.Replace(text, []byte(","), []byte("."), 1)), 64)
			if err == nil {
				out[v] = true
			}
		}
		for _, part := range bytes.FieldsFunc(m, func(r rune) bool { return r == ',' || r == '.' }) {
			if v, err := strconv.ParseFloat(string(part), 64); err == nil {
				out[v] = true
			}
		}
		// A comma that parts fields may stand before a number with decimals: 17,181.25.
	}
	for _, m := range regexp.MustCompile(`\d+(\.\d+)?`).FindAll(in, -1) {
		if v, err := strconv.ParseFloat(string(m), 64); err == nil {
			out[v] = true
		}
	}
	return out
}

func printedWords(in []byte) map[uint32]bool {
	out := map[uint32]bool{}
	for _, m := range hexWords.FindAll(in, -1) {
		if v, err := strconv.ParseUint(string(m), 16, 32); err == nil {
			out[uint32(v)] = true
		}
	}
	return out
}

// checkItem tells whether an item keeps what the package promises of every stream.
func checkItem(t *testing.T, it lines.Item, in []byte, nums map[float64]bool, words map[uint32]bool) {
	require.LessOrEqual(t, it.Channel, lines.MaxChannels)
	require.GreaterOrEqual(t, it.Channel, 0)
	require.LessOrEqual(t, len(it.Text), 512)
	switch it.Kind {
	case lines.Value:
		v := float64(it.Hot)
		switch it.Unit {
		case lines.Fahrenheit:
			v = it.Hot.F()
		case lines.Kelvin:
			v -= float64(temp.Zero)
		}
		require.True(t, has(nums, math.Abs(v)), "%v %v in %q", v, it.Unit, in)
		require.GreaterOrEqual(t, it.Hot, temp.Zero)
		require.LessOrEqual(t, float64(it.Hot), 1850.0)
		require.Positive(t, it.Channel)
		require.Equal(t, probe.FaultNone, it.Fault)
		require.NotEqual(t, lines.NoUnit, it.Unit)
	case lines.Raw:
		require.True(t, words[it.Raw], "%X in %q", it.Raw, in)
		require.Positive(t, it.Channel)
	case lines.Fault:
		require.NotEqual(t, probe.FaultNone, it.Fault)
	default:
		require.NotEmpty(t, it.Why)
	}
}

// FuzzReader feeds any bytes, whole and one by one: the same must be said, nothing that does
// not stand in them, and a shape that was learnt must be one that can be given back.
func FuzzReader(f *testing.F) {
	for _, o := range rows[ours](f, "ours.jsonl") {
		in := ""
		for _, line := range o.Prelude {
			in += line
		}
		for range 4 {
			for _, line := range o.Lines {
				in += line
			}
		}
		f.Add(uint8(o.ID), []byte(in))
	}
	for _, g := range rows[given](f, "given.jsonl") {
		in := []byte{}
		for range 4 {
			for _, line := range g.Lines {
				in = append(in, line...)
			}
		}
		f.Add(uint8(1), in)
	}
	list := hints(f)
	f.Fuzz(func(t *testing.T, which uint8, in []byte) {
		h := list[int(which)%len(list)]
		r := lines.New(h)
		items := collect(r, in, whole)
		nums, words := printedNumbers(in), printedWords(in)
		for _, it := range items {
			checkItem(t, it, in, nums, words)
		}
		require.Equal(t, items, collect(lines.New(h), in, func(int) int { return 1 }))
		for _, q := range r.Questions() {
			require.NotEmpty(t, q.Choices)
			require.LessOrEqual(t, len(fmt.Sprint(q)), 4096)
		}
		shape, sentence, known := r.Understood()
		if !known {
			return
		}
		require.NoError(t, shape.Check())
		require.NotEmpty(t, sentence)
		require.LessOrEqual(t, len(sentence), 8192)
		again, err := lines.NewShaped(shape, h)
		require.NoError(t, err)
		for _, it := range collect(again, in, whole) {
			checkItem(t, it, in, nums, words)
		}
	})
}

// The reader holds one line and a window: whatever comes, it does not grow.
func TestMemoryIsBounded(t *testing.T) {
	r := lines.New(lines.Hint{})
	ignore := func(lines.Item) {}
	line := make([]byte, 0, 600)
	grow := func() {
		for i := range 2000 {
			line = append(line[:0], fmt.Sprintf("%x %d %s\r\n", i*i, i, bytes.Repeat([]byte{'a'}, i%500))...)
			r.Feed(time.Duration(i), line, ignore)
		}
	}
	grow()
	before := testing.AllocsPerRun(1, grow)
	for range 3 {
		require.LessOrEqual(t, testing.AllocsPerRun(1, grow), before*1.05)
	}
}
