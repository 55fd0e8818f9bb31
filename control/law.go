package control

import (
	"fmt"
	"math"
	"time"

	"strawline/control/landing"
	"strawline/control/pid"
	"strawline/control/tune"
)

// every is about the time between two readings of a channel: the board says each four times a
// second.
const every = 0.25 // s

// derivativeLimit is N of the law; from memory, Åström and Hägglund give 5 to 20.
const derivativeLimit = 8

// Law gives the gains as the control law takes them, with duty from 0 to 1.
func (g Gains) Law() pid.Config {
	return pid.Config{K: g.Kp, Ti: g.TiS, Td: g.TdS, N: derivativeLimit, B: g.Weight, Max: 1}
}

// Law gives the model as the control law takes it; the zero Model of a nil one.
func (m *ModelInfo) Law() landing.Model {
	if m == nil {
		return landing.Model{}
	}
	l := landing.Model{K: m.SlopeCS, Tau: m.SecondS, Th: m.DeadS, T: m.TimeS,
		Hold: m.HoldPM / 1000, Sigma: m.NoiseC, Start: m.StartS}
	if m.SwingLagS > 0 {
		l.K, l.Tau, l.Th = m.SwingSlopeCS, m.SwingLagS, m.SwingDeadS
	}
	if l.Tau == 0 { // one apparent dead time: the shares of the design study of the landing
		l.Tau, l.Th = (1-deadShare)*m.DeadS, deadShare*m.DeadS
	}
	if l.T == 0 { // a slope that was not seen to end
		l.T = slopeLags * (l.Tau + l.Th)
	}
	return l
}

const (
	deadShare = 0.3 // of an apparent dead time that is dead time: the study's, without a model
	slopeLags = 100 // lags that stand for a time constant that was not seen; our choice
)

// lawOf makes the law from the head of a run, so that a replay needs nothing else.
func lawOf(info Info) (*landing.Law, error) {
	g := info.Gains.Law()
	if err := g.Plausible(); err != nil {
		return nil, err
	}
	return landing.New(landing.Config{Model: info.Model.Law(), Gains: g,
		Own: info.Gains.From != CautiousGains().From, Window: info.Shop.WindowS})
}

// loop is what the engine keeps of its law.
type loop struct {
	law    *landing.Law
	gains  Gains
	on     bool          // the law, or a person, or a test has the duty
	at     time.Duration // of the reading it last took
	area   float64       // s of full duty since then
	looked time.Duration // of the reading that the law last took
	sent   float64       // s of full duty since then
	word   string        // what the law was last said to do
	unlike bool          // it was said that the oven is not like its model
	rate   float64       // of the setpoint in this step, °C/s
	hand   hand
}

// off says that the heat is away: the law begins anew from what it then reads.
func (l *loop) off() { l.on, l.word = false, "" }

// restart tells the law that it has the duty again from a reading on, the duty in force (0 to 1)
// and what was given since it last had it.
func (l *loop) restart(at time.Duration, applied float64) {
	away := (at - l.looked).Seconds()
	l.law.Restart(applied, l.sent/max(away, every), away)
	l.looked, l.sent = at, 0
}

// applied gives the mean duty (0 to 1) since the reading before the one at a time, and begins
// the next mean.
func (l *loop) applied(at time.Duration) (span, duty float64) {
	span = (at - l.at).Seconds()
	duty = min(1, max(0, l.area/span))
	l.at, l.area = at, 0
	return span, duty
}

// byLaw gives the duty that the law wants, per mille.
func (e *Engine) byLaw(span, applied float64) int {
	c := e.lead
	out, err := e.loop.law.Step(landing.Input{H: span, R: float64(e.set), Rate: e.loop.rate,
		Goal: float64(e.steps[e.step].To), Y: float64(c.clean), Room: float64(e.room),
		Applied: applied})
	e.loop.looked, e.loop.sent = c.at, 0
	if err == nil && math.IsNaN(out.U) {
		err = fmt.Errorf("its duty is no number")
	}
	if err != nil { // never an output
		e.loop.off()
		e.tripOn("the control law has no answer: " + err.Error())
		return 0
	}
	e.sayLaw(out.Phase.String())
	if l := out.Learnt; l.K > 0 {
		e.test.learnt = tune.Model{Kind: tune.Integrating, Kv: l.K, L: l.Tau + l.Th}
	}
	if out.Unlike != e.loop.unlike {
		e.loop.unlike = out.Unlike
		ev := Event{Kind: EvUnlike}
		if out.Unlike {
			ev.Text = "the oven does not answer as its model does: test it again"
		}
		e.emit(ev)
	}
	return int(round(min(1, max(0, out.U))*1000, 1))
}

func (e *Engine) sayLaw(word string) {
	if word != e.loop.word {
		e.loop.word = word
		e.emit(Event{Kind: EvLaw, Word: word})
	}
}

// retune takes a person's gains without a bump; the answer says what is wrong with them.
func (e *Engine) retune(g *Gains) string {
	switch {
	case e.noHeater():
		return "the heat is yours to switch"
	case e.cfg.Info.Shop.Contactor != nil:
		return "a contactor goes by its deadband: it has no gains"
	case g == nil:
		return "no gains were given"
	}
	next := *g // what was asked stays as it was
	if err := next.Law().Plausible(); err != nil {
		return err.Error()
	}
	if next.From == "" {
		next.From = "set by a person"
	}
	before := e.undo
	e.keep("gains")
	why := e.takeGains(next, "")
	if why != "" {
		e.undo = before
	}
	return why
}

func (e *Engine) takeGains(g Gains, word string) string {
	if err := e.loop.law.Retune(g.Law()); err != nil {
		return err.Error()
	}
	was := e.loop.gains
	e.loop.gains = g
	e.emit(Event{Kind: EvGains, Word: word, Gains: &g, Was: &was})
	return ""
}
