package tune

import (
	"fmt"
	"math"
)

// Report is all that is known of one set of gains before they are taken.
type Report struct {
	Name       string // of the rule
	Gains      Gains
	Margins    Margins
	Wander     float64 // °C rms, what the reading's noise makes of the temperature
	Prediction Prediction
	Predicted  bool   // false if the scene cannot be played; Why says why
	Warning    string // what speaks against it; empty if nothing does
	Why        string // why there are no gains, or no prediction; empty if there are
	OK         bool   // there are gains
}

// Noise is that of the readings.
type Noise struct {
	Sigma float64 // standard deviation of one reading, °C
	Every float64 // s between readings
}

// filterShare is the measurement filter's time constant in apparent dead times: noise counts
// less, and the loop hardly feels it (reference study: L/10).
const filterShare = 0.1

// derivativeLimit is N; from memory, Åström and Hägglund give 5 to 20.
const derivativeLimit = 8

// NewSetup gives the setup that goes with a model: filter and derivative limit by its lag.
func NewSetup(m Model, n Noise, window float64) Setup {
	return Setup{Every: n.Every, Window: window, N: derivativeLimit,
		Tf: max(n.Every, filterShare*m.Lag())}
}

// DefaultScene is a heat-up from 20 to 200 °C, or to where half the duty holds if the model does
// not go so far.
func DefaultScene(m Model) Scene {
	sc := Scene{Room: 20, Start: 20, Set: 200}
	if m.Kind != Integrating {
		sc.Set = min(sc.Set, sc.Room+m.K/2)
	}
	return sc
}

// Judge works out everything about gains.
func Judge(name string, m Model, g Gains, s Setup, sigma float64, sc Scene) Report {
	loop := s.Close(m, g)
	r := Report{Name: name, Gains: g, OK: true, Margins: loop.Margins()}
	if r.Margins.Stable {
		r.Wander = loop.Wander(sigma)
	} else {
		r.Warning = "swings by itself with this model"
	}
	p, err := Predict(m, g, s, sc)
	if err != nil {
		r.Why = err.Error()
		return r
	}
	r.Prediction, r.Predicted = p, true
	return r
}

// Table judges every rule, in the order of Rules.
func Table(m Model, n Noise, window float64, sc Scene) []Report {
	s := NewSetup(m, n, window)
	var out []Report
	for _, rule := range Rules() {
		g, err := rule.Gains(m)
		if err != nil {
			out = append(out, Report{Name: rule.String(), Why: err.Error(),
				Warning: rule.Warning()})
			continue
		}
		r := Judge(rule.String(), m, g, s, n.Sigma, sc)
		if w := rule.Warning(); w != "" && r.Warning != "" {
			r.Warning += "; " + w
		} else if w != "" {
			r.Warning = w
		}
		out = append(out, r)
	}
	return out
}

// Choice is one set of gains to offer.
type Choice struct {
	Report
	Lambda float64 // s, what the speed was set to: closed-loop time constant and dead time
	Reason string  // one sentence in plain words
}

// What the choices are held to. Ms up to 1.6 and up to 2 are the calm and the bold end of what
// the textbooks use; slope or a lag of the model may be wrong by 30 %; the temperature may
// wander by 0.06 °C for the reading's noise alone.
const (
	bestMs      = 1.6
	bestWrongMs = 2.0
	boldMs      = 2.0
	boldWrongMs = 3.0
	wrong       = 0.3
	quiet       = 0.06 // °C rms
	calmFactor  = 1.7  // of the best one's lambda
	slowest     = 64.0 // lags, beyond which noise does not slow it further
)

// Recommend gives the gains to offer: the best, a bolder and a calmer set, for a model, the
// noise of the readings and the heater's window (s). All three are SIMC gains, PID with the
// shorter lag if the model has one and else with a third of the dead time, as fast as their
// limits allow: nothing in them knows an oven. It is an error if the figures make no model or
// no speed keeps the limits.
func Recommend(m Model, n Noise, window float64) (best, bolder, calmer Choice, err error) {
	if err = m.Check(); err != nil {
		return best, bolder, calmer, err
	}
	if !positive(n.Every) || !(n.Sigma >= 0) || !(window >= 0) || !finite(n.Sigma+window) {
		return best, bolder, calmer, fmt.Errorf("tune: no readings every %g s, window %g s",
			n.Every, window)
	}
	s := NewSetup(m, n, window)
	v, ok := speeds(m, s, n.Sigma)
	if !ok {
		return best, bolder, calmer, fmt.Errorf("tune: no gains keep this model calm")
	}
	sc := DefaultScene(m)
	at := func(l float64) Choice {
		g := gainsAt(m, s.dead(m), l)
		return Choice{Report: Judge(family(m), m, g, s, n.Sigma, sc), Lambda: l}
	}
	best, bolder, calmer = at(v.best), at(v.bold), at(calmFactor*v.best)
	reasons(&best, &bolder, &calmer, v.why)
	return best, bolder, calmer, nil
}

// speed is what the choices come to.
type speed struct {
	best, bold float64 // lambda, s
	why        string  // what held the best one back
}

// dead is the loop's whole dead time, s: the model's, and sampling, window and filter.
func (s Setup) dead(m Model) float64 { return m.L + s.delay() + s.Tf }

// speeds finds the least lambda that keeps the limits; false if none does.
func speeds(m Model, s Setup, sigma float64) (v speed, ok bool) {
	dead := s.dead(m)
	least := 0.5 * (dead + m.T2) // faster than that it would live by the model alone
	calmest, ok := slowDown(m, s, least, func(l float64) bool {
		return calm(m, s, l, bestMs, bestWrongMs)
	})
	if !ok {
		return v, false
	}
	v.best, v.why = calmest, "as fast as leaves the loop calm"
	if calmest == least {
		v.why = "about as fast as the oven itself answers"
	}
	// If no speed keeps the noise down, it is left to what the model asks.
	quietest, ok := slowDown(m, s, calmest, func(l float64) bool {
		return s.Close(m, gainsAt(m, dead, l)).Wander(sigma) <= quiet
	})
	if ok && quietest > calmest {
		v.best, v.why = quietest, "slow enough that the noise of the readings does not shake the heat"
	}
	v.bold, ok = slowDown(m, s, max(least/2, v.best/2), func(l float64) bool {
		return calm(m, s, l, boldMs, boldWrongMs)
	})
	if !ok || v.bold > v.best {
		v.bold = v.best
	}
	return v, true
}

// family names the rule that gainsAt uses.
func family(m Model) string {
	if m.Kind == Second {
		return RuleSIMCPID.String()
	}
	return RuleImprovedPID.String()
}

// gainsAt gives SIMC gains whose closed-loop time constant and dead time together are lam. The
// dead time is the loop's, with sampling, window and filter in it.
func gainsAt(m Model, dead, lam float64) Gains {
	whole := m
	whole.L = dead
	s := SIMC(whole, lam-dead)
	if m.Kind != Second {
		s.TauD = dead / 3
	}
	return s.Ideal()
}

// slowDown gives the least lambda from a start on that is fine, to a per cent.
func slowDown(m Model, s Setup, from float64, fine func(float64) bool) (float64, bool) {
	if fine(from) {
		return from, true
	}
	low, high := from, from
	for !fine(high) {
		low, high = high, high*1.5
		if high > slowest*(s.dead(m)+m.T2) {
			return 0, false
		}
	}
	for high/low > 1.01 {
		if mid := math.Sqrt(low * high); fine(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return high, true
}

// calm reports whether the sensitivity peak stays below ms, and below wrongMs where one of
// slope, dead time and shorter lag is wrong by 30 % either way, and whether the loop is stable
// still where all of them are.
func calm(m Model, s Setup, lam, ms, wrongMs float64) bool {
	g := gainsAt(m, s.dead(m), lam)
	fine := func(slope, late, lag, limit float64) bool {
		w := m
		w.K, w.Kv, w.L, w.T2 = m.K*slope, m.Kv*slope, m.L*late, min(m.T2*lag, m.T)
		r := s.Close(w, g).Margins()
		return r.Stable && r.Ms <= limit
	}
	if !fine(1, 1, 1, ms) {
		return false
	}
	const up, down = 1 + wrong, 1 - wrong
	for _, x := range []float64{up, down} {
		if !fine(x, 1, 1, wrongMs) || !fine(1, x, 1, wrongMs) ||
			m.Kind == Second && !fine(1, 1, x, wrongMs) {
			return false
		}
	}
	for i := range 8 {
		way := func(bit int) float64 {
			if i&bit != 0 {
				return up
			}
			return down
		}
		if (m.Kind == Second || i < 4) && !fine(way(1), way(2), way(4), math.Inf(1)) {
			return false
		}
	}
	return true
}

// reasons writes the sentences, each from figures of its own choice.
func reasons(best, bolder, calmer *Choice, why string) {
	best.Reason = fmt.Sprintf("Recommended: %s, with room for the oven to differ from the model "+
		"by 30 %% (sensitivity peak %.2f).", why, best.Margins.Ms)
	bolder.Reason = fmt.Sprintf("Bolder: %s, but closer to swinging if the oven changes "+
		"(sensitivity peak %.2f).", door(bolder, best, "sooner"), bolder.Margins.Ms)
	calmer.Reason = fmt.Sprintf("Calmer: moves the heater less and forgives a model that is far "+
		"off (sensitivity peak %.2f), but %s.", calmer.Margins.Ms, door(calmer, best, "later"))
	if bolder.Lambda > 0.97*best.Lambda {
		bolder.Reason = fmt.Sprintf("Bolder: there is no bolder setting for this oven that stays "+
			"calm, so that this is the recommended one (sensitivity peak %.2f).", bolder.Margins.Ms)
	}
}

// door compares the answer to an opened door, and to any disturbance if that tells nothing.
func door(c, best *Choice, word string) string {
	d, b := c.Prediction.Door, best.Prediction.Door
	sooner := word == "sooner"
	if c.Predicted && best.Predicted && d.Settled && b.Settled && (d.Settle < b.Settle) == sooner &&
		d.Settle != b.Settle {
		return fmt.Sprintf("back at the setpoint %s after an opened door (%.0f s, not %.0f s)",
			word, d.Settle, b.Settle)
	}
	if sooner {
		return "answers a disturbance sooner"
	}
	return "answers a disturbance later"
}
