package shop

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/temp"
)

// TestPasteFull: the shop that holds every key comes back from its own text, and the text is in
// the person's unit.
func TestPasteFull(t *testing.T) {
	s := full(t)
	text := s.Paste()
	back, err := Parse("pasted.toml", []byte(text))
	require.NoError(t, err, text)
	assert.Equal(t, s, back)
	for _, line := range []string{`limit = "500F"`, `offset = "-2.5F"`, `rise = "1100F"`,
		`td = "12.5s"`, `ti = "2m"`, `columns = [2, "oil bath"]`, `fitted = 2026-03-01`,
		`heater = true`, `probes = ["oven-air"]`} {
		assert.Contains(t, text, line+"\n")
	}
	s.Unit = temp.Celsius
	back, err = Parse("pasted.toml", []byte(s.Paste()))
	require.NoError(t, err)
	assert.Equal(t, s, back)
}

func TestSpanText(t *testing.T) {
	for text, d := range map[string]time.Duration{
		"2h": 2 * time.Hour, "90m": 90 * time.Minute, "45s": 45 * time.Second, "0s": 0,
		"12.125s": 12125 * time.Millisecond, "0.000000001s": 1, "3600.5s": 3600500 * time.Millisecond,
	} {
		assert.Equal(t, text, spanText(d))
		back, err := parseSpan(text)
		require.NoError(t, err)
		assert.Equal(t, d, back)
	}
	d, err := parseSpan("1h 30m 15s")
	require.NoError(t, err)
	assert.Equal(t, 5415*time.Second, d)
	for _, bad := range []string{"", " ", "h", "1d", "1m1m", "-1s", "1", "1.2.3s", "+1s", "1e3s"} {
		_, err := parseSpan(bad)
		assert.Error(t, err, bad)
	}
}

// Generators of what a file can hold.
func name(t *rapid.T, used map[string]bool) string {
	n := rapid.StringMatching(`[a-z][a-z0-9-]{0,9}`).Filter(func(s string) bool {
		return !used[s]
	}).Draw(t, "name")
	used[n] = true
	return n
}

func words(t *rapid.T) string {
	return rapid.OneOf(rapid.Just(""), rapid.SampledFrom([]string{`a "b" \c\`, "é°ß", "# no"}),
		rapid.StringOfN(rapid.RuneFrom(nil, unicode.PrintRanges...), 0, 90, -1)).Draw(t, "words")
}

func date(t *rapid.T) Date {
	start := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	return DateOf(start.AddDate(0, 0, rapid.IntRange(0, 73000).Draw(t, "days")))
}

func span(t *rapid.T, low, high time.Duration) time.Duration {
	return time.Duration(rapid.Int64Range(int64(low), int64(high)).Draw(t, "span"))
}

func celsius(t *rapid.T, low, high float64) temp.C {
	if rapid.Bool().Draw(t, "fahrenheit") {
		f := rapid.IntRange(int(low*1.8+33), int(high*1.8+31)).Draw(t, "f")
		return temp.F(float64(f))
	}
	return temp.C(rapid.Float64Range(low, high).Draw(t, "c"))
}

func drawGains(t *rapid.T) Gains {
	return Gains{Kp: rapid.Float64Range(1e-6, 10).Draw(t, "kp"), Ti: span(t, minTime, maxTime),
		Td: span(t, 0, maxTime), Weight: rapid.Float64Range(0, 1).Draw(t, "weight")}
}

func drawModel(t *rapid.T) Model {
	long := span(t, minTime, maxTime)
	m := Model{Rise: temp.Delta(celsius(t, 1, 5000)), TimeConstant: long,
		Second: span(t, 0, long), DeadTime: span(t, 0, maxTime)}
	if rapid.Bool().Draw(t, "slope only") {
		m.Rise, m.TimeConstant = 0, 0
		m.Slope = rapid.Float64Range(1e-6, maxSlope).Draw(t, "slope")
	}
	if rapid.Bool().Draw(t, "held") {
		m.Hold = rapid.Float64Range(1e-3, 1).Draw(t, "hold")
		m.HoldAt = temp.C(celsius(t, 0, 1000))
		m.Noise = temp.Delta(rapid.Float64Range(0, 20).Draw(t, "noise"))
	}
	return m
}

func drawCorrection(t *rapid.T) Correction {
	var c Correction
	if rapid.Bool().Draw(t, "points") {
		c = drawPoints(t)
	} else {
		c.Offset = temp.Delta(rapid.Float64Range(-25, 25).Draw(t, "offset"))
	}
	c.Date = date(t)
	c.Source = "s" + words(t)
	return c
}

func drawShop(t *rapid.T) *Shop {
	s := &Shop{Name: words(t), Unit: temp.Unit(rapid.IntRange(0, 1).Draw(t, "unit"))}
	used := map[string]bool{}
	s.Boards = []Board{
		{Name: name(t, used), Kind: Strawline, Baud: 38400, Port: "/dev/" + words(t)},
		{Name: name(t, used), Kind: Lines, Baud: rapid.SampledFrom(bauds()).Draw(t, "baud"),
			Port: "l" + words(t), Note: words(t), Lines: LinesHints{
				Decimal: rapid.SampledFrom([]string{"", ".", ","}).Draw(t, "decimal"),
				Columns: []Column{{Number: 3}, {Label: "x" + words(t)}},
				Chip:    rapid.SampledFrom(append(chips(), "")).Draw(t, "chip")}},
		{Name: name(t, used), Kind: Modbus, Baud: 9600, Port: "m", Parity: "odd",
			Channels: []Channel{{Number: 5, Address: 1, Function: 3, Type: "int32",
				WordOrder: "BADC", Scale: rapid.Float64Range(1e-6, 1e6).Draw(t, "scale"),
				Low: celsius(t, -270, 0), High: celsius(t, 1, 1820)}}},
	}
	for i := range rapid.IntRange(1, 8).Draw(t, "probes") {
		p := Probe{Name: name(t, used), Board: s.Boards[0].Name, Channel: i + 1,
			Use:  Use(rapid.SampledFrom(uses()).Draw(t, "use")),
			Type: rapid.SampledFrom(types()).Draw(t, "type"), Note: words(t)}
		if rapid.Bool().Draw(t, "more") {
			c := drawCorrection(t)
			p.Correction, p.Fitted, p.Class = &c, date(t), Special
		}
		s.Probes = append(s.Probes, p)
	}
	o := Oven{Name: name(t, used), Limit: celsius(t, 30, 1300), Board: s.Boards[0].Name,
		Heater: rapid.Bool().Draw(t, "heater"), Probes: []string{s.Probes[0].Name},
		Note: words(t)}
	if rapid.Bool().Draw(t, "figures") {
		g, m := drawGains(t), drawModel(t)
		o.Gains, o.Model = &g, &m
	}
	if o.Heater && rapid.Bool().Draw(t, "output") {
		o.Output = &Output{MainsHz: rapid.SampledFrom([]int{0, 50, 60}).Draw(t, "mains")}
		if o.Output.Contactor = rapid.Bool().Draw(t, "contactor"); o.Output.Contactor {
			o.Output.Deadband = temp.Delta(rapid.Float64Range(0.5, 50).Draw(t, "deadband"))
			o.Output.LeastOn, o.Output.LeastOff = span(t, 0, mostRest), span(t, 0, mostRest)
		} else {
			o.Output.Window = time.Duration(rapid.IntRange(2, 60).Draw(t, "window")) * time.Second
		}
	}
	s.Ovens = []Oven{o}
	s.Forges = []Forge{{Name: name(t, used), Limit: celsius(t, 30, 1800),
		Probes: []string{s.Probes[0].Name}, Note: words(t)}}
	return s
}

// TestPasteRoundTrip: whatever a shop holds, its text says the same, figures to the last bit.
func TestPasteRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawShop(t)
		text := s.Paste()
		back, err := Parse("a", []byte(text))
		require.NoError(t, err, text)
		require.Equal(t, s, back, text)
	})
}

func drawFound(t *rapid.T) (f Found) {
	used := map[string]bool{}
	for range rapid.IntRange(0, 4).Draw(t, "entries") {
		of, day := name(t, used), date(t)
		c := drawCorrection(t)
		c.Date = day
		f.Models = Put(f.Models, Entry[Model]{of, day, "r" + words(t), drawModel(t)})
		f.Gains = Put(f.Gains, Entry[FoundGains]{of, day, "r" + words(t),
			FoundGains{drawGains(t), words(t)}})
		f.Corrections = Put(f.Corrections, Entry[Correction]{of, day, words(t), c})
		f.Checks = Put(f.Checks, Entry[Check]{of, day, words(t), Check{Against: "x" + words(t),
			At: celsius(t, 0, 1300), Offset: temp.Delta(celsius(t, -200, 200)),
			Swing: temp.Delta(celsius(t, 0, 50)), Recovery: span(t, 0, time.Hour)}})
		f.Fitted = Put(f.Fitted, Entry[Fitted]{of, day, words(t), Fitted{}})
	}
	return f
}

// TestFoundRoundTrip does so for found.toml, and the same findings give the same bytes.
func TestFoundRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawFound(t)
		text, err := f.Bytes()
		require.NoError(t, err)
		back, err := ParseFound("a", text)
		require.NoError(t, err)
		require.Equal(t, f, back)
		again, err := back.Bytes()
		require.NoError(t, err)
		require.Equal(t, string(text), string(again))
	})
}

func addFiles(f *testing.F, folders ...string) {
	for _, folder := range folders {
		files, err := filepath.Glob(filepath.Join(shelf, folder, "*.toml"))
		require.NoError(f, err)
		require.NotEmpty(f, files)
		for _, file := range files {
			data, err := os.ReadFile(file)
			require.NoError(f, err)
			f.Add(data)
		}
	}
}

// inside asserts a problem in one printable line with a place inside the document.
func inside(t *testing.T, err error, data []byte) {
	var p *Problem
	require.ErrorAs(t, err, &p)
	require.NotEmpty(t, p.Text)
	lines := strings.Split(strings.TrimPrefix(string(data), "\xef\xbb\xbf"), "\n")
	require.True(t, p.Line >= 1 && p.Line <= len(lines), "%v", p)
	require.True(t, p.Column >= 1 && p.Column <= len(lines[p.Line-1])+1, "%v", p)
	require.True(t, printable(err.Error()), "%q", err.Error())
}

// FuzzParse: whatever the bytes, no panic; a problem with its place, or a shop that comes back
// from its own text.
func FuzzParse(f *testing.F) {
	addFiles(f, "good", "bad")
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Parse("fuzz.toml", data)
		if err != nil {
			require.Nil(t, s)
			inside(t, err, data)
			return
		}
		text := s.Paste()
		back, err := Parse("again.toml", []byte(text))
		require.NoError(t, err, text)
		require.Equal(t, s, back)
		for _, p := range s.Probes {
			require.NotNil(t, s.Board(p.Board))
			if p.Correction != nil {
				require.NoError(t, p.Correction.Check())
			}
		}
		for _, o := range s.Ovens {
			require.NotEmpty(t, o.Probes)
			require.True(t, o.Limit >= LowestLimit && o.Limit <= HighestOven)
			require.True(t, !o.Heater || s.Board(o.Board).Kind == Strawline)
		}
	})
}

// FuzzParseFound does so for found.toml.
func FuzzParseFound(f *testing.F) {
	addFiles(f, "good-found", "bad-found")
	f.Fuzz(func(t *testing.T, data []byte) {
		found, err := ParseFound("fuzz.toml", data)
		if err != nil {
			require.Equal(t, Found{}, found)
			inside(t, err, data)
			return
		}
		text, err := found.Bytes()
		require.NoError(t, err)
		back, err := ParseFound("again.toml", text)
		require.NoError(t, err)
		require.Equal(t, found, back)
	})
}
