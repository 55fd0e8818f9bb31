package chart

import "math"

// canvas is a grid of dots, two to a cell across and four down. A dot has the kind that drew
// it last; a cell shows only the dots that belong to its strongest kinds.
type canvas struct {
	w, h int // dots
	dot  []Kind
}

func newCanvas(cols, rows int) *canvas {
	c := &canvas{w: 2 * cols, h: 4 * rows}
	c.dot = make([]Kind, c.w*c.h)
	return c
}

func (c *canvas) set(x, y int, k Kind) {
	if x < 0 || y < 0 || x >= c.w || y >= c.h {
		return
	}
	if d := &c.dot[y*c.w+x]; k > *d {
		*d = k
	}
}

func (c *canvas) at(x, y int) Kind { return c.dot[y*c.w+x] }

// column draws the dots of one column from y0 to y1, both included, in either order.
func (c *canvas) column(x, y0, y1 int, k Kind) {
	for y := min(y0, y1); y <= max(y0, y1); y++ {
		c.set(x, y, k)
	}
}

// line joins two dots; every is how many columns there are from one drawn dot to the next, 1
// for a solid line. The columns counted are those of the canvas, so that the pattern keeps
// its place when the line begins elsewhere.
func (c *canvas) line(x0, y0, x1, y1, every, shift int, k Kind) {
	n := max(abs(x1-x0), abs(y1-y0))
	for i := range n + 1 {
		f := 0.0
		if n > 0 {
			f = float64(i) / float64(n)
		}
		x := x0 + int(math.Round(f*float64(x1-x0)))
		y := y0 + int(math.Round(f*float64(y1-y0)))
		phase := x + shift
		if x0 == x1 || abs(y1-y0) > abs(x1-x0) {
			phase = y // a steep line is dotted by its rows
		}
		if mod(phase, every) == 0 {
			c.set(x, y, k)
		}
	}
}

// braille bits of the dots of a cell, row by row; Unicode 15, chapter 21.1.
var bits = [4][2]rune{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}

// cell gives what stands in one cell. Where the measured line runs the band gives way to it,
// or the line would drown in the shading.
func (c *canvas) cell(col, row int) Cell {
	strongest, band := Ground, false
	for dy := range 4 {
		for dx := range 2 {
			k := c.at(2*col+dx, 4*row+dy)
			strongest, band = max(strongest, k), band || k == Band
		}
	}
	if strongest == Ground {
		return Cell{Rune: ' '}
	}
	r := rune(0x2800)
	for dy := range 4 {
		for dx := range 2 {
			k := c.at(2*col+dx, 4*row+dy)
			if k != Ground && (k != Band || strongest < Trace) {
				r |= bits[dy][dx]
			}
		}
	}
	if band && strongest <= Plan { // the plan in its band is part of the shading
		strongest = Band
	}
	return Cell{Rune: r, Kind: strongest}
}

func abs(i int) int { return max(i, -i) }

func mod(a, b int) int { return ((a % b) + b) % b }
