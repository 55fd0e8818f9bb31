package control

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"strawline/control/tune"
	"strawline/probe/temp"
	"strawline/profiles"
)

// What a tuning test is doing, as its events and Snapshots say it.
const (
	TestHeating  = "heating up"     // to the heat of the test, as in any run
	TestSteady   = "getting steady" // until the oven rests there
	TestSwinging = "swinging"       // the duty goes up and down around what holds the oven
	TestDone     = "done"
	TestRefused  = "refused" // without a result; the event's text says why
)

// The kinds of tuning test. One of a cold start ends at the heat of the test if the heat-up alone
// carried a model, and swings like the other if not.
const (
	TestRelay     = "relay"
	TestColdStart = "cold start"
)

// Figures of the test. All are our choice where no source is named.
const (
	testRoom    = temp.Delta(10) // that the test's heat must be below the limit of the profile
	testShare   = 0.8            // of that room, which the swings may take
	testNear    = 3.0            // °C below the test's heat at which it has come there
	testMost    = 12 * time.Hour // of TestInfo.MostS
	testThin    = time.Second    // between the readings of the heat-up that are kept
	steadyBlock = 12             // means that the holding duty is taken from
	steadySpan  = 6.0            // lags that they span together (design study of the landing)
	steadyWait  = 10.0           // lags that the loop holds the oven at least; the study has 20
	steadyMost  = 40.0           // and at most, before the swings try for themselves
	steadyDrift = 0.004          // °C/s that what the duty still moves by stands for
	steadyLeast = 2 * time.Minute
)

// CheckTest says what is wrong with a test that follows a profile, as far as that can be said
// before any port is opened.
func CheckTest(t *TestInfo, p profiles.Profile, noHeater, contactor bool) error {
	info := Info{Profile: p, Shop: Shop{NoHeater: noHeater}}
	if contactor {
		info.Shop.Contactor = &Contactor{}
	}
	return t.check(info)
}

// check says what is wrong with a test for this run.
func (t *TestInfo) check(info Info) error {
	p := info.Profile
	last := p.Steps[len(p.Steps)-1]
	switch {
	case t.Kind != TestRelay && t.Kind != TestColdStart:
		return fmt.Errorf("a tuning test is a %s or a %s test, not %q", TestRelay, TestColdStart,
			t.Kind)
	case info.Shop.NoHeater:
		return errors.New("a tuning test needs a board that switches the heat")
	case info.Shop.Contactor != nil:
		return errors.New("a tuning test needs an output that gives part of the heat, " +
			"which a contactor cannot")
	case !(t.MostS > 0 && t.MostS <= testMost.Seconds()):
		return errors.New("a tuning test may take up to 12 h")
	case last.Kind != profiles.Soak || math.Abs(float64(last.To)-t.TargetC) > 0.01:
		return errors.New("a tuning test's profile must end with a soak at the test's heat")
	case last.To.Add(testRoom) > p.Limit:
		return fmt.Errorf("a tuning test swings: its heat must be %s or more below the "+
			"profile's limit", strings.TrimPrefix(testRoom.Text(p.Unit, 0), "+"))
	}
	return nil
}

// tuning is a tuning test in this run; without one it does nothing.
type tuning struct {
	info   *TestInfo // nil: this run is no test
	state  string
	heat   tune.Record // the heat-up, a reading a second
	plan   tune.Relay
	swings bool // the plan has the duty
	learnt tune.Model

	since  time.Duration // when the oven came to the test's heat
	from   time.Duration // when the present block began
	sum    float64       // in it: s of full duty
	blocks [steadyBlock]float64
	filled int
}

func newTuning(info *TestInfo) tuning {
	if info == nil {
		return tuning{}
	}
	return tuning{info: info, heat: make(tune.Record, 0, int(info.MostS)+2)}
}

// goes says that the test has begun or will, and is not over.
func (t *tuning) goes() bool {
	return t.info != nil && t.state != TestDone && t.state != TestRefused
}

func (e *Engine) sayTest(word, text string) {
	e.test.state = word
	e.loop.word = "" // what the law does is said anew, if it has the duty
	e.emit(Event{Kind: EvTest, Word: word, Text: text})
}

// byTest gives the duty in a tuning test: the law's until the oven rests, then the swings'.
func (e *Engine) byTest(span, applied float64) int {
	t := &e.test
	if t.swings {
		return e.swing()
	}
	duty := e.byLaw(span, applied)
	if e.phase != PhaseRunning {
		return 0
	}
	switch t.state {
	case "":
		e.sayTest(TestHeating, "")
		fallthrough
	case TestHeating:
		t.keep(e.lead.at, float64(e.lead.clean), float64(duty)/1000)
		if last := e.steps[len(e.steps)-1]; e.step == len(e.steps)-1 &&
			float64(e.lead.value.Sub(last.To)) > -testNear {
			e.arrived()
		}
	case TestSteady:
		if t.rests(e.lead.at, span, applied) {
			e.beginSwings()
		}
	}
	if e.phase != PhaseRunning { // the test is over
		return 0
	}
	return duty
}

// keep keeps one reading a second of the heat-up, and the duty from then on.
func (t *tuning) keep(at time.Duration, y, duty float64) {
	n := len(t.heat)
	if n < cap(t.heat) && (n == 0 || at.Seconds() >= t.heat[n-1].T+testThin.Seconds()-1e-3) {
		t.heat = append(t.heat, tune.Sample{T: at.Seconds(), Y: y, Duty: duty})
	}
}

// arrived makes the plan of the swings from what the heat-up showed.
func (e *Engine) arrived() {
	t := &e.test
	found, err := tune.ColdStart(t.heat)
	m, from := found.Model, "the heat-up"
	switch known := e.cfg.Info.Model; {
	case err == nil && t.info.Kind == TestColdStart:
		e.testOver(TestDone, "the heat-up alone carried a model")
		return
	case err == nil:
	case t.learnt.Check() == nil:
		m, from = t.learnt, "what the law learnt of the heat-up"
	case known != nil:
		l := known.Law()
		m, from = tune.Model{Kind: tune.Integrating, Kv: l.K, L: l.Tau + l.Th}, "the model"
	default:
		e.testOver(TestRefused, "the heat-up did not show how fast the oven answers: "+err.Error())
		return
	}
	sigma, lsb := t.heat.Noise()
	limit := float64(e.set) + testShare*float64(e.limit.Sub(e.set))
	t.plan = tune.Relay{Slope: m.Slope(), Lag: m.Lag(), Sigma: sigma, LSB: lsb, Limit: limit,
		Window: e.cfg.Info.Shop.WindowS}
	t.since, t.from = e.lead.at, e.lead.at
	e.sayTest(TestSteady, fmt.Sprintf("%s says %.2f °C/s at full heat, %.0f s late", from,
		m.Slope(), m.Lag()))
}

// rests takes the mean duty since the reading before, and says that the duty no longer moves by
// more than the oven would hardly show.
func (t *tuning) rests(at time.Duration, span, applied float64) bool {
	t.sum += applied * span
	if length := (at - t.from).Seconds(); length >= steadySpan*t.plan.Lag/steadyBlock {
		t.blocks[t.filled%steadyBlock] = t.sum / length
		t.filled++
		t.sum, t.from = 0, at
	}
	if t.filled < steadyBlock {
		return false
	}
	early, late := 0.0, 0.0
	for i := range steadyBlock / 2 {
		early += t.blocks[(t.filled+i)%steadyBlock] / (steadyBlock / 2)
		late += t.blocks[(t.filled+i+steadyBlock/2)%steadyBlock] / (steadyBlock / 2)
	}
	t.plan.Hold = math.Round(500*(early+late)) / 1000
	waited := (at - t.since).Seconds()
	return waited >= max(steadyWait*t.plan.Lag, steadyLeast.Seconds()) &&
		(math.Abs(late-early)*t.plan.Slope < steadyDrift || waited >= steadyMost*t.plan.Lag)
}

func (e *Engine) beginSwings() {
	e.test.swings = true
	e.sayTest(TestSteady, fmt.Sprintf("%.1f %% of the heat holds it: now that alone, until the "+
		"reading rests", 100*e.test.plan.Hold))
}

// swing lets the plan decide the duty.
func (e *Engine) swing() int {
	t := &e.test
	u, done, why := t.plan.Step(e.lead.at.Seconds(), float64(e.lead.clean))
	switch {
	case done && why == tune.WhyGood:
		e.testOver(TestDone, why)
		return 0
	case done:
		e.testOver(TestRefused, testWords(why))
		return 0
	case t.state == TestSteady && u != t.plan.Hold:
		e.sayTest(TestSwinging, "the duty goes up and down, and the reading after it")
	}
	return int(round(1000*u, 1))
}

// testWords says to a person why the swings came to nothing, and what to do.
func testWords(why string) string {
	switch why {
	case tune.WhyPlan:
		return "what holds the oven leaves no room to swing: test at another heat"
	case tune.WhyLimit:
		return "the reading came too near the limit: test at a lower heat, or raise the limit"
	case tune.WhyDoor:
		return "the reading fell as if the door was opened: test again and keep it shut"
	case tune.WhyUnsteady:
		return "the oven did not come to rest: is something in it still warming up?"
	case tune.WhyLong:
		return "the swings took too long or were not alike: did anything change meanwhile?"
	}
	return why
}

// testOver ends the test, and with it the run, with the heat off.
func (e *Engine) testOver(word, why string) {
	if !e.test.goes() {
		return
	}
	e.sayTest(word, why)
	if e.phase != PhaseRunning {
		return // tripped: a person looks at it first
	}
	if word == TestDone {
		e.end(word, "the tuning test is done: "+why)
		return
	}
	e.end(word, "the tuning test came to nothing: "+why)
}

// watchTest holds the test to its longest time.
func (e *Engine) watchTest() {
	if e.phase == PhaseRunning && e.test.goes() && e.now.Seconds() >= e.test.info.MostS {
		e.testOver(TestRefused, fmt.Sprintf("it was not done in %s",
			seconds(e.test.info.MostS).Round(time.Second)))
	}
}

// testDoubt says what a doubt does to the test: swings that it disturbed say nothing, while the
// heat-up and the wait go on.
func (e *Engine) testDoubt(why string) {
	t := &e.test
	if !t.goes() {
		return
	}
	if t.swings {
		e.testOver(TestRefused, "the heat was taken away while it went on: "+why)
		return
	}
	t.filled, t.sum, t.from, t.since = 0, 0, e.now, e.now
}
