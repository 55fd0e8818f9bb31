// Package chart draws a series against time into braille cells: the measured line solid, the
// setpoint and the plan dotted, the band shaded, the limit dashed. It keeps the least and the
// greatest value of every column, so that a spike of one sample is always drawn, and it leaves
// a gap where there was no value. Columns stand at whole multiples of their width in absolute
// time, so that a line does not change its shape as time goes on. It knows no units: values
// and labels come as the reader wants them.
package chart

import "math"

// Kind says what a cell shows, the strongest last.
type Kind uint8

// The kinds.
const (
	Ground Kind = iota
	Axis        // axis, ticks and labels
	Now         // the mark of the present on the time axis
	Band        // between the band's edges
	Set         // setpoint, as steps
	Plan        // plan ahead
	Limit       // over-temperature limit
	Trace       // measured
	Over        // measured, at or above the limit
)

// Cell is one character and what it shows.
type Cell struct {
	Rune rune
	Kind Kind
}

// Bar is the least and the greatest value of a short time that begins at X seconds. A Bar
// whose Min is not a number is a gap.
type Bar struct{ X, Min, Max float64 }

// Point is a value at X seconds. As a setpoint it holds until the next one, and one that is
// not a number ends it.
type Point struct{ X, Y float64 }

// Range is a band: between Lo and Hi from X0 to X1 seconds.
type Range struct{ X0, X1, Lo, Hi float64 }

// Plot is one chart to draw. Times are seconds on any clock whose zero is round for the
// reader, such as local midnight.
type Plot struct {
	W, H   int     // cells, axes and labels included
	X0, X1 float64 // the least and the greatest time that must be on it
	Now    float64 // where the mark of the present stands

	Trace    []Bar   // by rising X
	Gap      float64 // seconds between two Bars above which no line joins them
	Set      []Point // by rising X
	Plan     []Point // corners, by rising X
	Bands    []Range
	Limit    float64 // not drawn if it is not a number
	MinRange float64 // least height of the value axis

	Clock func(x float64) string // the label of a time; nil for none
	Value func(y float64) string // the label of a value; nil for none
}

// view is the scale of a plot.
type view struct {
	cols, rows  int     // of the drawing itself
	left        int     // cells of the value labels and the axis
	dt          float64 // seconds of one column of dots
	c0          int     // number of the first column of dots, counted from time 0
	y0, y1, tic float64
}

// widths are the seconds that one column of dots may stand for.
var widths = [...]float64{0.25, 0.5, 1, 2, 5, 10, 15, 20, 30, 60, 90, 120, 180, 240, 300, 600,
	900, 1200, 1800, 3600, 7200, 14400}

// ColumnWidth gives the seconds of one column of dots when a drawing of so many cells must
// show the given seconds.
func ColumnWidth(cells int, seconds float64) float64 {
	for _, w := range widths {
		if seconds/w <= float64(2*cells-2) {
			return w
		}
	}
	return widths[len(widths)-1] * math.Ceil(seconds/(widths[len(widths)-1]*float64(2*cells)))
}

const labelCells = 6 // five for the figure, one for the axis

// Cells gives the width of the drawing itself in a chart of w cells.
func Cells(w int) int { return max(1, w-labelCells) }

// Draw gives the rows of the chart, H of W cells each; nil if it is too small for one (less
// than 12 by 3).
func Draw(p Plot) [][]Cell {
	if p.W < 12 || p.H < 3 || !(p.X1 >= p.X0) {
		return nil
	}
	v := p.view()
	c := newCanvas(v.cols, v.rows)
	p.bands(c, v)
	p.set(c, v)
	p.plan(c, v)
	p.limit(c, v)
	p.trace(c, v)
	return p.frame(c, v)
}

func (p Plot) view() view {
	v := view{left: labelCells, cols: Cells(p.W), rows: p.H - 1}
	if p.H >= 6 {
		v.rows = p.H - 2 // room for the axis itself
	}
	v.dt = ColumnWidth(v.cols, p.X1-p.X0)
	v.c0 = int(math.Floor(p.X0 / v.dt))
	lo, hi := p.extent()
	v.y0, v.y1, v.tic = scale(lo, hi, v.rows)
	return v
}

// extent is the least and the greatest value on the plot.
func (p Plot) extent() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	take := func(ys ...float64) {
		for _, y := range ys {
			if !math.IsNaN(y) && !math.IsInf(y, 0) {
				lo, hi = min(lo, y), max(hi, y)
			}
		}
	}
	for _, b := range p.Trace {
		take(b.Min, b.Max)
	}
	for _, q := range p.Set {
		take(q.Y)
	}
	for _, q := range p.Plan {
		take(q.Y)
	}
	for _, r := range p.Bands {
		take(r.Lo, r.Hi)
	}
	take(p.Limit)
	if lo > hi {
		lo, hi = 0, 1
	}
	if grow := p.MinRange - (hi - lo); grow > 0 {
		lo, hi = lo-grow/2, hi+grow/2
	}
	return lo, hi
}

// scale rounds the value axis outwards to whole steps of 1, 2 or 5 times a power of ten.
func scale(lo, hi float64, rows int) (y0, y1, step float64) {
	if hi <= lo {
		lo, hi = lo-0.5, hi+0.5
	}
	most := max(1, float64(rows)/2) // labels at least two rows apart
	step = math.Pow(10, math.Floor(math.Log10((hi-lo)/most)))
	for _, m := range []float64{1, 2, 5, 10} {
		if s := step * m; (hi-lo)/s <= most || m == 10 {
			step = s
			break
		}
	}
	fine := step / 4 // no need for a whole empty step at either end
	return math.Floor(lo/fine) * fine, math.Ceil(hi/fine) * fine, step
}

func (v view) col(x float64) int { return int(math.Floor(x/v.dt)) - v.c0 }

// row gives the dot row of a value; row 0 is the top.
func (v view) row(y float64) int {
	n := 4*v.rows - 1
	return int(math.Round((v.y1 - y) / (v.y1 - v.y0) * float64(n)))
}
