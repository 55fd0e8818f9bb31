package lines_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/lines"
	"strawline/probe/temp"
)

// BenchmarkReader reads learnt lines, each shape of the property test in turn.
func BenchmarkReader(b *testing.B) {
	for _, s := range sketches(b) {
		b.Run(s.name, func(b *testing.B) {
			var p []byte
			count := 0
			for n := range 1000 {
				text := s.print(n, 181.25+float64(n%4)/4, 24.0625)
				p = append(p, text...)
			}
			for _, c := range p {
				if c == '\n' {
					count++
				}
			}
			r := lines.New(s.hint)
			given := 0
			see := func(it lines.Item) {
				if it.Kind == lines.Value || it.Kind == lines.Raw {
					given++
				}
			}
			r.Feed(0, []byte("x\r\n"+s.banner), see)
			r.Feed(0, p, see)
			given = 0
			b.ReportAllocs()
			for b.Loop() {
				r.Feed(time.Second, p, see)
			}
			require.Greater(b, given, 400*b.N)
			b.ReportMetric(float64(count)*float64(b.N)/b.Elapsed().Seconds(), "lines/s")
		})
	}
}

// A learnt line costs no memory, so a busy port leaves nothing to collect.
func TestLearntLineAllocatesNothing(t *testing.T) {
	for _, s := range sketches(t) {
		r := lines.New(s.hint)
		ignore := func(lines.Item) {}
		r.Feed(0, []byte("x\r\n"+s.banner), ignore)
		n := 0
		var p []byte
		for range 60 {
			n++
			r.Feed(0, []byte(s.print(n, 181.25, 24.0625)), ignore)
		}
		_, _, known := r.Understood()
		require.True(t, known, s.name)
		p = []byte(s.print(n+1, 181.5, 24.0625))
		require.Zero(t, testing.AllocsPerRun(100, func() { r.Feed(time.Second, p, ignore) }), s.name)
	}
}

func BenchmarkLearning(b *testing.B) {
	line := []byte("181.25,24.06\r\n") // asks for ever
	r := lines.New(lines.Hint{Unit: pointer(temp.Celsius)})
	b.ReportAllocs()
	for b.Loop() {
		r.Feed(0, line, func(it lines.Item) { b.Fatal(fmt.Sprint(it)) })
	}
}
