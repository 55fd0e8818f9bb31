// Package landing brings an oven from full power to its setpoint without passing it, and holds
// it there. It is arithmetic: time is a figure of the Input.
package landing

import "strawline/control/pid"

// Phase is what the law is doing.
type Phase uint8

// The phases.
const (
	Heat   Phase = iota + 1 // far below the setpoint: as much power as may be
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
}

// Config is what a Law is made from.
type Config struct {
	Model     Model // the zero Model: none is known yet
	Gains     pid.Config
	Own       bool    // Gains were chosen by a person or found: they hold as they are
	Every     float64 // s between readings, about
	Window    float64 // s over which the board spreads the duty; 0 for none
	Rate      float64 // most change of the duty per second, 0 to 1; 0 for no limit
	Most      float64 // most duty, 0 to 1; 0 stands for 1
	NoLanding bool    // the plain law only
}

// Input is one reading.
type Input struct {
	H       float64 // s since the last reading; above 0
	R       float64 // setpoint, °C
	Rate    float64 // of the setpoint, °C/s; 0 where it stands
	Y       float64 // believed reading, not smoothed, °C
	Room    float64 // °C, about
	Applied float64 // duty that was in force since the last reading, 0 to 1
}

// Output is what the law wants.
type Output struct {
	U      float64 // duty, 0 to 1
	Phase  Phase
	Learnt Model // what is known now; the zero Model if nothing is
	Unlike bool  // what was seen does not fit the Model of the Config: test again
}

// Law drives one oven. Make it with New; it allocates nothing after that.
type Law struct {
	cfg  Config
	st   pid.State
	hold float64 // integral, kept while the heat is away
	from float64 // duty to begin from without a bump; 0 for the integral
}

// New makes a law. The error says what is wrong with the Config.
func New(cfg Config) (*Law, error) {
	if err := cfg.Gains.Check(); err != nil {
		return nil, err
	}
	cfg.Gains = filtered(cfg.Gains)
	return &Law{cfg: cfg}, nil
}

// filtered gives gains the filter that belief's reading had before: a tenth of an oven's dead
// time. The derivative needs one.
func filtered(g pid.Config) pid.Config {
	if g.Tf == 0 {
		g.Tf = 2
	}
	return g
}

// Step takes one reading. With an error, which is pid's for figures that are none, there is no
// duty.
func (l *Law) Step(in Input) (Output, error) {
	if !l.st.Begun { // at 0 from cold: bumpless from no heat would park the integral far below
		l.st = pid.State{Begun: true, I: l.hold, Yf: in.Y, R: in.R}
		if l.from > 0 {
			l.st = pid.Preset(l.cfg.Gains, l.from, in.R, in.Y)
		}
	}
	st, out, err := pid.Step(l.cfg.Gains, l.st, pid.Input{H: in.H, R: in.R, Y: in.Y})
	if err != nil {
		return Output{}, err
	}
	l.st, l.hold = st, st.I
	return Output{U: out.U, Phase: Hold}, nil
}

// Retune takes other gains without a bump; from then on they hold as they are.
func (l *Law) Retune(g pid.Config) error {
	if err := g.Check(); err != nil {
		return err
	}
	g = filtered(g)
	l.st, l.cfg.Gains, l.cfg.Own = pid.Retune(l.cfg.Gains, g, l.st), g, true
	return nil
}

// Restart says that the heat was away, or that a person had the duty: the next Step begins from
// what it reads, and keeps what was learnt. applied is the duty in force until now.
func (l *Law) Restart(applied float64) {
	l.st, l.from = pid.State{}, applied
}
