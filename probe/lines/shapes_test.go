package lines_test

import (
	"bufio"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/lines"
	"strawline/probe/temp"
)

// rows reads a file of JSON lines into values of type T.
func rows[T any](t testing.TB, name string) []T {
	t.Helper()
	f, err := os.Open("../../testdata/lines/" + name)
	require.NoError(t, err)
	defer f.Close()
	var out []T
	for s := bufio.NewScanner(f); s.Scan(); {
		var row T
		require.NoError(t, json.Unmarshal(s.Bytes(), &row), s.Text())
		out = append(out, row)
	}
	require.NotEmpty(t, out)
	return out
}

// pace is the time between two lines in these tests.
const pace = 250 * time.Millisecond

// feed gives a reader whole lines, one every 250 ms, and gathers what it says.
func feed(r *lines.Reader, now *time.Duration, list ...string) []lines.Item {
	var out []lines.Item
	for _, line := range list {
		*now += pace
		r.Feed(*now, []byte(line), func(it lines.Item) {
			it.Text = nil
			out = append(out, it)
		})
	}
	return out
}

type given struct {
	ID    int            `json:"id"`
	Lines []string       `json:"lines"`
	Want  map[string]any `json:"want"`
}

func pointer[T any](v T) *T { return &v }

func columns(t testing.TB, list ...string) []lines.Column {
	t.Helper()
	c, err := lines.ParseColumns(list)
	require.NoError(t, err)
	return c
}

// plays says how the lines of a given shape make a stream: which of them a loop prints, what
// grows, what the shop file has to say, and which entries of "want" the reading must match.
type play struct {
	id         int
	loop       []int
	grows      string
	hint       lines.Hint
	hot, cold  string
	reading    bool // a reading must come
	fault, raw bool
	ask        string // the question without the hint
}

func plays(t testing.TB) []play {
	c := lines.Hint{Unit: pointer(temp.Celsius)}
	csv := lines.Hint{Unit: c.Unit, Columns: columns(t, "count", "hot", "cold")}
	comma := lines.Hint{Unit: c.Unit, DecimalComma: pointer(true)}
	return []play{
		{id: 1, loop: []int{0}, hint: c, hot: "values", ask: "unit"},
		{id: 2, loop: []int{0, 1}, hot: "temp_c"},
		{id: 2, loop: []int{0}, hot: "temp_c"},
		{id: 3, loop: []int{0, 1}, hot: "temp_c", cold: "cj_c"},
		{id: 5, loop: []int{0}, hot: "temp_c"},
		{id: 5, loop: []int{1}, hot: "temp_c"},
		{id: 5, loop: []int{2}, hot: "temp_c"},
		{id: 6, loop: []int{0}, hot: "temp_c", cold: "cj_c"},
		{id: 8, loop: []int{0}, grows: "17", hint: c, hot: "temp_c", ask: "unit"},
		{id: 8, loop: []int{1}, grows: "152340", hint: csv, hot: "temp_c", cold: "cj_c", ask: "columns"},
		{id: 10, loop: []int{0}, hint: c, hot: "oven", ask: "unit"},
		{id: 10, loop: []int{1}, hint: c, hot: "oven", ask: "unit"},
		{id: 12, loop: []int{0}, hint: c, hot: "temp_c", cold: "cj_c", ask: "unit"},
		{id: 13, loop: []int{0}, grows: "152340", hint: c, hot: "temp_c", cold: "", ask: "unit"},
		{id: 15, loop: []int{0}, hot: "oven"},
		{id: 17, loop: []int{0}, raw: true},
		{id: 17, loop: []int{1}, raw: true},
		{id: 18, loop: []int{0}, fault: true}, {id: 18, loop: []int{1}, fault: true},
		{id: 18, loop: []int{2}, fault: true}, {id: 18, loop: []int{3}, fault: true},
		{id: 18, loop: []int{4}, fault: true},
		{id: 19, loop: []int{0}, fault: true}, {id: 19, loop: []int{1}, fault: true},
		{id: 23, loop: []int{0}, hint: comma, hot: "temp_c", ask: "decimal_comma"},
		{id: 24, loop: []int{0, 1}, grows: "12.50", hot: "temp_c"},
	}
}

func stream(g given, p play, n int) []string {
	out := []string{"\r\n", "x\r\n"}
	for i := range n {
		for _, j := range p.loop {
			line := g.Lines[j]
			if p.grows != "" {
				grown := map[string]string{"17": fmt.Sprint(17 + i), "152340": fmt.Sprint(152340 + 250*i),
					"12.50": fmt.Sprintf("%.2f", 12.5+0.5*float64(i))}[p.grows]
				line = strings.Replace(line, p.grows, grown, 1)
			}
			out = append(out, line)
		}
	}
	return out
}

func want(t *testing.T, g given, key string) float64 {
	t.Helper()
	v := g.Want[key]
	if list, is := v.([]any); is {
		v = list[0]
	}
	f, is := v.(float64)
	require.True(t, is, "%d has no %s", g.ID, key)
	return f
}

// Every shape that was given is read as wanted; where it does not say all, the question comes
// first, without any reading.
func TestGivenShapes(t *testing.T) {
	byID := map[int]given{}
	for _, g := range rows[given](t, "given.jsonl") {
		byID[g.ID] = g
	}
	for _, p := range plays(t) {
		g := byID[p.id]
		t.Run(fmt.Sprint(p.id, p.loop), func(t *testing.T) {
			if p.ask != "" {
				r, now := lines.New(lines.Hint{}), time.Duration(0)
				require.Empty(t, feed(r, &now, stream(g, p, 30)...))
				require.NotEmpty(t, r.Questions())
				require.Equal(t, p.ask, r.Questions()[0].What)
				require.Greater(t, len(r.Questions()[0].Choices), 1)
			}
			r, now := lines.New(p.hint), time.Duration(0)
			items := feed(r, &now, stream(g, p, 12)...)
			require.NotEmpty(t, items)
			_, sentence, known := r.Understood()
			for _, it := range items {
				switch {
				case p.fault:
					require.Equal(t, lines.Fault, it.Kind)
					require.NotZero(t, it.Fault)
				case p.raw:
					require.Equal(t, lines.Raw, it.Kind)
					require.Equal(t, uint32(0x0B541810), it.Raw)
				default:
					require.Equal(t, lines.Value, it.Kind)
					require.Equal(t, 1, it.Channel)
					require.InDelta(t, want(t, g, p.hot), float64(it.Hot), 0.006)
					require.Equal(t, p.cold != "" || p.id == 13, it.HasCold)
					if p.cold != "" {
						require.InDelta(t, want(t, g, p.cold), float64(it.Cold), 0)
					}
				}
			}
			require.Equal(t, !p.fault, known)
			if known {
				require.Contains(t, sentence, "channel 1 = ")
			}
		})
	}
}

// The shapes that are starts of a board, headers and ROM text give no reading, whatever stands
// in them, and in mid-stream they are a gap.
func TestGivenStarts(t *testing.T) {
	for _, g := range rows[given](t, "given.jsonl") {
		if g.ID != 21 && g.ID != 26 {
			continue
		}
		r, now := lines.New(lines.Hint{Unit: pointer(temp.Celsius)}), time.Duration(0)
		for range 12 {
			require.Empty(t, feed(r, &now, g.Lines...))
		}
		for range 8 {
			feed(r, &now, "C = 181.25\r\n")
		}
		_, _, known := r.Understood()
		require.True(t, known)
		items := feed(r, &now, append(g.Lines, "C = 181.50\r\n")...)
		require.Len(t, items, 2, "%v", items)
		require.Equal(t, lines.Gap, items[0].Kind)
		require.InDelta(t, 181.5, float64(items[1].Hot), 0)
	}
}

// The header names the columns, and again it is a gap.
func TestGivenHeader(t *testing.T) {
	for _, g := range rows[given](t, "given.jsonl") {
		if g.ID != 9 {
			continue
		}
		for _, before := range []string{"", "boot\r\n"} {
			r, now := lines.New(lines.Hint{}), time.Duration(0)
			feed(r, &now, before+g.Lines[0])
			for i := range 4 {
				feed(r, &now, strings.Replace(g.Lines[1], "152340", fmt.Sprint(152340+250*i), 1))
			}
			_, sentence, known := r.Understood()
			require.True(t, known)
			require.Equal(t, "channel 1 = 181.25 °C, cold junction 24.06 °C, 4 lines/s", sentence)
			items := feed(r, &now, "1523"+g.Lines[0], "20,181.25,24.06\r\n")
			require.Len(t, items, 3)
			require.Equal(t, lines.Bad, items[0].Kind)
			require.Equal(t, lines.Gap, items[1].Kind)
			require.InDelta(t, 20, items[2].Tick, 0)
		}
	}
}

type ours struct {
	ID       int      `json:"id"`
	Shape    string   `json:"shape"`
	Prelude  []string `json:"prelude"`
	Lines    []string `json:"lines"`
	Times    int      `json:"times"`
	From     int      `json:"from"`
	Step     int      `json:"step"`
	B64      bool     `json:"b64"`
	Unit     string   `json:"unit"`
	Columns  []string `json:"columns"`
	Comma    *bool    `json:"decimal_comma"`
	Chip     string   `json:"chip"`
	Ask      string   `json:"ask"`
	Sentence string   `json:"sentence"`
	Want     []struct {
		Channel int      `json:"channel"`
		Hot     *float64 `json:"hot_c"`
		Cold    *float64 `json:"cold_c"`
		Fault   string   `json:"fault"`
		Raw     string   `json:"raw"`
		Bad     bool     `json:"bad"`
		Gap     bool     `json:"gap"`
	} `json:"want"`
}

func (o ours) hint(t *testing.T) lines.Hint {
	h := lines.Hint{DecimalComma: o.Comma, Chip: o.Chip}
	if o.Columns != nil {
		h.Columns = columns(t, o.Columns...)
	}
	switch o.Unit {
	case "C":
		h.Unit = pointer(temp.Celsius)
	case "F":
		h.Unit = pointer(temp.Fahrenheit)
	}
	return h
}

func TestOurShapes(t *testing.T) {
	for _, o := range rows[ours](t, "ours.jsonl") {
		t.Run(fmt.Sprint(o.ID, " ", o.Shape), func(t *testing.T) {
			r, now := lines.New(o.hint(t)), time.Duration(0)
			feed(r, &now, o.Prelude...)
			var last []lines.Item
			for i := range o.Times {
				last = nil
				for _, line := range o.Lines {
					if o.B64 {
						b, err := base64.StdEncoding.DecodeString(line)
						require.NoError(t, err)
						line = string(b)
					}
					line = strings.Replace(line, "{n}", fmt.Sprint(o.From+i*o.Step), 1)
					last = append(last, feed(r, &now, line)...)
				}
			}
			var asked []string
			for _, q := range r.Questions() {
				asked = append(asked, q.What)
			}
			if o.Ask == "" && len(asked) > 0 {
				t.Fatalf("asks %v", r.Questions())
			}
			if o.Ask != "" {
				assert.Contains(t, asked, o.Ask)
			}
			require.Len(t, last, len(o.Want), "%+v", last)
			for i, w := range o.Want {
				it := last[i]
				switch {
				case w.Bad:
					require.Equal(t, lines.Bad, it.Kind)
				case w.Gap:
					require.Equal(t, lines.Gap, it.Kind)
				case w.Fault != "":
					require.Equal(t, lines.Fault, it.Kind, "%+v", it)
					require.Equal(t, w.Fault, it.Fault.String())
				case w.Raw != "":
					require.Equal(t, w.Raw, fmt.Sprintf("%08X", it.Raw))
				default:
					require.Equal(t, lines.Value, it.Kind, "%+v", it)
					require.InDelta(t, *w.Hot, float64(it.Hot), 1e-9)
					require.Equal(t, w.Cold != nil, it.HasCold)
					if w.Cold != nil {
						require.InDelta(t, *w.Cold, float64(it.Cold), 1e-9)
					}
				}
				require.True(t, w.Bad || w.Gap || w.Channel == it.Channel, "%+v", it)
			}
			if _, sentence, _ := r.Understood(); o.Sentence != "" {
				require.Equal(t, o.Sentence, sentence)
			}
		})
	}
}
