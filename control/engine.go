package control

import (
	"fmt"
	"math"
	"time"

	"strawline/control/alarm"
	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/temp"
	"strawline/profiles"
)

// Times and counts of the interlock.
const (
	MaxAge      = 1500 * time.Millisecond // oldest reading and answer that may carry heat
	TrustAfter  = 3                       // good readings in a row that end a doubt
	DoubtTrip   = 10 * time.Second        // a doubt of this length is a trip
	DoubtMany   = 5                       // more doubts than this in DoubtWithin are a trip
	DoubtWithin = 10 * time.Minute
	MaxStep     = 10 * time.Second // after a longer gap between steps there is no duty
	SoakApart   = 2 * time.Second  // readings further apart give no credit
	PauseAfter  = 10 * time.Second // the word "paused" waits this long; the clock does not
	RemindEvery = 10 * time.Minute
	overReads   = 3 // readings in a row above the limit that trip; common practice, no source
	overBack    = 5 // °C below the limit at which it is no longer above; likewise
)

// Config is what an Engine is made from.
type Config struct {
	Info   Info
	Belief belief.Config
	// Keep makes a record what the run file keeps of it, by changing what it points to, so that
	// the screen shows the very figures that a replay will; nil keeps all.
	Keep func(Record)
}

// Input is what has come since the last step.
type Input struct {
	Batch probe.Batch
	Asks  []Ask
	// LogFull says that records can no longer be written.
	LogFull bool
}

// Output is what a step decided.
type Output struct {
	Duty       int  // per mille, 0 to 1000, to be commanded now
	ResetBoard bool // the board's latches are to be reset, as a person asked
	// Records are for the run file. They are good until the next Step, which uses their room
	// again; Record.Kept gives one that may be kept.
	Records []Record
}

// Engine follows one profile on one oven. It is made for one run and asks no clock: the time
// of each Step is data, and must not go back.
type Engine struct {
	cfg   Config
	view  *View
	steps []profiles.Step
	limit temp.C
	out   Output

	started bool
	t0      time.Duration // keeper's clock at the first step
	now     time.Duration // since t0
	prev    time.Duration // of the last step

	phase Phase
	why   string
	step  int
	stepT time.Duration

	// probes
	chans    []channel
	lead     *channel // the oven's air: it leads the run
	slow     *channel // the probe that a soak is judged by: at the blade, or the lead
	link     probe.Link
	linkWord string
	latches  probe.Latch

	doubt    doubt
	over     int  // readings in a row above the limit
	wondered bool // what stands out at rest was asked
	isOver   bool // so many were, and none since is well below it
	gap      bool // no good reading since one
	watch    watch
	trip     tripState
	table    alarm.Table
	alarms   []alarm.State
	letGo    bool // release the latches after the next look at the conditions
	conds    []bool
	logFull  bool

	loop     loop
	set      temp.C
	hasSet   bool
	asked    temp.C // what the person was last told to set, without a heater
	told     bool   // that he was told to heat
	duty     int
	was      int           // the duty until this step
	switched time.Duration // when the duty last changed: a contactor's least times count from it
	stay     time.Duration // until; 0 none
	late     bool          // the wait with heat passed its most time
	lagging  bool          // the band was not reached in the step's limit
	moved    bool          // a person moved the setpoint, and it was not reached since
	movedAt  time.Duration // when

	samples  sampleRoom
	blade    temp.C
	hasBlade bool
	bladeIn  bool // a wait's answer said so, and none since that it is out
	room     temp.C

	test    tuning
	soak    soakClock
	credits []time.Duration
	undo    *undo
	remind  time.Duration

	again *resumed      // the run was cut off and is gone on with
	away  time.Duration // for how long nobody kept it
}

type channel struct {
	correct probe.Correction
	state   belief.State
	raw     uint32
	hasRaw  bool
	good    bool
	value   temp.C        // filtered
	clean   temp.C        // not filtered
	at      time.Duration // of the last good reading
	hasGood bool
	word    string // last word told
	warn    string // last warning told; "" for none
	wear    belief.Wear
}

// Check says in one line what stands in the way of the run that info describes. With a heater a
// run starts only if profile limit ≤ oven limit ≤ the board's stored limit ≤ its compiled
// ceiling; without one, if profile limit ≤ oven limit. No step may go above the profile's limit.
func Check(info Info) error {
	switch {
	case len(info.Profile.Steps) == 0:
		return fmt.Errorf("the profile %s has no steps", info.Profile.Name)
	case len(info.Shop.Channels) == 0:
		return fmt.Errorf("no probe is named for the oven air")
	}
	if n := info.Shop.LeadChannel(); n < 1 || n > len(info.Shop.Channels) {
		return fmt.Errorf("channel %d is to lead the run and there are %d", n, len(info.Shop.Channels))
	}
	if g := info.Shop.Guard; !info.Shop.NoHeater && g != 0 && g != info.Shop.LeadChannel() {
		return fmt.Errorf("the board guards channel %d and the oven's air is channel %d: its limit "+
			"would judge another probe; set --guard with probes board", g, info.Shop.LeadChannel())
	}
	if n := len(info.Shop.Corrections); n > len(info.Shop.Channels) {
		return fmt.Errorf("%d corrections for %d channels", n, len(info.Shop.Channels))
	}
	for i, c := range info.Shop.Corrections {
		if err := c.value().Check(); err != nil {
			return fmt.Errorf("the correction of channel %d: %w", i+1, err)
		}
	}
	if !info.Shop.NoHeater {
		if err := info.Shop.Contactor.Check(); err != nil {
			return err
		}
		if _, err := lawOf(info); err != nil {
			return fmt.Errorf("the gains or the model of the oven: %w", err)
		}
	}
	if info.Test != nil {
		if err := info.Test.check(info); err != nil {
			return err
		}
	}
	return limits(info.Profile, info.Shop)
}

// New makes an engine; its errors are those of Check.
func New(cfg Config) (*Engine, error) {
	if err := Check(cfg.Info); err != nil {
		return nil, err
	}
	p := cfg.Info.Profile
	e := &Engine{cfg: cfg, view: NewView(cfg.Info), limit: p.Limit, phase: PhaseRunning}
	e.steps = append(e.steps, p.Steps...)
	e.credits = make([]time.Duration, len(e.steps))
	e.chans = make([]channel, len(cfg.Info.Shop.Channels))
	for i, c := range cfg.Info.Shop.Corrections {
		e.chans[i].correct = c.value()
	}
	e.samples = newRoom(len(e.chans))
	e.lead = &e.chans[cfg.Info.Shop.LeadChannel()-1]
	e.slow = e.lead
	for i, role := range cfg.Info.Shop.Channels {
		if role == RoleBlade {
			e.slow = &e.chans[i]
		}
	}
	if !cfg.Info.Shop.NoHeater {
		law, err := lawOf(cfg.Info)
		if err != nil {
			return nil, err
		}
		e.loop = loop{law: law, gains: cfg.Info.Gains}
	}
	e.test = newTuning(cfg.Info.Test)
	e.table = alarm.First()
	e.alarms = make([]alarm.State, len(e.table))
	e.conds = make([]bool, len(e.table))
	return e, nil
}

func limits(p profiles.Profile, sh Shop) error {
	u := p.Unit
	if peak := p.Peak(); peak > p.Limit {
		return fmt.Errorf("the profile goes to %s and its own limit is %s: lower its peak",
			peak.Text(u, 0), p.Limit.Text(u, 0))
	}
	oven := temp.C(sh.LimitC)
	if p.Limit > oven {
		return fmt.Errorf("the profile's limit of %s is above the oven's limit of %s: "+
			"lower the profile's", p.Limit.Text(u, 0), oven.Text(u, 0))
	}
	if sh.NoHeater {
		return nil
	}
	board, ceiling := temp.C(sh.BoardLimC), temp.C(sh.CeilingC)
	if oven > board+boardSlack {
		return fmt.Errorf("the oven's limit of %s is above the board's stored limit of %s: "+
			"give a lower --limit, or set the board's with probes board",
			oven.Text(u, 0), board.Text(u, 0))
	}
	if board > ceiling {
		return fmt.Errorf("the board's stored limit of %s is above its compiled ceiling of %s: "+
			"set it lower with probes board", board.Text(u, 0), ceiling.Text(u, 0))
	}
	return nil
}

// boardSlack allows for the board's counting in quarter degrees of its chip's scale: a limit
// written to it comes back rounded by at most half a count.
const boardSlack = 0.25

// Snapshot gives what a screen may show now.
func (e *Engine) Snapshot() Snapshot { return e.view.Snapshot() }

// View gives a view that goes on from here by itself: for what is told of a run after its
// engine has failed.
func (e *Engine) View() *View { return e.view.Clone() }

// Wear gives what this run added to the use of a channel's probe; channels count from 1.
func (e *Engine) Wear(channel int) belief.Wear {
	if channel < 1 || channel > len(e.chans) {
		return belief.Wear{}
	}
	return e.chans[channel-1].wear
}

// Phase gives what the run is doing as a whole.
func (e *Engine) Phase() Phase { return e.phase }

// Step takes what came up to now and decides the duty. The Records of the Output are to be
// written whole and in order before the next step's.
func (e *Engine) Step(now time.Duration, in Input) Output {
	e.out = Output{Records: e.out.Records[:0]}
	first := !e.started
	if first {
		e.started, e.t0 = true, now
		if e.again != nil {
			e.t0, e.prev = now-e.again.from, e.again.from
		}
	}
	e.now = max(now-e.t0, e.prev)
	dt := e.now - e.prev
	e.was = e.duty
	switch {
	case first && e.again != nil:
		e.takeUp(in)
	case first:
		e.begin(in)
	}
	e.logFull = in.LogFull
	for _, a := range in.Asks { // first: a person asks for what the last Snapshot showed
		e.ask(a)
	}
	if dt > MaxAge { // whatever has come meanwhile says nothing of the time between
		e.raise("the program stood still")
	}
	if dt > DoubtTrip { // as after a sleep of the computer
		e.tripOn("the program stood still for " + spanWords(dt))
	}
	e.intake(in.Batch)
	e.interlock()
	e.advance(dt)
	e.heat(dt)
	e.judge()
	e.record()
	for _, r := range e.out.Records {
		if e.cfg.Keep != nil {
			e.cfg.Keep(r)
		}
		e.view.Apply(r)
	}
	e.prev = e.now
	return e.out
}

// tripOn latches: duty 0 until a person acknowledges, resets and says go on. A cause that comes
// between the reset and the go on needs another reset.
func (e *Engine) tripOn(why string) {
	if e.phase == PhaseTripped && e.trip.reset {
		e.trip.reset, e.why = false, why
		e.emit(Event{Kind: EvTrip, Text: why})
	}
	if e.phase != PhaseRunning || e.noHeater() {
		return
	}
	e.phase, e.why = PhaseTripped, why
	e.trip = tripState{since: e.now}
	e.doubt.stand = false
	e.loop.off()
	e.duty = 0
	ev := Event{Kind: EvTrip, Text: why}
	if e.link.State != probe.LinkUp {
		ev.Word = Unreached
	}
	e.emit(ev)
	e.handBack("the run tripped")
	e.unshelveAll("the run tripped")
	e.testOver(TestRefused, "the run tripped: "+why)
}

func (e *Engine) emit(ev Event) {
	ev.T = e.now
	e.out.Records = append(e.out.Records, Record{Event: &ev})
}

func (e *Engine) begin(in Input) {
	e.room = roomAssumed
	for _, r := range in.Batch.Readings {
		if r.Channel == e.cfg.Info.Shop.LeadChannel() && r.Good() && r.HasCold {
			e.room = temp.C(round(float64(r.Cold), 100))
		}
	}
	t := float64(e.room)
	e.doubt = doubt{stand: true, since: 0, why: "no reading yet", quiet: true}
	e.emit(Event{Kind: EvStart, TempC: &t, Text: e.cfg.Info.Profile.Title})
	e.enter(0, "")
}

// roomAssumed stands for the room where the board's cold junction is not known.
const roomAssumed temp.C = 20

// record makes the sample of this step.
func (e *Engine) record() {
	sm, num := e.samples.sample(), e.samples.number
	sm.T, sm.Duty = e.now, e.duty
	for i := range e.chans {
		c := &e.chans[i]
		sm.Raw[i], sm.HasRaw[i] = c.raw, c.hasRaw
		if c.good {
			sm.Temp[i] = num(round(float64(c.value), 100))
		}
		c.hasRaw = false
	}
	if e.hasSet {
		sm.Set = num(round(float64(e.set), 100))
	}
	if e.hasBlade {
		sm.Blade = num(round(float64(e.blade), 100))
	}
	if e.inSoak() {
		sm.Soak = num(round(e.credits[e.step].Seconds(), 1000))
	}
	e.out.Duty = e.duty
	e.out.Records = append(e.out.Records, Record{Sample: sm})
}

func (e *Engine) inSoak() bool {
	return e.step < len(e.steps) && e.steps[e.step].Kind == profiles.Soak &&
		(e.phase == PhaseRunning || e.phase == PhaseTripped)
}

func ptr[T any](v T) *T { return &v }

func round(v, per float64) float64 { return math.Round(v*per) / per }
