package landing

import "math"

// observer estimates the reading without its noise, the heat that arrives and the load, by a
// Kalman filter on the Model: x is y, q and d = -w.
type observer struct {
	on bool
	m  Model
	x  [3]float64
	p  [3][3]float64
	qd float64 // random walk of the load, duty per square root of a second
}

// Noise of the process, from the design study: of the reading, °C per square root of a second;
// and of the heater's lag while heat is on its way, as a share.
const (
	walkY   = 0.02
	lagOff  = 0.15
	walkW   = 1.5e-3
	soakW   = 4.5e-3 // of the load once the reading is near the setpoint: the cold load fades
	tinyVar = 1e-8

	soakFirst = 1.4e-3 // the same where no test was made
)

func newObserver(m Model, y, q, d, vy, vq, vd float64) observer {
	return observer{on: true, m: m, x: [3]float64{y, q, d},
		p: [3][3]float64{{vy, 0, 0}, {0, vq, 0}, {0, 0, vd}}, qd: walkW}
}

// advance goes on by h seconds in which the duty ud arrived.
func (o *observer) advance(h, ud float64) {
	m := &o.m
	a := math.Exp(-h / m.Tau)
	c := m.K * m.Tau * (1 - a)
	y, q, d := o.x[0], o.x[1], o.x[2]
	dy := m.K*(ud+d)*h + (q-ud)*c
	o.x = [3]float64{y + dy, a*q + (1-a)*ud, d - dy/(m.K*m.T)}
	f := [3][3]float64{{1, c, m.K * h}, {0, a, 0}, {0, 0, 1}}
	var fp, p [3][3]float64
	for i := range 3 {
		for j := range 3 {
			for l := range 3 {
				fp[i][j] += f[i][l] * o.p[l][j]
			}
		}
	}
	for i := range 3 {
		for j := range 3 {
			for l := range 3 {
				p[i][j] += fp[i][l] * f[j][l]
			}
		}
	}
	e := lagOff * (1 - a) * (ud - q)
	p[0][0] += walkY * walkY * h
	p[1][1] += e*e + tinyVar
	p[2][2] += o.qd * o.qd * h
	o.p = p
}

// see takes a reading of variance v.
func (o *observer) see(y, v float64) {
	s := o.p[0][0] + v
	k := [3]float64{o.p[0][0] / s, o.p[1][0] / s, o.p[2][0] / s}
	off := y - o.x[0]
	row := o.p[0]
	for i := range 3 {
		o.x[i] += k[i] * off
		for j := range 3 {
			o.p[i][j] -= k[i] * row[j]
		}
	}
}

// load gives the duty that holds now.
func (o *observer) load() float64 { return min(mostLoad, max(0, -o.x[2])) }

// mostLoad keeps the law from asking for ever more of an oven that holds at full duty.
const mostLoad = 0.95

// ahead gives reading and arriving heat when all that was sent has arrived.
func (o *observer) ahead(p *past, now float64) (y, q float64) {
	m := &o.m
	y, q = o.x[0], o.x[1]
	d := o.x[2]
	n := int(math.Ceil(m.Th))
	if n == 0 {
		return y, q
	}
	h := m.Th / float64(n)
	a := math.Exp(-h / m.Tau)
	c := m.Tau * (1 - a)
	at := p.at(now - m.Th)
	for i := range n {
		next := p.at(now - m.Th + float64(i+1)*h)
		ud := (next - at) / h
		at = next
		y += m.K * ((ud+d)*h + (q-ud)*c)
		q = ud + (q-ud)*a
	}
	return y, q
}
