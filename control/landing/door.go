package landing

import "math"

// doorState is an opened door and the minutes behind it.
type doorState struct {
	since float64
	load  float64 // duty meanwhile
	steep float64 // largest slope of the recovery, °C/s
	at    float64 // when that was
}

// Figures of the door, from the design study.
const (
	doorFall  = 3.6 // fall within three looks, in seconds of full power
	doorNoise = 10.0
	doorLong  = 20.0 // lags
	doorRise  = 0.15
	doorLag   = 3.0
)

// doorOpened says that the reading falls as no heater lets it.
func (l *Law) doorOpened() bool {
	m := l.down.m
	if l.ph == Heat {
		m = l.model()
	}
	if l.seen < 5 || !m.known() || l.ph == 0 || l.cfg.NoLanding {
		return false
	}
	fall := l.last[lately-4] - l.last[lately-1]
	return fall > max(doorNoise*l.noise.sigma, doorFall*m.K)
}

func (l *Law) openDoor() {
	d := &l.down
	if l.ph == Heat {
		d.obs, d.m = l.up.watch, l.model()
		d.below = 0
		d.most = l.up.duty
		l.door.load = min(l.up.duty, governHold*cmpOr(d.m.Hold, usualHold))
	} else {
		l.door.load = d.loads[0] // before the fall was taken for load
		if !d.obs.on {
			l.door.load = d.st.I - (1-d.gains.B)*d.gains.K*l.r
		}
	}
	l.door.load = min(l.cfg.Most, max(0, l.door.load))
	l.door.since, l.door.steep, l.door.at = l.now, 0, l.now
	l.ph = Door
}

// doorStep holds the duty until the air's own recovery has slowed to 1/e of its fastest: the
// time that took is the lag by which to tell where it will end.
func (l *Law) doorStep(h float64) (done bool, u float64) {
	d, w := &l.down, &l.door
	m := d.m
	if d.was.known() {
		m = d.was
	}
	n := min(lately, l.seen, max(6, int(0.3*m.Lag()/h)))
	y, slope := meanSlope(l.last[lately-n:], h)
	if w.steep > 0 && l.doorOpened() { // opened once more
		w.since, w.steep = l.now, 0
	}
	if slope > w.steep && l.last[lately-1] > l.last[lately-6]+4*l.noise.sigma {
		w.steep, w.at = slope, l.now
	}
	late := l.now-w.since > doorLong*m.Lag()
	if !late && !(w.steep > doorRise*m.K && slope < w.steep/math.E) {
		return false, w.load
	}
	slow := m
	if !late {
		slow.Tau = min(doorLag*m.Lag(), max(m.Tau, l.now-w.at))
	}
	vq := 0.25 * slope / m.K
	end := y + slope*float64(n-1)/2*h
	d.obs = newObserver(slow, end, slope/m.K+w.load, -w.load, 0.2, vq*vq+0.01/(m.K*m.K), 0.05*0.05)
	d.was, d.m = m, slow
	d.most = l.cfg.Most
	if l.r-end > m.K*m.Lag() {
		d.most = l.govern(end, l.r, m)
	}
	for i := range d.loads {
		d.loads[i] = w.load
	}
	l.begin()
	return true, 0
}

// meanSlope fits a straight line to looks h seconds apart.
func meanSlope(ys []float64, h float64) (mean, slope float64) {
	n := float64(len(ys))
	for _, y := range ys {
		mean += y / n
	}
	mid := (n - 1) / 2
	for i, y := range ys {
		slope += (float64(i) - mid) * (y - mean)
	}
	return mean, slope / (n * (n*n - 1) / 12) / h
}
