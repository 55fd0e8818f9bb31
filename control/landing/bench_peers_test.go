package landing_test

import (
	"math"

	"strawline/control/tune"
)

// peerModel is a line of testdata/control/peer_models.csv.
type peerModel struct{ gain, lag, delay, gain2, lag2, short2, delay2, hold, rate float64 }

func (m peerModel) first() tune.Model {
	return tune.Model{Kind: tune.First, K: m.gain, T: m.lag, L: m.delay}
}

func (m peerModel) second() tune.Model {
	return tune.Model{Kind: tune.Second, K: m.gain2, T: m.lag2, T2: m.short2, L: m.delay2}
}

// windup is what a peer does against the integral's running away.
type windup uint8

const (
	tracking    windup = iota // back-calculation with time constant tt
	conditional               // no increment that would carry the output further past its limit
	clamped                   // the integral within the output's range
)

// peer is the PID law of the peers, as the script that made their table has it: the derivative is
// a backward difference of the filtered reading, the integral takes the present error, and the
// reading comes once a second. It is not our own law, so that the table is reproduced by what it
// was made with.
type peer struct {
	g      tune.Gains
	windup windup
	tt     float64 // s
	tf     float64 // s
	begun  bool
	i, d   float64
	yf     float64
}

const peerN = 8 // limit of the derivative

func (p *peer) step(r, y, forward float64) float64 {
	if !p.begun {
		p.begun, p.yf = true, y
	}
	was := p.yf
	share := 1.0
	if p.tf > 0 {
		share = -math.Expm1(-1 / p.tf)
	}
	p.yf += share * (y - p.yf)
	if p.g.Td > 0 {
		a := p.g.Td / (p.g.Td + peerN)
		p.d = a*p.d - p.g.K*peerN*a*(p.yf-was)
	}
	v := p.g.K*(p.g.B*r-p.yf) + p.i + p.d + forward
	u := min(1, max(0, v))
	add := p.g.K / p.g.Ti * (r - p.yf)
	switch p.windup {
	case tracking:
		p.i += add - (u-v)*math.Expm1(-1/p.tt)
	case conditional:
		if !(v > 1 && add > 0) && !(v < 0 && add < 0) {
			p.i += add
		}
	case clamped:
		p.i = min(1, max(0, p.i+add))
	}
	return u
}

// preset makes the next step give u.
func (p *peer) preset(u, r, y float64) {
	p.i, p.yf, p.d, p.begun = u-p.g.K*(p.g.B*r-y), y, 0, true
}

// track is a peer with back-calculation; without a time constant its own usual one, which is Ti of
// a PI and the root of Ti and Td of a PID.
func track(g tune.Gains, tt, tf float64) *peer {
	if tt == 0 {
		tt = g.Ti
		if g.Td > 0 {
			tt = math.Sqrt(g.Ti * g.Td)
		}
	}
	return &peer{g: g, tt: tt, tf: tf}
}

func (p *peer) fixed() duties {
	return func(y float64) float64 { return p.step(setC, y, 0) }
}

func weight(g tune.Gains, b float64) tune.Gains {
	g.B = b
	return g
}

// onOff switches a degree above and a degree below.
func onOff() duties {
	on := true
	return func(y float64) float64 {
		switch {
		case on && y > setC+1:
			on = false
		case !on && y < setC-1:
			on = true
		}
		if on {
			return 1
		}
		return 0
	}
}

// easedRamp follows a setpoint that rises evenly and lands gently, late by most of the dead time,
// with the duty that the model says such a setpoint takes.
func easedRamp(m peerModel, p *peer) duties {
	const landing, room, late = 30.0, 22.0, 0.87
	wait := int(late * m.delay)
	var r float64
	var past []float64
	return func(y float64) float64 {
		if len(past) == 0 {
			r = y
		}
		move := min(m.rate, max(0, (setC-r)/landing))
		r += move
		past = append(past, r)
		forward := m.hold*max(0, r-room)/(setC-room) + m.lag/m.gain*move
		return p.step(past[max(0, len(past)-1-wait)], y, forward)
	}
}

// predictiveCut gives full heat until the slope says that the rest comes by itself, then none
// until what is left falls short, and then holds with the integral preset.
func predictiveCut(m peerModel, p *peer) duties {
	const lead, more = 0.7, 1.1
	var ys []float64
	state := 0
	return func(y float64) float64 {
		ys = append(ys, y)
		n := len(ys)
		if n < 20 {
			return 1
		}
		slope := 0.0
		for i := range 8 {
			slope += (ys[n-1-i] - ys[n-9-i]) / 64
		}
		comes := y + lead*m.delay*slope
		if state == 0 {
			if comes < setC {
				return 1
			}
			state = 1
		}
		if state == 1 {
			if comes > setC-0.5 && slope > 0.1 {
				return 0
			}
			state = 2
			p.preset(more*m.hold, setC, y)
		}
		return p.step(setC, y, 0)
	}
}

// peers are the fair ones of the table, by their names in it.
func peers(m peerModel) map[string]maker {
	one, two := m.first(), m.second()
	simc := tune.SIMC(one, one.L).Ideal()
	improved := tune.ImprovedPID(one, one.L/2).Ideal()
	second := tune.SIMC(two, 2*two.L).Ideal()
	amigoPI, amigoPID := tune.AMIGO(one.K, one.T, one.L)
	_, zn := tune.ZNStep(one.Slope()*one.L, one.L)
	const tf = 3 // s, of every PID but one
	return map[string]maker{
		"on/off ±1 °C": onOff,
		"Ziegler–Nichols PID with clamp": func() duties {
			return (&peer{g: zn, windup: clamped}).fixed()
		},
		"SIMC PI Tt = Ti": func() duties { return track(simc, 0, 0).fixed() },
		"SIMC PI Tt = 4L": func() duties { return track(simc, 4*one.L, 0).fixed() },
		"SIMC PI conditional": func() duties {
			return (&peer{g: simc, windup: conditional}).fixed()
		},
		"AMIGO PI":        func() duties { return track(weight(amigoPI, 1), 0, 0).fixed() },
		"AMIGO PID b = 1": func() duties { return track(weight(amigoPID, 1), 0, tf).fixed() },
		"AMIGO PID b = 0": func() duties { return track(weight(amigoPID, 0), 0, tf).fixed() },
		"improved SIMC PID short Tt": func() duties {
			return track(improved, 0, tf).fixed()
		},
		"improved SIMC PID":     func() duties { return track(improved, 3.5*one.L, tf).fixed() },
		"SIMC PID second order": func() duties { return track(second, 0, tf).fixed() },
		"eased ramp and feed-forward": func() duties {
			return easedRamp(m, track(improved, 0, tf))
		},
		"predictive cut": func() duties { return predictiveCut(m, track(second, 0, tf)) },
	}
}
