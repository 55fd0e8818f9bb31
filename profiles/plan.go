package profiles

import (
	"math"
	"time"

	"strawline/probe/temp"
)

// What the plan assumes where nothing has been measured yet. All are our assumptions.
const (
	// DefaultHeatRate in °C/s is how fast an oven is expected to heat. The reference oven A
	// of this project does 0.97 °C/s at full power from cold; brick kilns are far slower.
	DefaultHeatRate = 0.5
	// HeatWait is how long a person is expected to take over a wait with the heat on.
	HeatWait = 5 * time.Minute
	// CoolWait is how long a wait with the heat off is expected to last while things cool.
	CoolWait = 30 * time.Minute
	// HandWarm is where nothing is left to cool: a wait below it is planned as HeatWait.
	HandWarm = temp.C(45)
	// Room is the temperature that everything cools to.
	Room = temp.C(20)
	// CoolTau is the time constant of the fall with the heat off: 204 °C falls to 45 °C in
	// CoolWait. The wall of reference oven A has about 550 s, a brick kiln hours.
	CoolTau = 15 * time.Minute
)

const (
	fallCorners = 6   // of one exponential fall; a chord is then off by 3 °C of 180
	nearRoom    = 2.0 // °C; the fall is planned to end so far above Room
	longestLeg  = 1e6 // s; longer than any plan that passes Check
	farthest    = time.Duration(1) << 61
)

// Plan gives the expected temperature against time as straight lines between corners, from
// step `from` on: it begins at temperature start at time at. If that step is a soak, left
// is what it still needs in the band; negative means all of it. heatRate in °C/s is what
// the oven does at full power, from measurement; 0 or less means DefaultHeatRate.
//
// The first point is the start; the last point with Step i is the end of step i, and every
// step has at least one. A step with nothing to do ends where it begins. The plan knows
// nothing of the blade's own lag, and a ramp's rate beyond heatRate is not believed. It
// gives nil if from is no step or start is not finite.
func Plan(steps []Step, from int, start temp.C, at, left time.Duration,
	heatRate float64) []Point {
	if from < 0 || from >= len(steps) {
		return nil
	}
	pts := make([]Point, 0, 4*(len(steps)-from)+1)
	if pts = AppendPlan(pts, steps, from, start, at, left, heatRate); len(pts) == 0 {
		return nil
	}
	return pts
}

// AppendPlan is Plan with its points behind those of dst, whose room it uses.
func AppendPlan(dst []Point, steps []Step, from int, start temp.C, at, left time.Duration,
	heatRate float64) []Point {
	if from < 0 || from >= len(steps) || !finite(float64(start)) {
		return dst
	}
	if !(heatRate > 0) || !finite(heatRate) {
		heatRate = DefaultHeatRate
	}
	p := planner{at: at, t: float64(start), heat: heatRate, step: from}
	p.first = len(dst)
	p.pts = append(dst, Point{At: at, Temp: start, Step: from})
	for i := from - 1; i >= 0 && !p.aimed; i-- {
		p.aim(&steps[i])
	}
	for i := from; i < len(steps); i++ {
		p.step = i
		need := steps[i].For
		if i == from && left >= 0 {
			need = left
		}
		p.add(&steps[i], need)
	}
	return p.pts
}

// Lengths gives the planned time of each step, from a cold oven at the default heat rate.
func Lengths(steps []Step) []time.Duration {
	out := make([]time.Duration, len(steps))
	pts := Plan(steps, 0, Room, 0, -1, DefaultHeatRate)
	for i := 1; i < len(pts); i++ {
		out[pts[i].Step] += pts[i].At - pts[i-1].At
	}
	return out
}

type planner struct {
	pts   []Point
	first int // of them that is the plan's
	at    time.Duration
	t     float64 // °C
	heat  float64 // °C/s
	set   float64 // °C, the last setpoint
	aimed bool    // set is known
	step  int
}

func (p *planner) aim(s *Step) {
	if s.Kind == Ramp || s.Kind == Soak {
		p.set, p.aimed = float64(s.To), true
	}
}

func (p *planner) add(s *Step, need time.Duration) {
	p.aim(s)
	switch s.Kind {
	case Ramp:
		p.ramp(float64(s.To), s.Rate)
	case Soak:
		p.stay(float64(s.To), float64(s.Band), need.Seconds())
	case Cool:
		p.fallTo(float64(s.To))
		p.corner(0, p.t)
	case Wait:
		p.wait(s)
	}
}

// corner goes in a straight line to temperature t within so many seconds. A leg of no
// length only marks the end of a step that has no corner yet.
func (p *planner) corner(seconds, t float64) {
	if !(seconds > 0) {
		seconds = 0
		if n := len(p.pts); n > p.first+1 && p.pts[n-1].Step == p.step {
			return
		}
	}
	// Far beyond any plan that passes Check the time stands still instead of overflowing.
	if p.at < farthest {
		p.at += time.Duration(min(seconds, longestLeg) * float64(time.Second))
	}
	p.t = t
	p.pts = append(p.pts, Point{At: p.at, Temp: temp.C(t), Step: p.step})
}

func (p *planner) ramp(to, rate float64) {
	if to >= p.t {
		r := p.heat
		if rate > 0 && rate < r {
			r = rate
		}
		p.corner((to-p.t)/r, to)
		return
	}
	// Downward the oven cannot fall faster than by itself: it follows the rate to the knee
	// where its own fall has become slower.
	to = max(to, float64(Room)+nearRoom)
	knee := max(to, float64(Room)+rate*CoolTau.Seconds())
	if rate > 0 && knee < p.t {
		p.corner((p.t-knee)/rate, knee)
	}
	p.fallTo(to)
	p.corner(0, p.t)
}

// timeTo is how long the fall to a temperature takes, in seconds; 0 if it is there already.
func (p *planner) timeTo(to float64) float64 {
	to = max(to, float64(Room)+nearRoom)
	if p.t <= to {
		return 0
	}
	return CoolTau.Seconds() * math.Log((p.t-float64(Room))/(to-float64(Room)))
}

// fallTo lets the heat-off oven fall to a temperature, or to just above the room.
func (p *planner) fallTo(to float64) {
	if seconds := p.timeTo(to); seconds > 0 {
		p.fallFor(seconds)
	}
}

// fallFor lets the heat-off oven fall for so many seconds; a cold one stays as it is.
func (p *planner) fallFor(seconds float64) {
	above := p.t - float64(Room)
	if above <= 0 {
		p.corner(seconds, p.t)
		return
	}
	for i := range fallCorners {
		passed := seconds * float64(i+1) / fallCorners
		p.corner(seconds/fallCorners, float64(Room)+above*math.Exp(-passed/CoolTau.Seconds()))
	}
}

// stay goes to a temperature and stays until need seconds were spent inside the band.
func (p *planner) stay(to, band, need float64) {
	if p.t < to-band {
		p.corner((to-band-p.t)/p.heat, to-band)
	} else if p.t > to+band {
		p.fallTo(to + band)
	}
	// The rest of the way is made inside the band, while the clock counts.
	way := p.timeTo(to)
	if p.t < to {
		way = (to - p.t) / p.heat
	}
	switch {
	case way >= need && p.t < to:
		p.corner(need, p.t+p.heat*need)
	case way >= need:
		above := p.t - float64(Room)
		p.corner(need, float64(Room)+above*math.Exp(-need/CoolTau.Seconds()))
	case p.t < to:
		p.corner(way, to)
		p.corner(need-way, to)
	default:
		if way > 0 {
			p.corner(way, max(to, float64(Room)+nearRoom))
		}
		p.corner(need-way, p.t)
	}
}

func (p *planner) wait(s *Step) {
	switch {
	case s.Heat && p.aimed:
		span := HeatWait
		if s.Most > 0 {
			span = min(span, s.Most)
		}
		p.stay(p.set, math.Inf(1), span.Seconds())
	case p.t <= float64(HandWarm):
		p.fallFor(HeatWait.Seconds())
	default:
		p.fallFor(CoolWait.Seconds())
	}
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
