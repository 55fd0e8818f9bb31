package lines_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/lines"
	"strawline/probe/temp"
)

// say writes items short: "=181.25" a value, "open" a fault, "|" a gap, "x" a bad line.
func say(items []lines.Item) string {
	var out []string
	for _, it := range items {
		switch it.Kind {
		case lines.Value:
			out = append(out, fmt.Sprintf("%d=%g", it.Channel, float64(it.Hot)))
		case lines.Raw:
			out = append(out, fmt.Sprintf("%d=%08X", it.Channel, it.Raw))
		case lines.Fault:
			out = append(out, fmt.Sprintf("%d=%v", it.Channel, it.Fault))
		case lines.Gap:
			out = append(out, "|")
		case lines.Bad:
			out = append(out, "x")
		}
	}
	return strings.Join(out, " ")
}

// learnt makes a reader that has learnt from a line that came often, and takes what follows.
func learnt(t *testing.T, h lines.Hint, loop ...string) func(list ...string) string {
	t.Helper()
	r, now := lines.New(h), time.Duration(0)
	feed(r, &now, "x\r\n")
	for range 8 {
		feed(r, &now, loop...)
	}
	_, _, known := r.Understood()
	require.True(t, known)
	return func(list ...string) string { return say(feed(r, &now, list...)) }
}

func TestJumps(t *testing.T) {
	next := learnt(t, lines.Hint{}, "C = 181.25\r\n")
	for _, step := range [][2]string{
		{"C = 186.00", "1=186"},                          // near
		{"C = 191.00", ""}, {"C = 186.25", "x 1=186.25"}, // a jump that did not last
		{"C = 24.00", ""}, {"C = 24.25", ""}, {"C = 24.00", "1=24 1=24.25 1=24"}, // one that did
		{"C = 80.00", ""}, {"C = 140.00", ""}, {"C = 200.00", "1=80 1=140 1=200"}, // a steep ramp
		{"C = 199.00", "1=199"},
		{"C = 1199.00", ""}, {"C = nan", "x 1=out of range"}, // a fault between is no proof
		{"C = 1199.00", ""}, {"C = 1199.00", ""}, {"C = 199.00", "x x 1=199"},
		{"C = 7.00", ""}, {"C = 6.00", ""}, {"C = 5.00", "1=7 1=6 1=5"},
		{"C = 2.00", "1=2"}, {"C = 0.50", "1=0.5"}, {"C = -0.10", "1=-0.1"}, // near zero
		{"C = -2.00", "1=-2"}, {"C = 2.00", ""}, {"C = -2.25", "x 1=-2.25"}, // a sign that got lost
	} {
		require.Equal(t, step[1], next(step[0]+"\r\n"), step[0])
	}
}

func TestLinesThatDoNotFit(t *testing.T) {
	next := learnt(t, lines.Hint{}, "C = 181.25\r\n")
	for _, line := range []string{
		"C = 181.2", "C = 181", "C = 181.255", "C = 0181.25", "c = 181.25", "C: 181.25", "C = 181,25",
		"C = 181.25 C", "C = +-181.25", "C = 181.25.25", "C = 18 1.25", "C = 1.8125e2", "C = 0x1812",
		"C = 181.25\x00", "\xff\xfeC = 181.25", "C = 1812500000000000000.25", "= 181.25", "181.25",
		"C = 181.25C = 181.25", "C = \x1b181.25", "C = .25", "C = 181.", strings.Repeat("9", 512),
	} {
		require.Equal(t, "x", next(line+"\r\n"), "%q", line)
	}
	require.Equal(t, "x", next("C = 181.25\n"), "another line end than learnt")
	require.Equal(t, "x 1=181.25", next("C = 181.25\rC = 181.25\r\n"))
	require.Equal(t, "", next("\r\n", "\n", " \t \r\n", "C = 18"))
	require.Equal(t, "1=181.25", next("1.25\r", "\n"))
	require.Equal(t, "1=181.25", next("\x1b[31m C  =\t181.25\x1b[0m\r\n"), "blanks and colours are nothing")
}

func TestLongLines(t *testing.T) {
	next := learnt(t, lines.Hint{}, "C = 181.25\r\n")
	require.Equal(t, "1=181.25", next("C = "+strings.Repeat(" ", 502)+"181.25\r\n"))
	require.Equal(t, "x", next("C = "+strings.Repeat(" ", 503)+"181.25\r\n"))
	require.Equal(t, "x 1=181.5", next(strings.Repeat("y", 5000), "C = 181.25\r\n", "C = 181.50\r\n"))
}

func TestLineEnds(t *testing.T) {
	for _, end := range []string{"\r\n", "\n", "\r"} {
		next := learnt(t, lines.Hint{}, "C = 181.25"+end)
		require.Equal(t, "1=181.5", next("C = 181.50"+end), "%q: at once", end)
	}
}

func TestFirstLineMayBeHalf(t *testing.T) {
	r, now := lines.New(lines.Hint{}), time.Duration(0)
	require.Equal(t, "1=181.25", say(feed(r, &now, "1.25 C\r\n", "181.25 C\r\n", "181.25 C\r\n",
		"181.25 C\r\n")))
	r.Reset()
	require.Empty(t, feed(r, &now, "81.25 C\r\n"))
	require.Equal(t, "1=181.25 1=181.25 1=181.25", say(feed(r, &now, "181.25 C\r\n", "181.25 C\r\n",
		"181.25 C\r\n")), "after it was opened again, a number must last before it counts")
}

func TestUnitsConfirmEachOther(t *testing.T) {
	next := learnt(t, lines.Hint{}, "C = 181.25\r\n", "F = 358.25\r\n")
	require.Equal(t, "", next("C = 182.25\r\n"))
	require.Equal(t, "1=182.25", next("F = 360.05\r\n"))
	require.Equal(t, "x", next("C = 183.25\r\n", "F = 360.05\r\n"), "the °F of another reading")
	require.Equal(t, "x", next("C = 184.25\r\n", "C = 185.25\r\n"), "its °F did not come")
	require.Equal(t, "1=185.25", next("F = 365.45\r\n"))

	next = learnt(t, lines.Hint{}, "181.25 C / 358.25 F\r\n")
	require.Equal(t, "1=182.25", next("182.25 C / 360.05 F\r\n"))
	require.Equal(t, "x", next("182.25 C / 361.05 F\r\n"))
	require.Equal(t, "x", next("nan C / 361.05 F\r\n"))
	require.Equal(t, "1=out of range", next("nan C / nan F\r\n"))

	next = learnt(t, lines.Hint{}, "181.25\r\n", "358.25\r\n")
	require.Equal(t, "", next("182.25\r\n"))
	require.Equal(t, "1=182.25", next("360.05\r\n"))
	require.Equal(t, "x 1=182.5", next("182.50\r\n", "182.50\r\n", "360.50\r\n"))
}

func TestRestarts(t *testing.T) {
	r, now := lines.New(lines.Hint{Unit: pointer(temp.Celsius)}), time.Duration(0)
	step := func(ms int) string { return fmt.Sprintf("%d,181.25\r\n", ms) }
	for ms := 5000; ms < 7000; ms += 250 {
		feed(r, &now, step(ms))
	}
	next := func(list ...string) string { return say(feed(r, &now, list...)) }
	require.Equal(t, "1=181.25", next(step(7000)))
	require.Equal(t, "| 1=181.25", next(step(250)), "the count went back")
	require.Equal(t, "1=181.25", next(step(500)))
	require.Equal(t, "x 1=181.25", next(step(7505000), step(750)), "a count that cannot be")
	require.Equal(t, "x | 1=181.25", next(step(7505000), step(7505250)), "a count that goes on there")
	require.Equal(t, "| 1=181.25", next("demo v3\r\n", "ready\r\n", step(7505500)), "unknown text")
	require.Equal(t, "| 1=181.25", next("rst:0x1 (POWERON),boot:0x13\r\n", "load:0x3fff0030,len:1184\r\n",
		step(7505750)))
	require.Equal(t, lines.Counts{Lines: 21, Readings: 12, Bad: 2}, r.Counts())
}

func TestCountThatWraps(t *testing.T) {
	r, now := lines.New(lines.Hint{Unit: pointer(temp.Celsius)}), time.Duration(0)
	for n := 230; n < 256+40; n++ {
		for _, it := range feed(r, &now, fmt.Sprintf("%d,181.25\r\n", n%256)) {
			require.Equal(t, lines.Value, it.Kind)
		}
	}
	require.Equal(t, uint64(66-8), r.Counts().Readings, "one half line, seven to see that it counts")
}

func TestFaultWords(t *testing.T) {
	for line, want := range map[string]string{
		"Error: probe open":               "open",
		"Thermocouple not connected!":     "open",
		"Check wiring":                    "open",
		"FAULT short GND":                 "short to ground",
		"Short to ground":                 "short to ground",
		"SCV fault: shorted to VCC":       "short to supply",
		"MAX31855 not found":              "no chip",
		"could not find a sensor":         "no chip",
		"Something wrong":                 "out of range",
		"value out of range":              "out of range",
		"read failed":                     "out of range",
		"C = ovf":                         "out of range",
		"C = -inf":                        "out of range",
		"Fault code 2 (short to GND)":     "short to ground",
		"{\"c\":null,\"fault\":\"open\"}": "open",
	} {
		next := learnt(t, lines.Hint{}, "C = 181.25\r\n")
		require.Equal(t, "1="+want, next(line+"\r\n"), line)
	}
	for _, line := range []string{"no faults", "Opening file", "Range: K", "VCC is on pin 2", "fault: none"} {
		next := learnt(t, lines.Hint{}, "C = 181.25\r\n")
		require.NotContains(t, next(line+"\r\n"), "1=", line)
	}
	next := learnt(t, lines.Hint{}, "oven 181.25 C\r\n", "forge 900.00 C\r\n")
	require.Equal(t, "1=open 0=open 2=short to ground", next("forge: open\r\n", "probe open\r\n",
		"oven shorted to gnd\r\n"))
	next = learnt(t, lines.Hint{}, "C = 181.25\r\n", "Error: probe 2 open\r\n")
	require.Equal(t, "1=open", next("Error: probe 2 open\r\n"), "fault words are never learnt away")
	next = learnt(t, lines.Hint{}, "{\"oven_c\":181.25,\"fault\":\"none\"}\r\n")
	require.Equal(t, "1=181.25", next("{\"oven_c\":181.25,\"fault\":\"none\"}\r\n"))
	require.Equal(t, "1=open", next("{\"oven_c\":181.25,\"fault\":\"open\"}\r\n"), "a number and a fault")
	r, now := lines.New(lines.Hint{}), time.Duration(0)
	for range 6 {
		require.NotContains(t, say(feed(r, &now, "{\"oven_c\":181.25,\"fault\":\"open\"}\n")), "=1")
	}
}

func TestHeaderWithFaults(t *testing.T) {
	r, now := lines.New(lines.Hint{}), time.Duration(0)
	feed(r, &now, "x\r\n", "n;temp_c;cold_c;fault\r\n")
	for n := range 4 {
		feed(r, &now, fmt.Sprintf("%d;181.25;24.06;0\r\n", n))
	}
	require.Equal(t, "1=181.25 1=short to ground | 1=181.25", say(feed(r, &now, "4;181.25;24.06;0\r\n",
		"5;181.25;24.06;2\r\n", "n;temp_c;cold_c;fault\r\n", "0;181.25;24.06;0\r\n")))
}

func TestLeftOutZeros(t *testing.T) {
	r, now := lines.New(lines.Hint{}), time.Duration(0)
	n := 0
	var list []string
	for i := range 200 {
		list = append(list, fmt.Sprintf("C = %g\r\n", 20+float64(i)/16))
	}
	for _, it := range feed(r, &now, list...) {
		if it.Kind == lines.Value {
			n++
		}
	}
	require.Greater(t, n, 170)
	shape, _, _ := r.Understood()
	require.Equal(t, 0, shape.Lines[0].Slots[0].MinDec)
	require.Equal(t, 4, shape.Lines[0].Slots[0].MaxDec)
}

// A shape that was written down reads as the one that was learnt.
func TestShapeIsKept(t *testing.T) {
	for _, o := range rows[ours](t, "ours.jsonl") {
		if o.B64 || o.Ask != "" && o.Chip == "" || len(o.Prelude) > 0 || o.Step > 0 {
			continue
		}
		r, now := lines.New(o.hint(t)), time.Duration(0)
		feed(r, &now, "\r\n", "x\r\n")
		for range 8 {
			feed(r, &now, o.Lines...)
		}
		shape, _, known := r.Understood()
		require.True(t, known, o.Shape)
		asJSON, err := json.Marshal(shape)
		require.NoError(t, err)
		asTOML, err := toml.Marshal(shape)
		require.NoError(t, err)
		var a, b lines.Shape
		require.NoError(t, json.Unmarshal(asJSON, &a))
		require.NoError(t, toml.Unmarshal(asTOML, &b))
		want := say(feed(r, &now, o.Lines...))
		for _, s := range []lines.Shape{a, b} {
			again, err := lines.NewShaped(s, lines.Hint{Chip: o.Chip})
			require.NoError(t, err)
			require.Nil(t, again.Questions())
			_, sentence, _ := again.Understood()
			require.Contains(t, sentence, "has no reading yet")
			feed(again, &now, "x\r\n")
			for range 4 {
				feed(again, &now, o.Lines...)
			}
			require.Equal(t, want, say(feed(again, &now, o.Lines...)), o.Shape)
		}
	}
}

func TestBadShapes(t *testing.T) {
	good := func() lines.Shape {
		return lines.Shape{Lines: []lines.Line{{Text: "C = #", Slots: []lines.Slot{
			{Role: lines.Hot, Channel: 1, Unit: lines.Celsius, MinDec: 2, MaxDec: 2}}}}}
	}
	_, err := lines.NewShaped(good(), lines.Hint{})
	require.NoError(t, err)
	for want, spoil := range map[string]func(*lines.Shape){
		"kinds of lines":      func(s *lines.Shape) { s.Lines = nil },
		"marks for":           func(s *lines.Shape) { s.Lines[0].Text = "C = # #" },
		"stands twice":        func(s *lines.Shape) { s.Lines = append(s.Lines, s.Lines[0]) },
		"no number":           func(s *lines.Shape) { s.Lines[0].Slots[0].Role = lines.Skip },
		"channel 9":           func(s *lines.Shape) { s.Lines[0].Slots[0].Channel = 9 },
		"channel 0":           func(s *lines.Shape) { s.Lines[0].Slots[0].Channel = 0 },
		"without a unit":      func(s *lines.Shape) { s.Lines[0].Slots[0].Unit = lines.NoUnit },
		"unknown role":        func(s *lines.Shape) { s.Lines[0].Slots[0].Role = 99 },
		"raw word":            func(s *lines.Shape) { s.Lines[0].Slots[0].Class = lines.Hex },
		"time of day":         func(s *lines.Shape) { s.Lines[0].Slots[0].Class = lines.Clock },
		"impossible decimals": func(s *lines.Shape) { s.Lines[0].Slots[0].MaxDec = 1 },
		"take turns":          func(s *lines.Shape) { s.Lines[0].Slots[0].Turns, s.Lines[0].Slots[0].Unit = true, 2 },
		"numbers":             func(s *lines.Shape) { s.Lines[0].Slots = nil },
		"texts":               func(s *lines.Shape) { s.Texts = make([]string, 17) },
	} {
		s := good()
		spoil(&s)
		_, err := lines.NewShaped(s, lines.Hint{})
		assert.ErrorContains(t, err, want)
	}
}

func TestParseColumns(t *testing.T) {
	got, err := lines.ParseColumns([]string{"count", "hot 2", "kiln floor: cold 1", "raw", "skip", "fault"})
	require.NoError(t, err)
	require.Equal(t, []lines.Column{{Role: lines.Tick}, {Role: lines.Hot, Channel: 2},
		{Label: "kiln floor", Role: lines.Cold, Channel: 1}, {Role: lines.Word}, {}, {Role: lines.Status}}, got)
	for _, bad := range [][]string{nil, {""}, {"warm"}, {"hot 0"}, {"hot 9"}, {"hot two"}, {"count 1"},
		{": hot"}, {"hot 1 2"}, {"repeat"}, make([]string, 25)} {
		_, err := lines.ParseColumns(bad)
		assert.Error(t, err, bad)
	}
}

func TestPaceAndText(t *testing.T) {
	r, now := lines.New(lines.Hint{}), time.Duration(0)
	_, ok := r.Interval(1)
	require.False(t, ok)
	for range 60 {
		feed(r, &now, "C = 181.25\r\n")
	}
	d, ok := r.Interval(1)
	require.True(t, ok)
	require.Equal(t, pace, d)
	for range 16 {
		now += 3*time.Second - pace
		feed(r, &now, "C = 181.25\r\n")
	}
	_, sentence, _ := r.Understood()
	require.Equal(t, "channel 1 = 181.25 °C, a line every 3 s", sentence)
	for _, channel := range []int{-1, 0, 2, 9} {
		_, ok = r.Interval(channel)
		require.False(t, ok)
	}
	r.Feed(now, []byte("C = 181.25\r\n"), func(it lines.Item) {
		require.Equal(t, "C = 181.25", string(it.Text))
		require.Equal(t, now, it.At)
	})
}
