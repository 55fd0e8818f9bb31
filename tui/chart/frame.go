package chart

import "math"

// seconds that two labels of the time axis may be apart.
var ticks = [...]float64{10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 14400, 21600,
	43200, 86400}

// frame puts the axes and their labels round the drawing.
func (p Plot) frame(c *canvas, v view) [][]Cell {
	rows := make([][]Cell, p.H)
	cells := make([]Cell, p.W*p.H)
	for i := range cells {
		cells[i].Rune = ' '
	}
	for y := range rows {
		rows[y], cells = cells[:p.W:p.W], cells[p.W:]
	}
	for y := range v.rows {
		rows[y][v.left-1] = Cell{'│', Axis}
		for x := range v.cols {
			rows[y][v.left+x] = c.cell(x, y)
		}
	}
	p.values(rows, v)
	p.clock(rows, v)
	return rows
}

func (p Plot) values(rows [][]Cell, v view) {
	if p.Value == nil {
		return
	}
	used := -1
	for y := math.Floor(v.y1/v.tic) * v.tic; y >= v.y0-v.tic/1000; y -= v.tic {
		row := v.row(y) / 4
		if row == used || row >= v.rows {
			continue
		}
		used = row
		write(rows[row], v.left-1, []rune(p.Value(y)), true)
		rows[row][v.left-1] = Cell{'┤', Axis}
	}
}

// clock draws the time axis: the labels, and above them the axis if there is room.
func (p Plot) clock(rows [][]Cell, v view) {
	labels := rows[p.H-1]
	var axis []Cell
	if v.rows < p.H-1 {
		axis = rows[p.H-2]
		axis[v.left-1] = Cell{'└', Axis}
		for x := range v.cols {
			axis[v.left+x] = Cell{'─', Axis}
		}
	}
	if p.Clock != nil {
		step := ticks[len(ticks)-1]
		for _, t := range ticks {
			if t/v.dt >= 2*10 { // labels at least ten cells apart
				step = t
				break
			}
		}
		first := math.Ceil(float64(v.c0)*v.dt/step) * step
		for x := first; v.col(x)/2 < v.cols; x += step {
			col := v.left + v.col(x)/2
			text := []rune(p.Clock(x))
			if start := col - len(text)/2; start >= 0 && start+len(text) <= len(labels) {
				write(labels, start, text, false)
			}
			if axis != nil {
				axis[col] = Cell{'┬', Axis}
			}
		}
	}
	now := v.col(p.Now) / 2
	if axis != nil && now >= 0 && now < v.cols {
		axis[v.left+now] = Cell{'▲', Now}
	}
}

// write puts text into a row from x on, or so that it ends before x.
func write(row []Cell, x int, text []rune, right bool) {
	if right {
		x -= len(text)
	}
	for i, r := range text {
		if x+i >= 0 && x+i < len(row) {
			row[x+i] = Cell{r, Axis}
		}
	}
}
