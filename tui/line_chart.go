package tui

import (
	"fmt"
	"math"
	"time"

	"strawline/control"
	"strawline/probe/temp"
	"strawline/profiles"
	"strawline/tui/chart"
)

// trail is what the line needs of the past: ten-second spans, oldest first.
type trail []control.Past

// add folds a Snapshot into the newest span, so that the end of the line is up to date
// between two looks at the whole past.
func (tr trail) add(s control.Snapshot) trail {
	at := s.T.Truncate(control.PastSpan)
	n := len(tr)
	if n > 0 && at < tr[n-1].At {
		return tr // the past already reaches further
	}
	if n == 0 || tr[n-1].At != at {
		tr = append(tr, control.Past{At: at})
		n++
	}
	p := &tr[n-1]
	if s.HasTemp {
		if !p.Has {
			p.Min, p.Max = s.Temp, s.Temp
		}
		p.Has, p.Min, p.Max = true, min(p.Min, s.Temp), max(p.Max, s.Temp)
	}
	p.HasSet = s.HasSet
	p.Set = s.Set
	return tr
}

// plotFor turns a run into a chart of w by h cells. Times are seconds since the midnight
// before the run, values are in the person's unit.
func plotFor(s control.Snapshot, tr trail, u temp.Unit, w, h int) chart.Plot {
	start := s.Wall.Add(-s.T)
	y, m, d := start.Date()
	zero := start.Sub(time.Date(y, m, d, 0, 0, 0, 0, start.Location()))
	x := func(t time.Duration) float64 { return (zero + t).Seconds() }
	p := chart.Plot{W: w, H: h, X0: x(0), Now: x(s.T), Gap: 1.5 * control.PastSpan.Seconds(),
		Limit: math.NaN(), MinRange: 20,
		Clock: func(x float64) string {
			m := int(x/60) % (24 * 60)
			return fmt.Sprintf("%02d:%02d", m/60, m%60)
		},
		Value: func(y float64) string { return fmt.Sprintf("%.0f", y) },
	}
	if s.Info != nil && s.Info.Profile.Limit > 0 {
		p.Limit = s.Info.Profile.Limit.In(u)
	}
	p.Trace = make([]chart.Bar, 0, len(tr))
	set := math.NaN()
	for _, q := range tr {
		b := chart.Bar{X: x(q.At), Min: math.NaN(), Max: math.NaN()}
		if q.Has {
			b.Min, b.Max = q.Min.In(u), q.Max.In(u)
		}
		p.Trace = append(p.Trace, b)
		v := math.NaN()
		if q.HasSet {
			v = q.Set.In(u)
		}
		if v != set && !(math.IsNaN(v) && math.IsNaN(set)) {
			p.Set, set = append(p.Set, chart.Point{X: b.X, Y: v}), v
		}
	}
	end := max(s.T, 10*time.Minute)
	p.Plan, p.Bands = ahead(s, u, x)
	if n := len(s.Plan); n > 0 {
		end = max(end, s.Plan[n-1].At)
	}
	p.X1 = x(end)
	if s.Info != nil && s.Info.Test != nil {
		testPlot(&p, s, x)
	}
	return p
}

// What the chart of a tuning test shows: from its start while it heats up, and the last while
// close to, without the limit, once the swings matter. Our choice.
const (
	testBack  = 12 * time.Minute
	testAhead = 2 * time.Minute
	testRange = 10 // degrees that it shows at least
)

// testPlot narrows a plot to what a tuning test is about: its plan is only to stay.
func testPlot(p *chart.Plot, s control.Snapshot, x func(time.Duration) float64) {
	p.Plan, p.Bands = nil, nil
	p.X1 = x(max(s.T+testAhead, 10*time.Minute))
	if s.Test != control.TestSteady && s.Test != control.TestSwinging {
		return
	}
	p.Limit, p.MinRange = math.NaN(), testRange
	from := x(max(s.StepT, s.T-testBack))
	p.X0 = from
	for len(p.Trace) > 0 && p.Trace[0].X < from {
		p.Trace = p.Trace[1:]
	}
	for i := range p.Set {
		if p.Set[i].X < from && (i+1 == len(p.Set) || p.Set[i+1].X > from) {
			p.Set = append([]chart.Point{{X: from, Y: p.Set[i].Y}}, p.Set[i+1:]...)
			break
		}
	}
}

// ahead gives the corners of the plan and the bands of the soaks from now on.
func ahead(s control.Snapshot, u temp.Unit,
	x func(time.Duration) float64) (plan []chart.Point, bands []chart.Range) {
	from := s.T
	for i, q := range s.Plan {
		if i > 0 {
			from = s.Plan[i-1].At
		}
		plan = append(plan, chart.Point{X: x(q.At), Y: q.Temp.In(u)})
		if q.Step < 0 || q.Step >= len(s.Steps) {
			continue
		}
		st := s.Steps[q.Step]
		if st.Kind != profiles.Soak {
			continue
		}
		if q.Step == s.Step {
			from = s.StepT
		}
		bands = append(bands, chart.Range{X0: x(from), X1: x(q.At),
			Lo: st.To.Add(-st.Band).In(u), Hi: st.To.Add(st.Band).In(u)})
	}
	return plan, bands
}

// kinds says which style each part of the chart has.
var kinds = [...]style{chart.Ground: plain, chart.Axis: faint, chart.Now: strong,
	chart.Band: faint, chart.Set: faint, chart.Plan: faint, chart.Limit: faint,
	chart.Trace: plain, chart.Over: over}

// drawLine puts a drawn chart on the sheet.
func drawLine(sh *sheet, y int, rows [][]chart.Cell) {
	for dy, row := range rows {
		for x, c := range row {
			sh.put(x, y+dy, c.Rune, kinds[c.Kind])
		}
	}
}

// lineKey is what a drawn chart depends on. While it stays the same no column has changed.
type lineKey struct {
	w, h   int
	unit   temp.Unit
	spans  int // ten-second spans so far
	last   control.Past
	step   int
	phase  control.Phase
	test   string
	corner int
	planAt time.Duration
	planTo temp.C
}

// LineCache keeps the chart that was drawn last. It belongs to one screen.
type LineCache struct {
	key   lineKey
	rows  [][]chart.Cell
	Drawn int // how often a chart was drawn
}

// draw gives the chart, drawn anew only if something on it changed: the size, the unit, the
// plan, or the newest column.
func (c *LineCache) draw(s control.Snapshot, tr trail, u temp.Unit, w, h int) [][]chart.Cell {
	k := lineKey{w: w, h: h, unit: u, spans: len(tr), step: s.Step, phase: s.Phase,
		corner: len(s.Plan), test: s.Test}
	if n := len(tr); n > 0 {
		k.last = tr[n-1]
		grid := temp.Delta(0.5) // finer than a dot of any chart of a whole run
		k.last.Min = temp.C(math.Floor(float64(k.last.Min) / float64(grid)))
		k.last.Max = temp.C(math.Ceil(float64(k.last.Max) / float64(grid)))
	}
	if n := len(s.Plan); n > 0 {
		k.planAt = s.Plan[n-1].At.Truncate(control.PastSpan)
		k.planTo = s.Plan[n-1].Temp
	}
	if c.rows == nil || k != c.key {
		c.key, c.rows = k, chart.Draw(plotFor(s, tr, u, w, h))
		c.Drawn++
	}
	return c.rows
}
