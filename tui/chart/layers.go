package chart

import "math"

// bands shades every second dot between the edges, at least one row of them.
func (p Plot) bands(c *canvas, v view) {
	for _, r := range p.Bands {
		top, bottom := v.row(r.Hi), v.row(r.Lo)
		for x := max(0, v.col(r.X0)); x <= min(c.w-1, v.col(r.X1)); x++ {
			for y := top; y <= bottom; y++ {
				if mod(x+v.c0+y, 2) == 0 {
					c.set(x, y, Band)
				}
			}
		}
	}
}

// dots between two drawn ones of the setpoint and the plan, and of a dash and its space.
const (
	setEvery  = 2
	planEvery = 3
	dash      = 6
	dashDrawn = 4
)

func (p Plot) set(c *canvas, v view) {
	for i, q := range p.Set {
		if math.IsNaN(q.Y) {
			continue
		}
		end := p.Now
		if i+1 < len(p.Set) {
			end = p.Set[i+1].X
		}
		x0, x1, y := v.col(q.X), v.col(end), v.row(q.Y)
		c.line(max(0, x0), y, min(c.w-1, x1), y, setEvery, v.c0, Set)
		if i+1 < len(p.Set) && !math.IsNaN(p.Set[i+1].Y) {
			c.line(x1, y, x1, v.row(p.Set[i+1].Y), setEvery, v.c0, Set)
		}
	}
}

func (p Plot) plan(c *canvas, v view) {
	for i := 1; i < len(p.Plan); i++ {
		a, b := p.Plan[i-1], p.Plan[i]
		c.line(v.col(a.X), v.row(a.Y), v.col(b.X), v.row(b.Y), planEvery, v.c0, Plan)
	}
}

func (p Plot) limit(c *canvas, v view) {
	if math.IsNaN(p.Limit) {
		return
	}
	y := v.row(p.Limit)
	for x := range c.w {
		if mod(x+v.c0, dash) < dashDrawn {
			c.set(x, y, Limit)
		}
	}
}

// trace draws each column from its least to its greatest value and joins it to the one
// before, unless there is a gap between them.
func (p Plot) trace(c *canvas, v view) {
	type span struct{ x, top, bottom int }
	var last span
	joined := false
	lastX := math.NaN()
	for _, b := range p.Trace {
		if math.IsNaN(b.Min) || math.IsNaN(b.Max) {
			joined = false
			continue
		}
		s := span{v.col(b.X), v.row(b.Max), v.row(b.Min)}
		kind := Trace
		if b.Max >= p.Limit { // false when there is no limit
			kind = Over
		}
		if joined && b.X-lastX <= p.Gap && s.x >= 0 {
			switch {
			case s.top > last.bottom:
				c.line(last.x, last.bottom, s.x, s.top, 1, 0, kind)
			case s.bottom < last.top:
				c.line(last.x, last.top, s.x, s.bottom, 1, 0, kind)
			case s.x > last.x+1:
				y := min(max(s.top, last.top), min(s.bottom, last.bottom))
				c.line(last.x, y, s.x, y, 1, 0, kind)
			}
		}
		c.column(s.x, s.top, s.bottom, kind)
		last, joined, lastX = s, true, b.X
	}
}
