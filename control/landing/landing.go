package landing

import (
	"math"

	"strawline/control/pid"
)

// Phase is what the law is doing.
type Phase uint8

// The phases.
const (
	Heat   Phase = iota + 1 // far from the setpoint: as much power as may be
	Land                    // the power is taken back so that the reading stops at the setpoint
	Settle                  // just landed: the load still falls
	Hold                    // the plain loop
	Door                    // the door is open, or was a moment ago
	Follow                  // a setpoint that moves
)

// String gives the phase in a word.
func (p Phase) String() string {
	switch p {
	case Heat:
		return "heating"
	case Land:
		return "landing"
	case Settle:
		return "settling"
	case Hold:
		return "holding"
	case Door:
		return "door"
	case Follow:
		return "following"
	}
	return ""
}

// Model is how the oven answers near a setpoint: y' = K (q - w), Tau q' = u(t-Th) - q, where w
// is the duty that holds it.
type Model struct {
	K     float64 // °C/s for the whole duty; above 0
	Tau   float64 // lag, s; above 0
	Th    float64 // dead time, s; 0 or more
	T     float64 // the longest time constant, s; above 0
	Hold  float64 // the duty that holds the setpoint it was found at, 0 to 1; 0 unknown
	Sigma float64 // noise of one reading, standard deviation, °C; 0 unknown
	Start float64 // the lag that a start from cold showed, s; 0 unknown
}

// started gives the model as a start from cold shows it.
func (m Model) started() Model {
	if m.Start > 0 {
		s := m.Start / m.Lag()
		m.Tau, m.Th = m.Tau*s, m.Th*s
	}
	return m
}

// Lag is the time that a change of duty takes to show, s.
func (m Model) Lag() float64 { return m.Tau + m.Th }

// known says that the figures make a model.
func (m Model) known() bool {
	return m.K > 0 && m.Tau > 0 && m.Th >= 0 && m.T > 0 &&
		finite(m.K) && finite(m.Tau) && finite(m.Th) && finite(m.T)
}

// Config is what a Law is made from.
type Config struct {
	Model     Model      // the zero Model: none is known yet
	Gains     pid.Config // of the loop that holds, where Own or where no model is known
	Own       bool       // Gains were chosen by a person: they hold as they are
	Window    float64    // s over which the board spreads the duty; 0 for none
	Rate      float64    // most change of the duty per second, 0 to 1; 0 for no limit
	Most      float64    // most duty, 0 to 1; 0 stands for 1
	NoLanding bool       // the plain law only
}

// Input is one reading.
type Input struct {
	H       float64 // s since the last reading; above 0
	R       float64 // setpoint, °C
	Rate    float64 // of the setpoint, °C/s; 0 where it stands
	Goal    float64 // where a setpoint that moves will stop, °C; only with Rate
	Y       float64 // believed reading, not smoothed, °C
	Room    float64 // °C, about
	Applied float64 // duty that was in force since the last reading, 0 to 1
}

// Output is what the law wants.
type Output struct {
	U      float64 // duty, 0 to 1
	Phase  Phase
	Learnt Model // what the last start from cold showed; the zero Model if nothing
	Unlike bool  // what was seen does not fit the Model of the Config: test again
}

// inner is how long the readings of one look are gathered, s: a board that reads four times
// a second gives means of four, whose noise is half.
const inner = 1.0

// Law drives one oven. Make it with New; it allocates nothing after that.
type Law struct {
	cfg  Config
	m0   Model // as found by a test; the zero Model if there was none
	now  float64
	past past // of the duty

	sum  struct{ y, h float64 } // of the look under way
	last [lately]float64        // the newest looks, newest last
	seen int                    // looks since the last start
	far  bool                   // heat was on before the start: the rods may be hot
	kept float64                // the load before a restart, 0 to 1; 0 for none
	r    float64
	u    float64 // wanted now

	noise noise
	ph    Phase
	up    heatUp
	down  landed
	door  doorState
	learn Model
	odd   bool
}

// lately is for how many looks back a door is looked for.
const lately = 40

// New makes a law. The error says what is wrong with the Config.
func New(cfg Config) (*Law, error) {
	if err := cfg.Gains.Check(); err != nil {
		return nil, err
	}
	if cfg.Most == 0 {
		cfg.Most = 1
	}
	cfg.Gains = filtered(cfg.Gains)
	l := &Law{cfg: cfg}
	if cfg.Model.known() {
		l.m0 = cfg.Model
	}
	l.door.since = math.Inf(-1)
	l.noise.sigma = cmpOr(l.m0.Sigma, usualSigma)
	return l, nil
}

// Step takes one reading. A figure that is none is pid.ErrInput, and then there is no duty.
func (l *Law) Step(in Input) (Output, error) {
	if !finite(in.H+in.R+in.Rate+in.Goal+in.Y+in.Room+in.Applied) || in.H <= 0 {
		return Output{}, pid.ErrInput
	}
	l.now += in.H
	l.past.add(l.now, in.H, in.Applied)
	l.sum.y += in.Y * in.H
	l.sum.h += in.H
	if l.seen == 0 || l.sum.h > inner-in.H/2 {
		h, y := l.sum.h, l.sum.y/l.sum.h
		l.sum.y, l.sum.h = 0, 0
		u, err := l.look(h, y, in)
		if err != nil {
			return Output{}, err
		}
		u = min(l.cfg.Most, max(0, u))
		if step := l.cfg.Rate * h; l.cfg.Rate > 0 {
			u = min(u, l.u+step) // down it goes at once
		}
		l.u = u
	}
	return Output{U: l.u, Phase: l.phase(), Learnt: l.learn, Unlike: l.odd}, nil
}

// phase gives the phase for people.
func (l *Law) phase() Phase {
	if l.ph == Hold && l.down.settling(l.now) {
		return Settle
	}
	return l.ph
}

// look takes the mean of the readings of one look.
func (l *Law) look(h, y float64, in Input) (float64, error) {
	copy(l.last[:], l.last[1:])
	l.last[lately-1] = y
	l.seen++
	l.noise.add(y)
	moved := l.seen > 1 && in.R != l.r && in.Rate == 0
	l.r = in.R
	if l.seen == 1 {
		l.start(y, in)
	} else if l.ph != Heat || l.up.watch.on {
		l.observe(h, y)
	}
	if in.Rate != 0 && l.ph != Door {
		return l.follow(h, y, in)
	}
	if l.ph == Follow || moved && l.ph != Heat {
		l.again(y, in)
	}
	if l.ph != Door && l.doorOpened() {
		l.openDoor()
	}
	if l.ph == Door {
		if done, u := l.doorStep(h); !done {
			return u, nil
		}
	}
	if l.ph == Heat {
		if u, more := l.heat(y, in); more {
			return u, nil
		}
	}
	if l.ph == Land {
		if u, more := l.land(h, in); more {
			return u, nil
		}
	}
	return l.hold(h, y, in)
}

// Retune takes other gains without a bump; from then on they hold as they are.
func (l *Law) Retune(g pid.Config) error {
	if err := g.Check(); err != nil {
		return err
	}
	g = filtered(g)
	d := &l.down
	if d.gains.K > 0 {
		d.st = pid.Retune(d.gains, g, d.st)
	}
	l.cfg.Gains, l.cfg.Own = g, true
	d.gains, d.soak, d.settle = g, pid.Config{}, 0
	return nil
}

// Restart says that for the last away seconds the law did not have the heat: it was off, or
// a person or a test had it, with mean (0 to 1) as its mean duty and applied as the last. The
// next Step begins from what it reads, keeps what was learnt and, near the setpoint, goes on from
// a duty that was applied without a bump.
func (l *Law) Restart(applied, mean, away float64) {
	if away > 0 && finite(applied+mean+away) {
		l.now += away
		l.past.add(l.now, away, min(1, max(0, mean)))
	}
	l.far = l.far || l.past.mean(l.now-restBefore, l.now) > 0.01
	l.kept = 0
	if l.ph != 0 && l.ph != Heat {
		l.kept = l.down.keep()
	}
	l.seen, l.u, l.sum.y, l.sum.h = 0, applied, 0, 0
	l.ph = 0
}

// restBefore is for how long the heat must have been away for a start to count as cold, s.
const restBefore = 3600

// filtered gives gains that have no filter the least: a derivative needs one.
func filtered(g pid.Config) pid.Config {
	if g.Tf == 0 {
		g.Tf = plainFilter
	}
	return g
}

// plainFilter is a tenth of a small oven's dead time, s.
const plainFilter = 2.0

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func cmpOr(a, b float64) float64 {
	if a > 0 {
		return a
	}
	return b
}
