package control

import (
	"errors"
	"time"
)

// Check says what is wrong with a contactor's figures.
func (c *Contactor) Check() error {
	switch {
	case c == nil:
		return nil
	case !(c.DeadbandC > 0 && c.DeadbandC <= 50):
		return errors.New("a contactor's deadband must be above 0 and at most 50 °C")
	case !(c.MinOnS >= 0 && c.MinOnS <= 3600) || !(c.MinOffS >= 0 && c.MinOffS <= 3600):
		return errors.New("a contactor's least times must be 0 s to 1 h")
	}
	return nil
}

// byContactor gives 0 or 1000: on below the setpoint less half the deadband, off above it by as
// much, each for its least time at least. What takes the heat away (a doubt, a trip, a step
// without a setpoint) does not come here and waits for nothing. The least time off counts from
// the start of the run as well: nobody knows what the contactor did before.
func (e *Engine) byContactor() int {
	c := e.cfg.Info.Shop.Contactor
	e.sayLaw("switching")
	return c.next(e.was > 0, e.now-e.switched, float64(e.lead.value.Sub(e.set)))
}

// next gives the duty after so long on or off, with the reading off °C above the setpoint.
func (c *Contactor) next(on bool, since time.Duration, off float64) int {
	want := on
	switch {
	case off > c.DeadbandC/2:
		want = false
	case off < -c.DeadbandC/2:
		want = true
	}
	return c.rest(on, since, want)
}

// rest gives the duty that is wanted, or the present one for as long as its least time takes.
func (c *Contactor) rest(on bool, since time.Duration, want bool) int {
	if on && since.Seconds() < c.MinOnS || !on && since.Seconds() < c.MinOffS {
		want = on
	}
	if want {
		return 1000
	}
	return 0
}
