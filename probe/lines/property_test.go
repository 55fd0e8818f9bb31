package lines_test

import (
	"bytes"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/lines"
	"strawline/probe/temp"
)

// sketch prints readings of one shape. Its hot and cold are in quarters and sixteenths of a
// degree, n counts the readings.
type sketch struct {
	name     string
	hint     lines.Hint
	banner   string
	print    func(n int, hot, cold float64) string
	raw      bool
	whole    bool // prints whole degrees
	restarts bool // the only trouble
}

func rawWord(hot, cold float64) uint32 {
	return uint32(int32(hot*4))<<18 | uint32(int32(cold*16))<<4&0xFFF0
}

func sketches(t testing.TB) []sketch {
	c := lines.Hint{Unit: pointer(temp.Celsius)}
	return []sketch{
		{name: "bare", hint: c, banner: "demo v2\r\n", print: func(_ int, h, _ float64) string {
			return fmt.Sprintf("%.2f\r\n", h)
		}},
		{name: "whole", hint: c, whole: true, print: func(_ int, h, _ float64) string {
			return fmt.Sprintf("%.0f\r\n", h)
		}},
		{name: "C and F", banner: "demo\r\nreading\r\n", print: func(_ int, h, _ float64) string {
			return fmt.Sprintf("C = %.2f\r\nF = %.2f\r\n", h, h*1.8+32)
		}},
		{name: "cold, then hot", print: func(_ int, h, c float64) string {
			return fmt.Sprintf("Internal Temp = %.2f\r\nC = %.2f\r\n", c, h)
		}},
		{name: "CSV", hint: lines.Hint{Unit: c.Unit, Columns: columns(t, "count", "hot", "cold")},
			print: func(n int, h, c float64) string {
				return fmt.Sprintf("%d,%.2f,%.4f\r\n", 4000+250*n, h, c)
			}},
		{name: "header", banner: "ms,oven_C,cj_C\n", print: func(n int, h, c float64) string {
			return fmt.Sprintf("%d,%.2f,%.2f\n", 250*n, h, c)
		}},
		{name: "plotter", hint: c, print: func(_ int, h, _ float64) string {
			return fmt.Sprintf("oven:%.2f,set:200.00\r\n", h)
		}},
		{name: "braces", hint: c, banner: "ets Jun  8 2016\r\nrst:0x1 (POWERON),boot:0x13\r\n",
			print: func(n int, h, c float64) string {
				return fmt.Sprintf("{\"t\":%d,\"oven\":%.2f,\"cj\":%.4f}\n", 5000+n*250, h, c)
			}},
		// A sketch that leaves out zeros has no number of decimals to keep to, so a digit lost or
		// added behind the mark passes; against restarts it is as safe as the others.
		{name: "left-out zeros", hint: c, restarts: true, print: func(n int, h, c float64) string {
			return fmt.Sprintf("{\"t\":%d,\"oven\":%g,\"cj\":%g}\n", 5000+n*250, h, c)
		}},
		{name: "three units", print: func(_ int, h, _ float64) string {
			return fmt.Sprintf("%.2f C %.2f K %.2f F\r\n", h, h+273.15, h*1.8+32)
		}},
		{name: "turns", print: func(_ int, h, _ float64) string {
			return fmt.Sprintf("%.2f\r\n%.2f\r\n", h, h*1.8+32)
		}},
		{name: "colour", print: func(n int, h, _ float64) string {
			return fmt.Sprintf("\x1b[0;32mI (%d) main: oven %.2f C\x1b[0m\r\n", 300+n*250, h)
		}},
		{name: "decimal comma", hint: lines.Hint{Unit: c.Unit, DecimalComma: pointer(true)},
			print: func(_ int, h, _ float64) string {
				return strings.Replace(fmt.Sprintf("%.2f\r\n", h), ".", ",", 1)
			}},
		{name: "raw", raw: true, print: func(_ int, h, c float64) string {
			return fmt.Sprintf("0x%08X\r\n", rawWord(h, c))
		}},
		{name: "raw without zeros", raw: true, banner: "words\r\n", hint: lines.Hint{Chip: "MAX31855K"},
			print: func(_ int, h, c float64) string { return fmt.Sprintf("%X\r\n", rawWord(h, c)) }},
	}
}

// world is a stream and what was printed in it.
type world struct {
	bytes   []byte
	hot     map[float64]bool
	cold    map[float64]bool
	raw     map[uint32]bool
	printed int
}

// drawWorld lets a sketch print while the heat wanders. Between stretches of three whole
// readings or more, something happens to one: the board starts again in the middle of it, or
// bytes come in, or bytes of one line are lost.
func drawWorld(t *rapid.T, s sketch) world {
	w := world{hot: map[float64]bool{}, cold: map[float64]bool{}, raw: map[uint32]bool{}}
	hot := float64(rapid.IntRange(5*4, 1100*4).Draw(t, "hot")) / 4
	if s.whole {
		hot = float64(int(hot))
	}
	cold := float64(rapid.IntRange(5*16, 40*16).Draw(t, "cold")) / 16
	n := 0
	w.bytes = append(w.bytes, s.banner...)
	next := func() string {
		step := float64(rapid.IntRange(-4, 4).Draw(t, "step")) / 4
		if s.whole {
			step = math.Trunc(step)
		}
		hot += step
		hot = max(hot, 5)
		cold = max(cold+float64(rapid.IntRange(-1, 1).Draw(t, "cold step"))/16, 5)
		n++
		w.hot[hot], w.cold[cold], w.raw[rawWord(hot, cold)] = true, true, true
		shown, _ := strconv.ParseFloat(fmt.Sprintf("%.2f", cold), 64)
		w.cold[shown] = true
		w.printed++
		return s.print(n, hot, cold)
	}
	for range rapid.IntRange(1, 6).Draw(t, "stretches") {
		for range rapid.IntRange(3, 9).Draw(t, "whole readings") {
			w.bytes = append(w.bytes, next()...)
		}
		text := next()
		at := rapid.IntRange(0, len(text)).Draw(t, "at")
		what := "restart"
		if !s.restarts {
			what = rapid.SampledFrom([]string{"restart", "noise", "loss"}).Draw(t, "what")
		}
		switch what {
		case "restart":
			w.bytes = append(w.bytes, text[:at]+s.banner...)
			n = 0
		case "noise":
			noise := rapid.SliceOfN(rapid.Byte(), 1, 12).Draw(t, "noise")
			if rapid.Bool().Draw(t, "of such letters") {
				noise = []byte(rapid.StringOfN(rapid.SampledFrom([]rune("0123456789.,-+ \r\nCFxaE:={}#")),
					1, 6, -1).Draw(t, "noise of such letters"))
			}
			// Digits and a line end in one noise would make it a line that was printed.
			if bytes.ContainsAny(noise, "\r\n") {
				noise = bytes.Map(func(r rune) rune {
					if r >= '0' && r <= '9' || r >= 'A' && r <= 'F' || r >= 'a' && r <= 'f' {
						return '.'
					}
					return r
				}, noise)
			}
			w.bytes = append(w.bytes, text[:at]+string(noise)+text[at:]...)
		case "loss":
			end := at + strings.IndexAny(text[at:]+"\n", "\r\n")
			to := min(at+rapid.IntRange(1, 6).Draw(t, "lost"), end)
			w.bytes = append(w.bytes, text[:at]+text[max(to, at):]...)
		}
	}
	for range 3 {
		w.bytes = append(w.bytes, next()...)
	}
	return w
}

// collect feeds bytes in the given pieces and copies the items.
func collect(r *lines.Reader, p []byte, cut func(left int) int) []lines.Item {
	var out []lines.Item
	for len(p) > 0 {
		n := cut(len(p))
		r.Feed(time.Second, p[:n], func(it lines.Item) {
			it.Text = slices.Clone(it.Text)
			out = append(out, it)
		})
		p = p[n:]
	}
	return out
}

func whole(left int) int { return left }

// Nothing is ever given that was not printed, and how the bytes are split changes nothing.
func TestNothingIsInvented(t *testing.T) {
	for _, s := range sketches(t) {
		t.Run(s.name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				w := drawWorld(t, s)
				items := collect(lines.New(s.hint), w.bytes, whole)
				for _, it := range items {
					switch it.Kind {
					case lines.Value:
						c := float64(it.Hot)
						require.False(t, s.raw)
						require.True(t, has(w.hot, c), "%v of %q", c, w.bytes)
						require.Equal(t, 1, it.Channel, "%q", w.bytes)
						if it.HasCold {
							require.True(t, has(w.cold, float64(it.Cold)), "%v of %q", it.Cold, w.bytes)
						}
					case lines.Raw:
						require.True(t, s.raw)
						require.True(t, w.raw[it.Raw], "%X of %q", it.Raw, w.bytes)
					}
				}
				split := collect(lines.New(s.hint), w.bytes, func(left int) int {
					return min(left, rapid.IntRange(1, 9).Draw(t, "piece"))
				})
				require.Equal(t, items, split)
			})
		})
	}
}

// has tells whether v is in the set but for the rounding of a float.
func has(set map[float64]bool, v float64) bool {
	if set[v] {
		return true
	}
	for k := range maps.Keys(set) {
		if k-v < 1e-9 && v-k < 1e-9 {
			return true
		}
	}
	return false
}

// Without trouble every reading behind the learnt ones is given, also on a steep ramp.
func TestNothingIsLost(t *testing.T) {
	for _, s := range sketches(t) {
		for _, ramp := range []float64{0, 0.25, 4, 10} {
			if s.raw && ramp > 4 {
				continue // words show no slope; a jump of theirs has to last
			}
			r := lines.New(s.hint)
			p := []byte("x\r\n" + s.banner)
			for n := range 100 {
				hot := 21 + ramp*float64(n)
				if s.whole {
					hot = float64(int(hot))
				}
				p = append(p, s.print(n, hot, 22)...)
			}
			given := 0
			for _, it := range collect(r, p, whole) {
				if it.Kind == lines.Value || it.Kind == lines.Raw {
					given++
				}
			}
			limit := 94 // three lines to learn, more for turns, a count or left-out zeros
			if s.name == "left-out zeros" && ramp > 0 || s.name == "raw without zeros" {
				limit = 60
			}
			if s.name == "turns" {
				limit = 90
			}
			require.GreaterOrEqual(t, given, limit, "%s, %g a reading", s.name, ramp)
		}
	}
}
