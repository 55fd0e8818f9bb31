package tune

import "math"

// Found is what a test found.
type Found struct {
	Model  Model   // what the record carries, for gains
	First  Model   // the fit with one time constant
	Second Model   // the fit with two; its Kind is 0 if there is none
	Test   string  // "cold start", "step test" or "relay test"
	Sigma  float64 // noise of one reading, standard deviation, °C
	LSB    float64 // step that readings are rounded to, °C; 0 for none
	Misfit float64 // rms by which Model's form misses the readings (averaged), °C
	Checks []Check // second opinions
}

// Check is what another way made of the same record.
type Check struct {
	Way   string
	Model Model
}

// Guards of the tests; from facts on the reference ovens unless they are called ours.
const (
	minStep      = 0.03  // duty that a step must move
	clear        = 20.0  // times the noise, or the rounding, that an answer must be
	maxWander    = 0.2   // share of the answer that the baseline may move in the record
	minRise      = 2.0   // °C that an answer must be at all; ours
	baseLags     = 4.0   // apparent dead times of baseline before a step; seven eighths pass
	answerLags   = 6.0   // of answer after it; ours
	sureEnough   = 0.5   // relative half width beyond which T is not told; ours
	settledTimes = 4.0   // time constants until a step response counts as settled; ours
	leastWorth   = 60.0  // readings that a choice of form is made on at least; ours
	closeEnough  = 0.05  // of the answer that the misfit may be; ours
	fineEnough   = 0.001 // of the answer, below which no second lag is looked for; ours
)

// StepTest identifies from a record in which the duty stays, moves once by at least 0.03, and
// stays again. The error is a *Refusal.
func StepTest(r Record) (Found, error) {
	if err := r.check(); err != nil {
		return Found{}, err
	}
	ls := r.levels()
	if len(ls) != 2 {
		return Found{}, refuse(NoTest,
			"a step test moves the duty once; this record has %d moves", len(ls)-1)
	}
	du := ls[1].duty - ls[0].duty
	if math.Abs(du) < minStep {
		return Found{}, refuse(TooSmall, "the duty was moved by %.1f %%; at least %.0f %% are needed",
			100*math.Abs(du), 100*minStep)
	}
	f := Found{Test: "step test"}
	f.Sigma, f.LSB = r.Noise()
	if du > 0 { // where the heat is taken away the reading may fall as it likes
		if err := r.checkDoor(f.Sigma, 1); err != nil {
			return Found{}, err
		}
	}
	base, after := r[:ls[1].first+1], r[ls[1].first:]
	if len(base) < minSamples/3 || len(after) < minSamples/2 {
		return Found{}, refuse(TooFew, "%d samples before the step and %d after it are too few",
			len(base)-1, len(after))
	}
	start, drift, driftSE := line(base, f.Sigma)
	start += drift * (base[len(base)-1].T - base[0].T) / 2
	span := r[len(r)-1].T - r[0].T
	rise := tail(after) - start - drift*(after[len(after)-1].T-after[0].T)
	if err := f.bigEnough(math.Abs(rise)); err != nil {
		return Found{}, err
	}
	if rise*du < 0 {
		return Found{}, refuse(Unlike, "the reading fell when the duty rose, or the other way round")
	}
	if math.Abs(drift)*span > maxWander*math.Abs(rise) {
		return Found{}, refuse(Wanders, "before the step the reading moved by %.2f °C a minute; "+
			"wait until the oven is steady", 60*drift)
	}
	ts, ys := make([]float64, len(after)), make([]float64, len(after))
	for i, s := range after {
		ts[i], ys[i] = s.T-after[0].T, s.Y-start-drift*(s.T-after[0].T)
	}
	guess, ok := TwoPoint(ts, ys, du)
	if !ok {
		guess = Model{T: span / 3, L: span / 50}
	}
	wanders := math.Abs(drift) > 2*driftSE
	if err := f.identify(newCourse(r, ls[0].duty, wanders), guess, math.Abs(rise)); err != nil {
		return Found{}, err
	}
	long := after[len(after)-1].T - after[0].T
	if ok && long > settledTimes*f.First.T { // the old ways need the end of the curve
		f.Checks = append(f.Checks, Check{"two points", guess})
		if m, ok := Area(ts, ys, du); ok {
			f.Checks = append(f.Checks, Check{"areas", m})
		}
	}
	return f, f.longEnough(base[len(base)-1].T-base[0].T, long)
}

// tail is the mean of the last twentieth of a record.
func tail(r Record) float64 {
	n := max(3, len(r)/20)
	sum := 0.0
	for _, s := range r[len(r)-n:] {
		sum += s.Y
	}
	return sum / float64(n)
}

// bigEnough refuses an answer of the oven (°C) that noise or rounding could have made.
func (f *Found) bigEnough(rise float64) error {
	switch {
	case rise < minRise:
		return refuse(TooSmall, "the reading answered by %.1f °C; at least %.0f °C are needed",
			rise, minRise)
	case f.LSB > 0 && rise < clear*f.LSB && f.LSB > 2*f.Sigma:
		return refuse(Coarse, "the reading answered by %.1f °C, and is rounded to %.2f °C; "+
			"at least %.0f times that are needed", rise, f.LSB, clear)
	case rise < clear*f.Sigma:
		return refuse(Noisy, "the reading answered by %.1f °C, and its noise is %.2f °C; "+
			"at least %.0f times that are needed", rise, f.Sigma, clear)
	}
	return nil
}

// longEnough refuses a step test whose baseline or answer was too short for the lag found.
func (f *Found) longEnough(base, after float64) error {
	lag := f.First.L
	if base < 7.0/8*baseLags*lag {
		return refuse(TooShort, "the record begins %.0f s before the step; with a dead time of "+
			"%.0f s it takes %.0f s", base, lag, baseLags*lag)
	}
	if after < answerLags*lag {
		return refuse(TooShort, "the record ends %.0f s after the step; with a dead time of "+
			"%.0f s it takes %.0f s", after, lag, answerLags*lag)
	}
	return nil
}

// identify fits both forms from a first guess and chooses what the record carries; height is
// that of the answer, °C, which the misfit is judged by.
func (f *Found) identify(c *course, guess Model, height float64) error {
	one, ok := newFitter(c, First).fit(guess.L, guess.T)
	if !ok {
		return refuse(Unlike, "no model with one time constant fits the readings")
	}
	f.First, f.Model, f.Misfit = one.model, one.model, one.rms
	two, ok := newFitter(c, Second).fit(one.model.L, one.model.T)
	if ok {
		f.Second = two.model
		// The second lag must make the fit better by more than a free figure does by chance
		// (Schwarz's criterion on what the readings are worth), and must be told from none.
		// Its K and T may each be unsure as long as their quotient is not.
		eff := max(leastWorth, two.eff)
		better := one.rms > fineEnough*height &&
			eff*math.Log(one.rss/two.rss) > 2*math.Log(eff)
		half := two.model.Half
		if better && half.T2 < two.model.T2 && half.Slope < sureEnough*two.model.Slope() {
			f.Model, f.Misfit = two.model, two.rms
		}
	}
	if f.Misfit > closeEnough*height {
		return refuse(Unlike, "no model fits: the best misses the readings by %.1f °C", f.Misfit)
	}
	if f.Model.Kind == Second {
		return nil
	}
	if one.sure < sureEnough {
		return nil
	}
	if !(f.First.Half.Slope < sureEnough*f.First.Slope()) {
		return refuse(TooShort, "the record does not tell the slope: %.3f ± %.3f °C/s",
			f.First.Slope(), f.First.Half.Slope)
	}
	f.Model = Model{Kind: Integrating, Kv: f.First.Slope(), L: f.First.L,
		Half: Half{Slope: f.First.Half.Slope, L: f.First.Half.L}}
	return nil
}
