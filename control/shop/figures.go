package shop

import (
	"strings"
	"time"

	"strawline/control/pid"
	"strawline/probe/temp"
)

// What gains and a model may be. The ranges are wide for any oven that a person built, and are
// there for slips of the decimal point; all are our own.
const (
	maxGain  = pid.MostK
	maxRise  = temp.Delta(5000)
	maxSlope = 100 // °C/s
	maxNoise = temp.Delta(20)
	minTime  = time.Duration(pid.LeastTime * float64(time.Second))
	maxTime  = pid.MostTime * time.Second
)

// gains reads gains; the weight is 1 unless given: the plain law, whose proportional part sees
// the whole drift.
func (t table) gains() Gains {
	t.need("a table of gains", "kp", "ti")
	return Gains{
		Kp:     t.gain("kp"),
		Ti:     t.span("ti", minTime, maxTime),
		Td:     t.span("td", 0, maxTime),
		Weight: t.number("weight", 1, 0, 1),
	}
}

func modelKeys() []string {
	return []string{"rise", "time_constant", "slope", "second", "dead_time", "hold", "hold_at",
		"swing_slope", "swing_lag", "swing_dead_time", "start_lag",
		"noise"}
}

// slope reads "1.07C/s"; 0 if the key does not stand there.
func (t table) slope(key string) (v float64) {
	s, ok := t.text(key, `"1.07C/s"`)
	if !ok {
		return 0
	}
	number, is := strings.CutSuffix(strings.TrimSpace(s), "/s")
	d, _, err := temp.ParseDelta(number)
	if !is || err != nil || !(d > 0 && d <= maxSlope) {
		t.fail(key, "%q is not a slope above 0 and up to %d °C/s: write it as 1.07C/s", s, maxSlope)
	}
	return float64(d)
}

func (t table) model() Model {
	if t.has("slope") && (t.has("rise") || t.has("time_constant")) {
		t.fail("slope", "a model has a slope, or a rise and a time_constant: keep one of them")
	} else if !t.has("slope") {
		t.need("a model", "rise", "time_constant")
	}
	t.need("a model", "dead_time")
	m := Model{
		Slope:        t.slope("slope"),
		Hold:         t.number("hold", 0, 0, 1),
		Noise:        t.deltaIn("noise", 0, maxNoise),
		Rise:         t.deltaIn("rise", 1, maxRise),
		TimeConstant: t.span("time_constant", minTime, maxTime),
		Second:       t.span("second", 0, maxTime),
		DeadTime:     t.span("dead_time", 0, maxTime),
	}
	if t.has("hold") || t.has("hold_at") {
		t.need("a model with hold or hold_at", "hold", "hold_at")
		m.HoldAt, _, _ = t.tempIn("hold_at", Coldest, Hottest)
	}
	m.StartLag = t.span("start_lag", 0, maxTime)
	if t.has("swing_slope") || t.has("swing_lag") || t.has("swing_dead_time") {
		t.need("a model with swings", "swing_slope", "swing_lag", "swing_dead_time")
		m.SwingSlope = t.slope("swing_slope")
		m.SwingLag = t.span("swing_lag", minTime, maxTime)
		m.SwingDead = t.span("swing_dead_time", 0, maxTime)
	}
	if m.TimeConstant > 0 && m.Second > m.TimeConstant {
		t.fail("second", "this is longer than time_constant, which is to be the longer one")
	}
	return m
}

// How a contactor may be switched: our own ranges. Below half a degree the readings' noise would
// switch it, and each least time may be none.
const (
	leastDeadband = temp.Delta(0.5)
	mostDeadband  = temp.Delta(50)
	mostRest      = time.Hour
)

// What a board's window can be: the line protocol's range, in whole seconds.
const (
	leastWindow = 2 * time.Second
	mostWindow  = time.Minute
)

// output reads how a heater is switched.
func (t table) output() Output {
	const contactor, ssr = "contactor", "ssr"
	o := Output{Contactor: t.one("kind", ssr, contactor, ssr) == contactor}
	own := []string{"kind", "window", "mains"}
	if o.Contactor {
		own = []string{"kind", "deadband", "least_on", "least_off", "mains"}
		t.known("the output to a contactor", own...)
		t.need("the output to a contactor", "deadband", "least_on", "least_off")
		o.Deadband = t.deltaIn("deadband", leastDeadband, mostDeadband)
		o.LeastOn = t.span("least_on", 0, mostRest)
		o.LeastOff = t.span("least_off", 0, mostRest)
	}
	t.known("the output to an ssr", own...)
	if o.Window = t.span("window", leastWindow, mostWindow); o.Window%time.Second != 0 {
		t.fail("window", "a board keeps its window in whole seconds")
	}
	switch t.one("mains", "", "50Hz", "60Hz") {
	case "50Hz":
		o.MainsHz = 50
	case "60Hz":
		o.MainsHz = 60
	}
	return o
}

// correction reads a correction, and says what is wrong with it where it stands.
func (t table) correction() Correction {
	t.need("a correction", "date", "source")
	c := Correction{Date: t.date("date"), Source: t.words("source", `"ice point"`)}
	switch {
	case t.has("offset") && t.has("point"):
		t.fail("point", "a correction is an offset or points: keep one of them")
	case t.has("offset"):
		c.Offset, _, _ = t.delta("offset")
		if err := c.Check(); err != nil {
			t.fail("offset", "%v", err)
		}
	case t.has("point"):
		t.points(&c)
	default:
		t.need("a correction", "offset")
	}
	return c
}

func (t table) points(c *Correction) {
	const example = `point = [{ reads = "100C", is = "99.1C" }]`
	list := t.tables("point", example)
	for _, p := range list {
		p.known("a point", "reads", "is")
		p.need("a point", "reads", "is")
		var at Point
		at.Reads, _, _ = p.tempIn("reads", Coldest, Hottest)
		at.Is, _, _ = p.tempIn("is", Coldest, Hottest)
		c.Points = append(c.Points, at)
		if t.r.bad == nil {
			if err := c.Check(); err != nil {
				p.r.fail(p.at, "point", err.Error())
			}
		}
	}
	if len(list) == 0 {
		t.fail("point", "a list of points belongs here, as %s", example)
	}
}
