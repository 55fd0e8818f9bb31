package keeper

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/guard"
	"strawline/probe/sim"
	"strawline/probe/temp"
)

// watchOn is how long a run goes on behind what was told, for the board's output to be looked at.
const watchOn = 5 * time.Second

// injected is one lockstep run with one injection. Times are the board's own unless they are said
// to be the run's.
type injected struct {
	in    injection
	kind  sim.Kind
	board *sim.Board
	to    temp.C
	room  temp.C
	limit temp.C
	delay time.Duration // after the moment's own beginning
	share float64       // of the way up
	stop  func(error)

	begun   bool
	apart   time.Duration // the board's time less the run's
	step    int
	stepAt  time.Duration // the run's
	failed  bool
	fault   time.Duration // when it began
	seen    bool
	since   time.Duration // when there was something to see
	earlier time.Duration // that since lies before it was noticed
	over    int           // readings in a row
	on      time.Duration // of the output, so far
	lastOn  time.Duration // when it last was on
	said    bool
	told    time.Duration // that something of the row stands in the records
	less    bool          // the duty was less than full
	hot     temp.C        // the highest true bead between since and told
}

// record looks at each record behind the log, and at the board's true state.
func (x *injected) record(r control.Record) {
	if e := r.Event; e != nil {
		if e.Kind == control.EvStep {
			x.step, x.stepAt = *e.Step, e.T
		}
		if x.seen && !x.said && x.names(e) {
			x.said, x.told = true, e.T+x.apart
		}
		return
	}
	truth, s := x.board.Truth(), r.Sample
	if !x.begun {
		x.begun, x.apart = true, truth.Now-s.T
	}
	if truth.On > x.on {
		x.on, x.lastOn = truth.On, truth.Now
	}
	if !x.failed && x.due(s, truth) {
		x.failed, x.fault = true, truth.Now
		if x.in.when != atStart { // there it stood from the beginning
			x.board.Befall(x.kindAt(truth.Now))
		}
	}
	if x.failed && !x.seen && (x.in.since == nil || x.in.since(x, s, truth)) {
		x.seen, x.since = true, truth.Now-x.earlier
	}
	if x.in.full && x.seen && !x.said && truth.Now-x.since <= fullBy && s.Duty < fullDuty {
		x.less, x.in.by = true, lessBy
	}
	if x.seen && !x.said {
		x.hot = max(x.hot, truth.Probe)
	}
	switch {
	case x.said && truth.Now >= x.told+watchOn:
		x.stop(errors.New("told"))
	case x.seen && truth.Now > x.since+x.in.by+time.Minute, s.T > 5*time.Hour:
		x.stop(errors.New("not told"))
	}
}

// kindAt gives the fault: it stays, but for an opened door.
func (x *injected) kindAt(at time.Duration) sim.Fault {
	f := sim.Fault{Kind: x.kind, At: at}
	switch x.kind {
	case sim.Open, sim.ShortGround, sim.ShortSupply, sim.Mute, sim.Unplug, sim.HostSilent:
		f.For = time.Hour
	}
	return f
}

// due says that the fault's moment has come.
func (x *injected) due(s *control.Sample, truth sim.Truth) bool {
	switch x.in.when {
	case atStart:
		return s.Duty > 0
	case heating:
		return x.step == 0 && s.Duty > 300 &&
			float64(truth.Probe) >= float64(x.room)+x.share*float64(x.to-x.room)
	case soaking, settled:
		return x.step == 1 && s.T >= x.stepAt+x.delay
	case cooling: // some ovens are cold before the delay is over
		return x.step == 2 && (s.T >= x.stepAt+x.delay || truth.Probe < cooledTo+20)
	}
	return s.T >= x.delay
}

// names says that an event names the row.
func (x *injected) names(e *control.Event) bool {
	text := string(e.Kind) + " " + e.Text
	if e.Kind == control.EvAlarm {
		if e.Word != "B" {
			return false
		}
		text = string(e.Kind) + " " + e.Code
	}
	for _, t := range x.in.tells {
		if strings.HasPrefix(text, t) {
			return true
		}
	}
	return false
}

// outcome is how one injection went, by the run file.
type outcome struct {
	missed   bool
	late     bool
	misnamed string // by what it was told, where that is no name of the row
	took     time.Duration
	off      time.Duration // until the board's output was off for good, where it must be
	before   string        // a trip or a doubt before the fault, or for one that asks for none
	hours    float64
	less     bool     // it is the next injection's
	log      []string // the events from the fault on, for who looks into it
}

// judge reads the run file. What names the row counts; where nothing does, the first that took
// the heat away, for a row that takes it.
func (x *injected) judge(rs []control.Record) (o outcome) {
	o.missed = true
	for _, r := range rs {
		e := r.Event
		if e == nil {
			o.hours = r.Sample.T.Hours()
			continue
		}
		at, word := e.T+x.apart, string(e.Kind)+" "+e.Text
		if x.failed && at > x.fault-Tick || e.Kind == control.EvUnlike || e.Kind == control.EvOven {
			o.log = append(o.log, fmt.Sprintf("%v %s %s%s", at-x.since, word, e.Code, e.Word))
		}
		trip := e.Kind == control.EvTrip || e.Kind == control.EvDoubt
		switch {
		case trip && (!x.failed || at <= x.fault):
			o.before = word
		case !x.seen || at < x.since:
		case x.names(e) && (o.missed || o.misnamed != ""):
			o.missed, o.misnamed, o.took = false, "", at-x.since
		case trip && !x.in.heat:
			o.before = word
		case trip && o.missed:
			o.missed, o.misnamed, o.took = false, word, at-x.since
		}
	}
	if x.in.heat && x.seen {
		o.off = max(0, x.lastOn-x.since)
	}
	o.less = x.less
	over := x.in.near > 0 && x.hot > x.to.Add(x.in.near)
	o.late = !o.missed && (o.took > x.in.by || o.off > x.in.by || over)
	return o
}

// inject runs one.
func inject(t *testing.T, in injection, seed uint64, n int) (o outcome, name string) {
	r := rand.New(rand.NewPCG(seed, uint64(n)))
	kind := in.kinds[n%len(in.kinds)]
	ov := newOven(r, n, [...]float64{0.2, 0.35, 0.5}[n%3], false)
	p, to := in.profile(r)
	c := sim.Config{Seed: r.Uint64(), Plant: ov.plant, Noise: temp.Delta(ov.noise),
		Blade: r.IntN(2) == 0}
	if in.when == atStart {
		c.Faults = []sim.Fault{{Kind: kind}}
	}
	s := newShop(t, c)
	s.quiet = true
	cfg := s.lockstep(t, p, seed, Away)
	cfg.Model, cfg.Gains, cfg.Sim.Oven = ov.model, ov.gains, ov.plant
	if !c.Blade {
		cfg.Blade = nil
	}
	ctx, stop := context.WithCancelCause(t.Context())
	defer stop(nil)
	x := &injected{in: in, kind: kind, board: s.board, to: to, room: ov.plant.Room, limit: p.Limit,
		share: 0.1 + 0.8*r.Float64(), delay: in.when.delay(r), stop: stop}
	name = fmt.Sprintf("%s, %s, %s, seed %d/%d", in.row, in.name, kind, seed, n)
	cfg.Records = x.record
	k, err := Prepare(ctx, cfg)
	require.NoError(t, err, name)
	_, err = k.Run(ctx)
	require.NoError(t, err, name)
	require.True(t, x.failed, "%s was not injected", name)
	o = x.judge(records(t, cfg.Out))
	require.NoError(t, os.Remove(cfg.Out))
	return o, name
}

// tally counts the outcomes of one injection.
type tally struct {
	n, missed, late, misnamed, before int
	longest, off                      time.Duration
}

func (y *tally) add(o outcome) {
	one := func(is bool) int {
		if is {
			return 1
		}
		return 0
	}
	y.n++
	y.missed += one(o.missed)
	y.late += one(o.late)
	y.misnamed += one(o.misnamed != "")
	y.before += one(o.before != "")
	y.longest, y.off = max(y.longest, o.took), max(y.off, o.off)
}

// TestEveryRowIsSeenInTime injects each row of guard.Rows into the whole: board, port, belief,
// guard, engine, alarms and run file, on A, B and ovens within ±50 % of them. A part of .ci/long
// guard counts, and .ci/long judges; else each must be in time, but for a message now and then.
func TestEveryRowIsSeenInTime(t *testing.T) {
	seed, times, _ := wholeSize(t)
	ins := injections()
	tallies := make([]tally, len(ins))
	var mu sync.Mutex
	hours := 0.0
	jobs := make(chan int, len(ins)*times)
	for j := range len(ins) * times {
		if j%len(ins) == 0 || !ins[j%len(ins)-1].full {
			jobs <- j
		}
	}
	close(jobs)
	one := func(t *testing.T, in injection, i, n int) {
		o, name := inject(t, in, seed, n+i) // each row meets each oven
		mu.Lock()
		hours += o.hours
		if o.less {
			i++
		}
		tallies[i].add(o)
		mu.Unlock()
		if o.missed || o.late || o.misnamed != "" {
			t.Logf("%s: missed %v, late %v, misnamed %q, took %v, off after %v\n%s", name, o.missed,
				o.late, o.misnamed, o.took, o.off, strings.Join(o.log, "\n"))
		}
		if os.Getenv(partVariable) == "" {
			assert.False(t, (o.missed || o.late) && !in.message(), name)
			assert.Empty(t, o.misnamed+o.before, name)
		}
	}
	t.Run("halves", func(t *testing.T) {
		for half := range 2 {
			t.Run(fmt.Sprint(half), func(t *testing.T) {
				t.Parallel()
				for j := range jobs {
					i, n := j%len(ins), j/len(ins)
					t.Run(fmt.Sprintf("%s/%s/%d", ins[i].row, ins[i].name, n), func(t *testing.T) {
						one(t, ins[i], i, n)
					})
				}
			})
		}
	})
	rows, untold := map[string]bool{sleepRow: true}, 0
	for i, y := range tallies {
		rows[ins[i].row] = true
		if ins[i].message() {
			untold += y.missed + y.late
		}
		y.print(t, ins[i].row, ins[i].name, ins[i].by)
	}
	for _, r := range guard.Rows() {
		require.True(t, rows[r.What], "%s is not injected", r.What)
	}
	require.LessOrEqual(t, untold, times, "messages not told in time") // a third of them
	t.Logf("%.1f hours", hours)
}

// print writes the line that .ci/long reads.
func (y *tally) print(t *testing.T, row, name string, by time.Duration) {
	t.Logf("row %s: %s; injected %d; missed %d; late %d; misnamed %d; before %d; longest %.2f s "+
		"of %.0f s; output off after %.2f s", row, name, y.n, y.missed, y.late, y.misnamed, y.before,
		y.longest.Seconds(), by.Seconds(), y.off.Seconds())
}
