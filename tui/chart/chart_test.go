package chart

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var none = math.NaN()

// drawn tells whether the dot of a value at a time is set in rows that Draw gave, by taking
// the braille characters apart.
func drawn(rows [][]Cell, v view, x, y float64) bool {
	dx, dy := v.col(x), v.row(y)
	r := rows[dy/4][v.left+dx/2].Rune
	return r >= 0x2800 && r < 0x2900 && r&bits[dy%4][dx%2] != 0
}

func runes(rows [][]Cell) (out []string) {
	for _, row := range rows {
		var s []rune
		for _, c := range row {
			s = append(s, c.Rune)
		}
		out = append(out, string(s))
	}
	return out
}

// TestNoValueIsLost: the least and the greatest value of every Bar is drawn, however many
// share a column, and every row has the width asked for.
func TestNoValueIsLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Plot{W: rapid.IntRange(12, 150).Draw(t, "w"), H: rapid.IntRange(3, 40).Draw(t, "h"),
			Gap: 30, Limit: none, Clock: clock, Value: value}
		n := rapid.IntRange(1, 300).Draw(t, "n")
		start := rapid.Float64Range(0, 1e6).Draw(t, "start")
		step := rapid.Float64Range(0.25, 60).Draw(t, "step")
		for i := range n {
			y := rapid.Float64Range(-50, 1400).Draw(t, "y")
			d := rapid.Float64Range(0, 200).Draw(t, "d")
			p.Trace = append(p.Trace, Bar{start + float64(i)*step, y, y + d})
		}
		p.X0, p.X1 = start, start+float64(n)*step
		p.Now = p.X1
		rows := Draw(p)
		require.Len(t, rows, p.H)
		for _, row := range rows {
			require.Len(t, row, p.W)
		}
		v := p.view()
		for _, b := range p.Trace {
			require.True(t, drawn(rows, v, b.X, b.Min), "%v", b)
			require.True(t, drawn(rows, v, b.X, b.Max), "%v", b)
		}
	})
}

func clock(x float64) string {
	return time.Unix(int64(x), 0).UTC().Format("15:04")
}

func value(y float64) string { return fmt.Sprintf("%.0f", y) }

// TestSpikeOfOneSample: one sample of 50,000 that is 60 higher stands on a chart of 57 cells.
func TestSpikeOfOneSample(t *testing.T) {
	p := Plot{W: 63, H: 20, X1: 12500, Limit: none, Gap: 2}
	for i := range 50000 {
		p.Trace = append(p.Trace, Bar{float64(i) / 4, 200, 200})
	}
	p.Trace[31415] = Bar{31415.0 / 4, 260, 260}
	assert.True(t, drawn(Draw(p), p.view(), 31415.0/4, 260))
}

func TestGapStaysAGap(t *testing.T) {
	base := Plot{W: 66, H: 10, X1: 1000, Limit: none, Gap: 25}
	for name, bars := range map[string][]Bar{
		"absent":   {{0, 100, 100}, {300, 150, 150}, {700, 120, 120}, {710, 130, 130}},
		"a number": {{0, 100, 100}, {10, none, none}, {20, 150, 150}, {710, 120, 120}},
	} {
		p := base
		p.Trace = bars
		rows, v := Draw(p), p.view()
		var have []int
		for _, b := range bars {
			if !math.IsNaN(b.Min) {
				have = append(have, v.col(b.X))
			}
		}
		for x := range 2 * v.cols {
			blank := true
			for y := range 4 * v.rows {
				r := rows[y/4][v.left+x/2].Rune
				blank = blank && (r == ' ' || r&bits[y%4][x%2] == 0)
			}
			want := true
			for _, h := range have {
				want = want && x != h
			}
			assert.Equal(t, want, blank, "%s: column %d", name, x)
		}
	}
}

// TestJoins: between two values that are not further apart than Gap no column stays empty.
func TestJoins(t *testing.T) {
	p := Plot{W: 66, H: 10, X1: 1000, Limit: none, Gap: 500,
		Trace: []Bar{{0, 100, 100}, {480, 150, 150}}}
	rows, v := Draw(p), p.view()
	for x := 0; x <= v.col(480)/2; x++ {
		lit := false
		for y := range v.rows {
			lit = lit || rows[y][v.left+x].Kind == Trace
		}
		assert.True(t, lit, "column %d", x)
	}
}

// TestStandsStill: a later look at the same past has the same cells, as long as the columns
// keep their width and the axis its range.
func TestStandsStill(t *testing.T) {
	p := Plot{W: 66, H: 12, X0: 86413, Gap: 30, Limit: 260}
	for i := range 40 {
		y := 150 + 50*math.Sin(float64(i)/5)
		p.Trace = append(p.Trace, Bar{86413 + 10*float64(i), y, y + 3})
	}
	p.X1 = 86413 + 900
	before := Draw(p)
	for i := 40; i < 60; i++ {
		p.Trace = append(p.Trace, Bar{86413 + 10*float64(i), 150, 155})
	}
	p.X1 += 150
	after := Draw(p)
	v := p.view()
	for y := range v.rows {
		for x := range v.left + v.col(86413+380)/2 {
			require.Equal(t, before[y][x], after[y][x])
		}
	}
}

func TestSetpointIsHeldInSteps(t *testing.T) {
	p := Plot{W: 66, H: 12, X1: 1000, Now: 1000, Limit: none, MinRange: 100,
		Set: []Point{{0, 100}, {500, 200}, {800, none}}}
	rows, v := Draw(p), p.view()
	lit := func(x, y float64) bool {
		return drawn(rows, v, x, y) || drawn(rows, v, x+v.dt, y)
	}
	assert.True(t, lit(450, 100), "held up to the change")
	assert.False(t, lit(250, 150), "never a slope between two setpoints")
	assert.True(t, lit(700, 200))
	assert.False(t, lit(900, 200), "ended")
}

func TestOverTheLimit(t *testing.T) {
	p := Plot{W: 66, H: 12, X1: 1000, Limit: 250, Gap: 30,
		Trace: []Bar{{0, 100, 100}, {500, 260, 260}}}
	rows, v := Draw(p), p.view()
	assert.Equal(t, Over, rows[v.row(260)/4][v.left+v.col(500)/2].Kind)
	assert.Equal(t, Trace, rows[v.row(100)/4][v.left].Kind)
	dashes := 0
	for x := range 2 * v.cols {
		if drawn(rows, v, float64(x)*v.dt, 250) {
			dashes++
		}
	}
	assert.InDelta(t, float64(2*v.cols)*dashDrawn/dash, dashes, 5, "dashed, not solid")
}

func TestLabelsAreRound(t *testing.T) {
	p := Plot{W: 80, H: 14, X0: 52200, X1: 52200 + 5*3600, Limit: 500, Gap: 30, Now: 60000,
		Trace: []Bar{{52200, 72, 72}, {60000, 400, 400}}, Clock: clock, Value: value}
	text := runes(Draw(p))
	assert.Contains(t, text[13], "15:00")
	assert.Contains(t, text[13], "19:00")
	assert.Contains(t, text[12], "▲")
	assert.Contains(t, fmt.Sprint(text), "  400┤")
	assert.Contains(t, fmt.Sprint(text), "  200┤")
}

func TestTooSmallOrEmpty(t *testing.T) {
	assert.Nil(t, Draw(Plot{W: 11, H: 10}))
	assert.Nil(t, Draw(Plot{W: 20, H: 10, X0: none}))
	assert.Len(t, Draw(Plot{W: 20, H: 3, Limit: none}), 3)
}

func BenchmarkDraw(b *testing.B) {
	p := Plot{W: 120, H: 24, X1: 18000, Limit: 500, Gap: 30, Clock: clock, Value: value,
		Bands: []Range{{3000, 10200, 390, 410}}, Plan: []Point{{9000, 400}, {18000, 70}}}
	for i := range 4320 {
		p.Trace = append(p.Trace, Bar{float64(i) * 2.5, 390 + float64(i%7), 398 + float64(i%5)})
	}
	b.ReportAllocs()
	for b.Loop() {
		Draw(p)
	}
}
