package tune

import (
	"fmt"
	"math"

	"strawline/control/pid"
)

// Scene is what a prediction plays: from a start to a setpoint in a room, °C.
type Scene struct {
	Room, Start, Set float64
	// Hold is the duty that holds Set, 0 to 1; needed of an Integrating model only, which does
	// not know it. 0.25 if it is 0, about what small ovens take at a temper (reference ovens).
	Hold float64
}

// Response is one thing that a loop was predicted to do.
type Response struct {
	Over    float64 // the most by which it went past the setpoint; 0 or more
	Settle  float64 // s until it stayed in the band for good; only if Settled
	Settled bool
}

// Prediction is what a loop would do with a model, played with control/pid as it stands: with
// conditional integration, without landing and without the engine's open-door state, both of
// which do better. What the model does not know, it does not show.
type Prediction struct {
	// Step is a setpoint step so small that no limit is met: Over as a share of the step, Settle
	// to within 5 % of it.
	Step Response
	// Cold is from Start to Set within the limits of the duty: Over in °C, Settle to ±1 °C.
	Cold Response
	// Door is a door opened for 20 s at rest, modelled plainly: the reading falls evenly by 50 °C
	// and comes back with the lag of the model. Over is the rebound in °C, Settle the time from
	// the opening until ±1 °C.
	Door Response
}

const (
	bandStep  = 0.05 // of the step
	bandCold  = 1.0  // °C
	doorDip   = 50.0 // °C
	doorOpen  = 20.0 // s
	longest   = 4 * 3600.0
	coldHold  = 0.25
	perLag    = 40.0 // steps of the play in the shortest lag, at most
	stepsMost = 200000
)

// oven plays a model: its own clock runs in even steps.
type oven struct {
	gone, gone2 float64 // what the lags go in a step
	gain        float64 // °C for the whole duty, or °C/s in a step if it integrates
	integrates  bool
	second      bool
	late        []float64 // duties under way
	at          int
	q, y        float64
}

func newOven(m Model, h float64) *oven {
	o := &oven{gain: m.K, integrates: m.Kind == Integrating, second: m.Kind == Second}
	o.late = make([]float64, int(math.Round(m.L/h))+1)
	o.gone = 1
	if m.T > 0 {
		o.gone = -math.Expm1(-h / m.T)
	}
	if o.second {
		o.gone2 = -math.Expm1(-h / m.T2)
	}
	if o.integrates {
		o.gain = m.Kv * h
	}
	return o
}

// step takes a duty (less what is lost, of an integrating model) and gives the rise, °C.
func (o *oven) step(u float64) float64 {
	o.late[o.at] = u
	o.at = (o.at + 1) % len(o.late)
	u = o.late[o.at]
	if o.second {
		o.q += o.gone2 * (u - o.q)
		u = o.q
	}
	if o.integrates {
		o.y += o.gain * u
	} else {
		o.y += o.gone * (o.gain*u - o.y)
	}
	return o.y
}

// rest puts the oven at rest at a duty and a rise.
func (o *oven) rest(u, y float64) {
	for i := range o.late {
		o.late[i] = u
	}
	o.q, o.y = u, y
}

// play is one run of the loop; dip is added to the reading.
type play struct {
	oven       *oven
	cfg        pid.Config
	h          float64 // s of a step of the oven
	every      int     // steps between samples
	window     int     // steps between moves of the duty
	load       float64 // duty that an integrating oven loses
	set, base  float64 // °C; the oven's rise counts from base
	state      pid.State
	dip        func(t float64) float64
	tell       func(t, y float64) // what is read at each sample; may be nil
	band, span float64
}

func (p *play) run() (Response, error) {
	var r Response
	y := p.base + p.oven.y
	u, wanted, last := p.state.U, p.state.U, -1.0
	steps := min(int(p.span/p.h), stepsMost)
	for i := range steps {
		t := float64(i) * p.h
		seen := y
		if p.dip != nil {
			seen += p.dip(t)
		}
		if i%p.every == 0 {
			if p.tell != nil {
				p.tell(t, seen)
			}
			next, out, err := pid.Step(p.cfg, p.state,
				pid.Input{H: p.h * float64(p.every), R: p.set, Y: seen})
			if err != nil {
				return Response{}, fmt.Errorf("tune: the prediction failed: %w", err)
			}
			p.state = next
			wanted = out.U
		}
		if i%p.window == 0 {
			u = wanted
		}
		if t > 0 || p.dip == nil {
			r.Over = max(r.Over, seen-p.set)
		}
		if math.Abs(seen-p.set) > p.band {
			last = t
		}
		y = p.base + p.oven.step(u-p.load)
	}
	if r.Settled = last < 0.95*p.span && last+p.h < float64(steps)*p.h; r.Settled && last >= 0 {
		r.Settle = last + p.h
	}
	return r, nil
}

// stage has what the three plays share.
type stage struct {
	m     Model
	s     Setup
	cfg   pid.Config
	hold  float64 // duty that holds the setpoint
	load  float64 // duty that an integrating model loses all the while
	base  float64 // °C, what the model's rise counts from
	atSet float64 // the rise that is the setpoint
}

func newStage(m Model, g Gains, s Setup, sc Scene) (stage, error) {
	st := stage{m: m, s: s, hold: (sc.Set - sc.Room) / m.K, base: sc.Room, atSet: sc.Set - sc.Room}
	st.cfg = pid.Config{K: g.K, Ti: g.Ti, Td: g.Td, N: s.N, B: g.B, Tf: s.Tf, Max: 1}
	if err := m.Check(); err != nil {
		return st, err
	}
	if err := st.cfg.Check(); err != nil {
		return st, err
	}
	if !positive(s.Every) || !(s.Window >= 0) || !finite(s.Window) || m.L > longest {
		return st, fmt.Errorf("tune: nothing to play every %g s with a window of %g s and a dead "+
			"time of %g s", s.Every, s.Window, m.L)
	}
	if m.Kind == Integrating {
		st.hold = sc.Hold
		if st.hold == 0 {
			st.hold = coldHold
		}
		st.load, st.base, st.atSet = st.hold, sc.Set, 0
	}
	if !(st.hold > 0 && st.hold < 1) || !(sc.Set > sc.Start) || !finite(sc.Set-sc.Start) {
		return st, fmt.Errorf("tune: no duty holds %.1f °C in a room of %.1f °C", sc.Set, sc.Room)
	}
	return st, nil
}

// play sets a play up that begins at rest at a duty and a rise of the model.
func (st stage) play(u, rise, set, band float64) *play {
	h := st.s.Every
	if st.m.L > 0 {
		h = min(h, max(st.m.L/perLag, h/8))
	}
	p := &play{cfg: st.cfg, set: set, band: band, base: st.base, load: st.load}
	p.every = max(1, int(math.Round(st.s.Every/h)))
	p.h = st.s.Every / float64(p.every)
	p.window = max(p.every, int(math.Round(st.s.Window/p.h)))
	p.oven = newOven(st.m, p.h)
	p.oven.rest(u-st.load, rise)
	ti := st.cfg.Ti
	p.span = min(longest, 12*(ti+st.m.Lag()+st.s.Window)+min(st.m.T, 4*ti))
	p.state = pid.Preset(st.cfg, u, st.base+rise, st.base+rise)
	return p
}

// Predict plays the gains with the model. It is an error if the figures make no model or no
// controller, or if the duty cannot hold the setpoint.
func Predict(m Model, g Gains, s Setup, sc Scene) (Prediction, error) {
	st, err := newStage(m, g, s, sc)
	if err != nil {
		return Prediction{}, err
	}
	var out Prediction
	step := st.play(st.hold, st.atSet, sc.Set+1, bandStep)
	step.cfg.Min, step.cfg.Max = -1e6, 1e6 // no limit is met
	if out.Step, err = step.run(); err != nil {
		return Prediction{}, err
	}
	cold := st.play(0, st.atSet-(sc.Set-sc.Start), sc.Set, bandCold)
	cold.oven.rest(0, st.atSet-(sc.Set-sc.Start)) // with no heat in it at all
	cold.state = pid.State{}                      // as a run starts, from off
	cold.span = min(longest, cold.span+3*(sc.Set-sc.Start)/m.Slope()/(1-st.hold))
	if out.Cold, err = cold.run(); err != nil {
		return Prediction{}, err
	}
	out.Door, err = st.shut(sc.Set).run()
	return out, err
}

// shut sets up the play of a door that was opened for a while.
func (st stage) shut(set float64) *play {
	door := st.play(st.hold, st.atSet, set, bandCold)
	back := max(st.m.Lag(), door.h)
	door.dip = func(t float64) float64 {
		if t < doorOpen {
			return -doorDip * t / doorOpen
		}
		return -doorDip * math.Exp(-(t-doorOpen)/back)
	}
	return door
}
