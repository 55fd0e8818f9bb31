package tune

import "math"

// Guards of the cold start. Our choices, except the lags that a heat-up must have gone on for
// so that the heater's own warm-up is over (design study of the landing).
const (
	minHeat      = 0.2  // duty that a heat-up must have
	coldRise     = 30.0 // °C that it must rise
	matureLags   = 4.5  // apparent dead times that it must last
	steadyBefore = 0.02 // °C/s that the reading may move before it
	tangentShare = 3    // the slope is taken over this part of the heat-up so far
)

// ColdStart identifies from the heat-up of a record: the first stretch with heat after one
// without, or at its start, for as long as the duty stays. The rest of the record is left
// alone. The error is a *Refusal.
func ColdStart(r Record) (Found, error) {
	heat, before, err := r.heatUp()
	if err != nil {
		return Found{}, err
	}
	if err := heat.check(); err != nil {
		return Found{}, err
	}
	if err := before.figures(); err != nil {
		return Found{}, err
	}
	f := Found{Test: "cold start"}
	f.Sigma, f.LSB = heat.Noise()
	if err := heat.checkDoor(f.Sigma, 1); err != nil {
		return Found{}, err
	}
	if len(before) >= minSamples/3 {
		if _, drift, se := line(before, f.Sigma); math.Abs(drift) > steadyBefore+2*se {
			return Found{}, refuse(Wanders, "before the heat the reading moved by %.2f °C a minute; "+
				"a cold start begins where nothing moves", 60*drift)
		}
	}
	start, end := heat.begin(), tail(heat)
	if end-start < coldRise {
		return Found{}, refuse(TooSmall, "the heat-up at one duty is %.1f °C; at least %.0f °C "+
			"are needed", end-start, coldRise)
	}
	if err := f.bigEnough(end - start); err != nil {
		return Found{}, err
	}
	duty := heat[0].Duty
	steep := heat.tangent(start, f.Sigma)
	if span := heat[len(heat)-1].T - heat[0].T; span < matureLags*steep.L || steep.L == 0 {
		return Found{}, refuse(TooShort, "the heat-up at one duty lasted %.0f s; with a dead time "+
			"of %.0f s it takes %.0f s", span, steep.L, matureLags*steep.L)
	}
	if !(steep.Half.L < sureEnough*steep.L) || len(before) == 0 && heat.underWay(steep, f.Sigma) {
		return Found{}, refuse(NoTest, "the record does not show where the heat-up began")
	}
	steep.Kv /= duty
	steep.Half.Slope /= duty
	f.Checks = []Check{{"steepest tangent", steep}}
	c := newCourse(heat, 0, false)
	guess := Model{L: steep.L, T: heat[len(heat)-1].T - heat[0].T}
	if err := f.identify(c, guess, end-start); err != nil {
		return Found{}, err
	}
	// A cold heater warms up more slowly than a hot one answers, so that the shorter lag of a
	// cold start is too long for gains. One lag if the record bends enough to tell it, else the
	// steepest slope, which is surest.
	f.Model = steep
	if h := f.First.Half; h.T < sureEnough*f.First.T && h.L < sureEnough*f.First.L {
		f.Model = f.First
	}
	return f, nil
}

// heatUp finds the stretch, and what came before it.
func (r Record) heatUp() (heat, before Record, err error) {
	ls := r.levels()
	for i, l := range ls {
		if l.duty < minHeat {
			continue
		}
		if i > 0 && ls[i-1].duty > sameDuty {
			return nil, nil, refuse(NoTest, "the heat-up does not begin from no heat")
		}
		last := len(r)
		if i+1 < len(ls) {
			last = min(last, ls[i+1].first+1) // the reading at the change still belongs to it
			heat = append(Record(nil), r[l.first:last]...)
			heat[len(heat)-1].Duty = l.duty
		} else {
			heat = r[l.first:last]
		}
		return heat, r[:l.first], nil
	}
	return nil, nil, refuse(NoTest, "the record has no heat-up at a duty of %.0f %% or more",
		100*minHeat)
}

// begin is the reading where a heat-up starts: the mean of its first few.
func (r Record) begin() float64 {
	n := min(len(r), 5)
	sum := 0.0
	for _, s := range r[:n] {
		sum += s.Y
	}
	return sum / float64(n)
}

// underWay reports whether the reading rose during the first dead time by more than half of what
// the steepest slope would have made it rise.
func (r Record) underWay(steep Model, sigma float64) bool {
	n := 0
	for n < len(r) && r[n].T-r[0].T <= steep.L {
		n++
	}
	if n < 3 {
		return true // no dead time to see
	}
	_, slope, se := line(r[:n], sigma)
	return slope > steep.Kv/2+2*se
}

// tangent gives the slope and the dead time of the tangent that leaves the start latest, which
// is the steepest, each taken over the last third of the heat-up so far. The intervals are those
// of a straight line; that the heat-up bends a little within it comes on top.
func (r Record) tangent(start, sigma float64) Model {
	best := Model{Kind: Integrating}
	for n := minSamples / 3; n <= len(r); n += 1 + len(r)/200 {
		w := r[n-max(8, n/tangentShare) : n]
		mid, s, se := line(w, sigma)
		if !(s > 0) || mid < start+coldRise/10 {
			continue
		}
		way := (mid - start) / s
		x := (w[0].T+w[len(w)-1].T)/2 - r[0].T - way
		if x > best.L {
			best.Kv, best.L = s, x
			best.Half = Half{Slope: 1.96 * se,
				L: 1.96 * math.Hypot(sigma/math.Sqrt(float64(len(w)))/s, way*se/s)}
		}
	}
	return best
}
