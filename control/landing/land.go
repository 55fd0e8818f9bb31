package landing

import (
	"math"

	"strawline/control/pid"
)

// landed is the way down and what follows it.
type landed struct {
	obs    observer
	m      Model
	was    Model // before a door lengthened the lag; the zero Model if none did
	most   float64
	since  float64 // when the landing began
	calm   float64 // s
	loads  [8]float64
	gains  pid.Config
	soak   pid.Config // taken when the settling is over; K is 0 if they are in force
	st     pid.State
	held   float64 // when the loop took over
	settle float64 // for how long the load is followed then, s
	outs   [4]float64
	taught bool    // a landing without a test is over
	below  float64 // °C below the setpoint where a first landing was aimed
	rise   float64 // when the rest of the way began; 0 not yet
}

// Figures of the landing, from the design study.
const (
	poleTau  = 0.50 // landing poles in lags and in dead times
	poleTau2 = 0.35
	poleTh   = 0.50
	poleTh2  = 0.35
	aimLow   = 0.9  // behind it the loop aims so many sigma low
	aimMost  = 0.4  // °C, at most
	otherLow = 3.0  // and the landing so many times that where the oven is not the model's
	release  = 5.0  // lags in which that is let go
	settleIn = 20.0 // lags
	near     = 1.0  // °C
	calmHeat = 0.15
	calmAsk  = 0.6
	calmIn   = 1.0  // lags
	loadIn   = 8.0  // lags in which a cold load becomes the one that holds
	longest  = 15.0 // lags
	unsure   = 0.25 // beyond this the gains move towards caution
	unlike   = 0.45 // and beyond this share the model is another oven's
	passed   = 2.0  // °C above the setpoint that no model that fits gives
)

func (d *landed) settling(now float64) bool { return d.obs.on && now < d.held+d.settle }

// observe takes the look into whichever observer runs.
func (l *Law) observe(h, y float64) {
	o := &l.down.obs
	if l.ph == Heat {
		o = &l.up.watch
	}
	if !o.on || l.ph == Door {
		return
	}
	if l.ph != Heat && l.m0.Hold > 0 {
		o.x[2] -= (o.x[2] + l.m0.Hold) * h / (loadIn * o.m.Lag())
	}
	o.advance(h, l.past.mean(l.now-h-o.m.Th, l.now-o.m.Th))
	o.see(y, l.noise.sigma*l.noise.sigma)
	d := &l.down
	copy(d.loads[:], d.loads[1:])
	d.loads[len(d.loads)-1] = o.load()
	shut := l.now-l.door.since > doorLong*d.m.Lag()
	if l.m0.known() && l.ph != Heat && d.below == 0 && shut && o.x[0]-l.r > passed {
		l.odd = true
	}
}

// other says that the start showed a clearly longer lag than the model has.
func (d *landed) other(m Model) bool { return d.m.Lag() > (1+unsure)*cmpOr(m.Start, m.Lag()) }

// aim gives how far below the setpoint is aimed.
func (l *Law) aim() float64 { return min(aimMost, aimLow*l.noise.sigma) }

// target gives the duty of the landing law on the state one dead time ahead, and the load.
func (l *Law) target(r float64, o *observer) (v, w float64) {
	m := &o.m
	y, q := o.ahead(&l.past, l.now)
	w = o.load()
	z := q - w
	if l.m0.known() && m.Lag() > (1+unsure)*cmpOr(l.m0.Start, l.m0.Lag()) {
		r -= otherLow * l.aim()
	}
	ta := max(poleTau*m.Tau, poleTh*m.Th)
	tb := max(poleTau2*m.Tau, poleTh2*m.Th)
	return w + z + m.Tau*((r-y)/(m.K*ta*tb)-z*(1/ta+1/tb)), w
}

// land0 begins the landing.
func (l *Law) land0(o observer, m Model, in Input) {
	d := &l.down
	d.obs, d.m, d.was = o, m, Model{}
	d.below = l.short(in.R, l.model())
	if l.learn.known() && !l.m0.known() && !d.taught {
		d.below = max(shortLeast, shortShare*math.Abs(in.R-l.up.first))
	}
	d.most = l.cfg.Most
	if l.ph == Heat && l.up.duty > 0 {
		d.most = l.up.duty
	} else if !l.up.cold {
		d.most = l.govern(o.x[0], in.R, m)
	}
	l.begin()
	for i := range d.loads {
		d.loads[i] = o.load()
	}
}

// begin makes it a landing from now on.
func (l *Law) begin() {
	l.ph = Land
	l.down.obs.qd = walkW
	l.down.since, l.down.calm = l.now, 0
}

// land goes on with the landing; more is false when the loop takes over.
func (l *Law) land(h float64, in Input) (u float64, more bool) {
	d := &l.down
	o := &d.obs
	r := in.R - d.below
	v, w := l.target(r, o)
	y, q := o.x[0], o.x[1]
	if math.Abs(r-y) < near && math.Abs(q+o.x[2]) < calmHeat && math.Abs(v-w) < calmAsk {
		d.calm += h
	} else {
		d.calm = 0
	}
	lag := d.m.Lag()
	if d.calm >= max(3, calmIn*lag) || l.now-d.since > longest*lag {
		l.toHold(y, d.m.K*(q+o.x[2]), w, r)
		return 0, false
	}
	return min(v, d.most), true
}

// toHold hands over to the loop without a bump: at reading y that moves by slope, with the load
// w as its integral.
func (l *Law) toHold(y, slope, w, r float64) {
	d := &l.down
	if d.was.known() {
		d.m, d.obs.m, d.was = d.was, d.was, Model{}
	}
	m := l.m0
	factor := 1.0
	if !m.known() {
		m, factor = d.m, untested
	} else if s := d.m.Lag() / m.Lag(); math.Abs(s-1) > unsure || math.Abs(d.m.K/m.K-1) > unsure {
		m.K = max(m.K, d.m.K)
		m.Tau, m.Th = m.Tau*max(1, s), m.Th*max(1, s)
		if math.Abs(math.Log(s)) > unlike || math.Abs(math.Log(d.m.K/l.m0.K)) > unlike {
			l.odd = true
		}
	}
	m.Sigma = l.noise.sigma
	var lam float64
	d.gains, lam = holdGains(m, factor, false)
	d.soak, lam = holdGains(m, factor, true)
	if l.cfg.Own {
		d.gains, d.soak = l.cfg.Gains, l.cfg.Gains
	}
	g := d.gains
	d.st = pid.State{Begun: true, I: w + (1-g.B)*g.K*r, Yf: y - slope*g.Tf, D: -g.K * g.Td * slope,
		R: r, V: w, U: w}
	d.obs.qd = soakW
	if !l.m0.known() || d.other(l.m0) {
		d.obs.qd = soakFirst
	}
	d.held, d.settle = l.now, settleIn*max(m.Lag(), lam/aggressive)
	l.ph = Hold
	for i := range d.outs {
		d.outs[i] = w
	}
}

// plain is the loop alone, on the gains of the Config, from no integral.
func (l *Law) plain(y float64, in Input) {
	d := &l.down
	d.obs.on, d.below, d.settle = false, 0, 0
	d.gains, d.soak = l.cfg.Gains, pid.Config{}
	// From cold the integral begins at 0, not bumpless from no heat: that would park it far below
	// and creep up.
	d.st = pid.State{Begun: true, I: l.kept + (1-d.gains.B)*d.gains.K*in.R, Yf: y, R: in.R}
	if l.u > 0 { // somebody else had the duty: no bump
		d.st = pid.Preset(d.gains, l.u, in.R, y)
	}
	l.ph = Hold
}

// resume goes on from a duty that somebody else gave: the loop moves away from it at its own
// pace.
func (l *Law) resume(y float64, in Input) {
	d := &l.down
	d.obs, d.m, d.was = l.up.watch, l.up.watch.m, Model{}
	d.below, d.rise = 0, 0
	l.toHold(y, 0, l.u, in.R)
	d.settle, d.held = 0, math.Inf(-1)
	if d.soak.K > 0 {
		d.gains, d.soak = d.soak, pid.Config{}
	}
	d.st = pid.Preset(d.gains, l.u, in.R, y)
}

// keep gives the load that held before, to begin from again.
func (d *landed) keep() float64 {
	if d.obs.on {
		return d.obs.load()
	}
	return max(0, d.st.I-(1-d.gains.B)*d.gains.K*d.st.R)
}

// hold is the loop.
func (l *Law) hold(h, y float64, in Input) (float64, error) {
	d := &l.down
	r := in.R - d.below + l.approach(h)
	ff := 0.0
	g := d.gains
	if d.obs.on {
		w := d.obs.load()
		switch {
		case l.now < d.held+d.settle:
			d.st.I = w + (1-g.B)*g.K*r
		case d.soak.K > 0:
			g, d.gains, d.soak = d.soak, d.soak, pid.Config{}
			d.st.I = w + (1-g.B)*g.K*r
		}
		r -= l.aim() * math.Exp(-min(700, l.now-d.held)/(release*d.m.Lag()))
		if d.rise > 0 {
			ff = d.below / (riseIn * d.m.Lag()) / d.m.K
		}
	}
	return l.loop(h, y, r, ff)
}

// loop steps the loop, and gives the mean of its outputs over a window: a board that takes one
// output in several would fold their noise into what it gives.
func (l *Law) loop(h, y, r, ff float64) (float64, error) {
	d := &l.down
	in := pid.Input{H: h, R: r, Y: y, FF: ff}
	if off := l.past.mean(l.now-h, l.now) - l.u; math.Abs(off) > pid.Rounding {
		in.HasApplied, in.Applied = true, d.st.U+off
	}
	st, out, err := pid.Step(d.gains, d.st, in)
	if err != nil {
		return 0, err
	}
	d.st = st
	copy(d.outs[:], d.outs[1:])
	d.outs[len(d.outs)-1] = out.U
	n := min(len(d.outs), max(1, int(math.Round(l.cfg.Window/h))))
	u := 0.0
	for _, v := range d.outs[len(d.outs)-n:] {
		u += v / float64(n)
	}
	return u, nil
}

// riseIn is in how many lags the rest of the way of a first landing is gone.
const riseIn = 6.0

// approach gives how much of the rest of the way is gone, and ends it.
func (l *Law) approach(h float64) float64 {
	d := &l.down
	if d.below == 0 {
		return 0
	}
	lag := d.m.Lag()
	if d.rise == 0 {
		if l.now-d.held > 3*lag && math.Abs(d.obs.x[0]-(l.r-d.below)) < 2 {
			d.rise = l.now
		}
		return 0
	}
	gone := d.below * (l.now - d.rise) / (riseIn * lag)
	if gone >= d.below {
		d.below, d.rise, d.taught = 0, 0, true
		d.held = l.now
		return 0
	}
	return gone
}

// again is a new landing at a setpoint that was moved, or at the end of a ramp.
func (l *Law) again(y float64, in Input) {
	d := &l.down
	if !d.obs.on {
		if l.ph == Follow {
			l.ph = Hold
		}
		return
	}
	d.below, d.rise = 0, 0
	d.most = l.cfg.Most
	if in.R-y > d.m.K*d.m.Tau {
		d.most = l.govern(y, in.R, d.m)
	}
	l.begin()
}

// follow is the loop on a setpoint that moves: its slope and the load are fed forward, and near
// the goal the landing takes it.
func (l *Law) follow(h, y float64, in Input) (float64, error) {
	d := &l.down
	if l.ph != Follow {
		l.toFollow(y, in)
	}
	if !d.obs.on {
		return l.loop(h, y, in.R, 0)
	}
	w := d.obs.load()
	d.st.I = w + (1-d.gains.B)*d.gains.K*in.R
	u, err := l.loop(h, y, in.R, in.Rate/d.m.K)
	if err != nil {
		return 0, err
	}
	v, _ := l.target(in.Goal, &d.obs)
	if in.Rate > 0 {
		return min(u, v), nil
	}
	return max(u, v), nil
}

func (l *Law) toFollow(y float64, in Input) {
	d := &l.down
	m := l.model()
	switch {
	case l.cfg.NoLanding || !m.known():
		l.plain(y, in)
	case l.ph == Heat:
		d.obs, d.m = l.up.watch, m
		l.toHold(y, 0, d.obs.load(), in.R)
	case l.ph == Land:
		l.toHold(d.obs.x[0], d.m.K*(d.obs.x[1]+d.obs.x[2]), d.obs.load(), in.R)
	}
	d.below, d.rise = 0, 0
	l.ph = Follow
}
