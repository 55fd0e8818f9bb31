package landing

import "math"

// heatUp is a start from far below the setpoint.
type heatUp struct {
	began float64 // on the law's clock
	trail trail
	first float64 // mean of the first looks, °C
	cold  bool    // nothing was hot before it
	duty  float64
	since float64 // when the duty became that, s since the start
	lag   float64 // where the steepest tangent so far leaves the start, s
	lagAt float64 // when it was found, s since the start
	watch observer
}

// Figures of the start, in lags where no unit stands: from the design study, where they were
// chosen on two ovens and tried on hundreds.
const (
	governTau  = 6.0  // a heat-up is stretched to at least so many lags
	governTh   = 14.0 // and dead times
	governHold = 1.25 // the duty at the landing over the one that holds later
	usualHold  = 0.28 // the duty that holds, where nobody knows
	firstDuty  = 0.7  // of a start of which nothing is known
	splitTest  = 0.5
	split      = 0.3  // dead time over lag, where no test told it
	mature     = 4.5  // lags that a start must last
	stale      = 0.5  // age of the tangent
	twoScales  = 15.0 // a time constant shorter than so many lags: two scales, keep the test's k
	shut       = 10.0 // °C below the setpoint from which there is no heat-up
	coldLoad   = 1.27 // what a cold case and blade take at the landing over what holds later
	oldLoad    = 0.06 // by how much at most that moves what the slope says
	warm       = 35.0 // °C above the room from which a start is not cold
)

// start begins at what the first look shows.
func (l *Law) start(y float64, in Input) {
	m := l.model()
	up := &l.up
	up.began, up.first, up.duty, up.since, up.lag, up.lagAt = l.now, y, 0, 0, 0, 0
	up.trail.reset()
	up.watch.on = false
	up.cold = y < in.Room+warm && !l.far
	if l.cfg.NoLanding || !m.known() && (!up.cold || y > in.R-shut) {
		l.plain(y, in)
		return
	}
	if !m.known() {
		l.ph = Heat
		return
	}
	load := cmpOr(l.kept, m.Hold)
	q, vq := 0.0, 0.01
	if l.far {
		q, vq = l.past.mean(l.now-m.Th-m.Tau, l.now-m.Th), 0.04
	}
	if up.cold {
		load = 0
	}
	if up.cold {
		m = m.started()
	}
	up.watch = newObserver(m, y, q, -load, 0.1, vq, 0.04)
	l.ph = Heat
	if l.u > 0 && l.kept > 0 && math.Abs(y-in.R) < shut {
		l.resume(y, in)
		return
	}
	if y > in.R-shut {
		l.land0(up.watch, m, in)
	}
}

// model is what is known: from a test, or from a start before.
func (l *Law) model() Model {
	if l.m0.known() {
		return l.m0
	}
	return l.learn
}

// govern gives the duty of a heat-up: only an over-powered oven is throttled.
func (l *Law) govern(y, r float64, m Model) float64 {
	hold := cmpOr(m.Hold, usualHold)
	m = m.started()
	u := (r-y)/(m.K*(governTau*m.Tau+governTh*m.Th)) + governHold*hold
	return min(l.cfg.Most, max(0.05, u))
}

// heat goes on with the start; more is false when the landing or the loop has it from now on.
func (l *Law) heat(y float64, in Input) (u float64, more bool) {
	up := &l.up
	t := l.now - up.began
	up.trail.add(t, y)
	if up.trail.n <= 3 {
		up.first = 0
		for _, v := range up.trail.y[:up.trail.n] {
			up.first += v / float64(up.trail.n)
		}
	}
	m := l.model()
	if y > in.R { // the setpoint was lowered: there is nothing to heat up to
		l.u = 0
		if m.known() {
			l.land0(up.watch, m, in)
		} else {
			l.plain(y, in)
		}
		return 0, false
	}
	r := in.R - l.short(in.R, m)
	switch {
	case up.duty == 0 && m.known():
		up.duty = l.govern(y, in.R, m)
	case up.duty == 0:
		up.duty = min(l.cfg.Most, firstDuty)
	}
	up.tangent(l.noise.sigma)
	l.tooWeak(t, y, r, m)
	lag := max(up.lag, 4, m.Lag())
	if t < 12 || up.trail.n < 12 || t < up.since+2*up.lag {
		return up.duty, true
	}
	_, ym, sl := up.trail.lately(t - max(10, lag))
	if ym+(1.5*lag+10)*max(sl, 0) < r {
		return up.duty, true
	}
	if m.known() && (!up.cold || !up.ripe() && up.lag < 1.15*m.Lag()) {
		v, _ := l.target(r, &up.watch)
		if v >= up.duty {
			return up.duty, true
		}
		l.land0(up.watch, m, in)
		return 0, false
	}
	m, ye, se := l.startModel(m, in.Room)
	if !m.known() { // it does not rise at full duty
		return up.duty, true
	}
	load := up.duty - se/m.K
	if m.Hold > 0 && l.m0.known() {
		load += max(-oldLoad, min(oldLoad, coldLoad*m.Hold-load))
	}
	o := newObserver(m, ye, up.duty, -load, 0.02, 1e-4, 0.03*0.03)
	v, _ := l.target(r, &o)
	if v >= up.duty {
		return up.duty, true
	}
	l.learn = m
	l.land0(o, m, in)
	return 0, false
}

// tooWeak raises the duty of a start that knew nothing where it would take too long.
func (l *Law) tooWeak(t, y, r float64, m Model) {
	up := &l.up
	if m.known() || up.duty >= l.cfg.Most || up.lag == 0 || t < max(10*up.lag, 90) {
		return
	}
	_, _, sl := up.trail.lately(t - max(16, 1.5*up.lag))
	if r-y > 20*up.lag*max(sl, 0) {
		up.duty, up.since = l.cfg.Most, t
	}
}

// tangent keeps the latest point where a tangent of the last third leaves the start.
func (u *heatUp) tangent(sigma float64) {
	r := &u.trail
	if r.n < 12 || u.since > 0 {
		return
	}
	end := r.t[r.n-1]
	t, y, slope := r.line(min(r.n-8, r.since(end*2/3)))
	if slope <= 0.02 || y-u.first <= max(3, 10*sigma) {
		return
	}
	if x := t - (y-u.first)/slope; x > u.lag {
		u.lag, u.lagAt = x, end
	}
}

// ripe says that the tangent has stopped moving and that the heater's own warm-up is over.
func (u *heatUp) ripe() bool {
	if u.trail.n == 0 {
		return false
	}
	end := u.trail.t[u.trail.n-1]
	return u.lag > 0 && end-u.lagAt >= stale*u.lag && end >= mature*u.lag
}

// startModel gives what the start tells at its present end: the model for the landing, the
// reading and its slope.
func (l *Law) startModel(m0 Model, room float64) (m Model, y, slope float64) {
	up := &l.up
	r := &up.trail
	end := r.t[r.n-1]
	lag := max(3, up.lag)
	base := min(up.first, 40)
	if finite(room) && up.cold {
		base = min(base, room+5)
	}
	i := min(r.since(max(end-max(16, 1.5*lag), up.since)), r.n-8)
	t, ym, sl := r.line(i)
	k, b, ok := r.gain(r.since(max(up.since+3.5*up.lag, up.since+(end-up.since)/2)), up.duty, base,
		l.noise.sigma)
	if !up.ripe() {
		ok = false
	}
	switch {
	case !m0.known():
		if !up.ripe() {
			lag *= 1.25
		}
		m = Model{K: sl / (0.72 * up.duty), Tau: (1 - split) * lag, Th: split * lag, T: 20 * lag,
			Hold: usualHold}
	default:
		s := max(1, up.lag/m0.Lag())
		if up.ripe() {
			s = min(3, max(0.4, up.lag/m0.Lag()))
		}
		m = m0
		m.Tau, m.Th = m0.Tau*s, m0.Th*s
		if k < 0.5*m0.K || k > 2*m0.K || b*lag*twoScales > 1 {
			ok = false
		}
	}
	if ok {
		m.K, m.T = k, min(60*lag, max(5*lag, 1/b))
	}
	b = 1 / m.T
	h := end - t
	slope = sl * (1 - b*h)
	return m, ym + sl*h - 0.5*b*sl*h*h, slope
}

// short is how far below the setpoint a first landing is aimed where no test was made: what
// follows is learnt there.
func (l *Law) short(r float64, m Model) float64 {
	if m.known() || l.down.taught {
		return 0
	}
	return max(shortLeast, shortShare*math.Abs(r-l.up.first))
}

// Our choices: on a wide set of random ovens a landing without a model passes its mark by at
// most this, 95 times of 100.
const (
	shortLeast = 6.0
	shortShare = 0.08
)
