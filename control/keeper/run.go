package keeper

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"strawline/control"
	"strawline/probe"
)

// Run follows the profile until the run is closed or ctx ends; then the heater is commanded
// off, the run file is complete and the port is closed. A ctx that ends stops the run: that is
// in the run file too.
func (k *Keeper) Run(ctx context.Context) (Result, error) {
	defer k.x.end()
	var err error
	if k.cfg.Sim != nil {
		err = caught(func() error { return k.lockstep(ctx) })
	} else {
		err = k.live(ctx)
	}
	off := k.heatOff() // before anything else can go wrong
	k.result.Last, k.result.Fit = k.engine.Snapshot(), k.engine.Fit()
	for i := range k.info.Shop.Channels {
		k.result.Wear = append(k.result.Wear, k.engine.Wear(i+1))
	}
	if err != nil {
		k.failed(err)
	}
	if off != nil {
		k.result.Unanswered = true
		k.handOver(control.Record{Event: &control.Event{T: k.result.Last.T, Kind: control.EvNote,
			Text: unanswered}})
	}
	if e := k.finish(); err == nil {
		err = e
	}
	return k.result, err
}

// caught runs a loop; a panic in the loop itself ends the run like one elsewhere.
func caught(loop func() error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("a failure in the keeper: %v\n%s", r, debug.Stack())
		}
	}()
	return loop()
}

// unanswered is the run file's line where nobody knows whether the last duty 0 arrived. It says
// nothing of the port, so that one seed gives one file on every kind of link.
const unanswered = "the board did not answer the last duty 0: its dead man takes the heat away " +
	"3 s after the last duty that it took"

// failed puts the end of a run that the program itself broke into the run file and on the
// screens; the engine is not asked, since it may be what failed. The last sample has no reading
// and duty 0: that is all that is known.
func (k *Keeper) failed(err error) {
	why := "the program failed: " + firstLine(err)
	k.result.Word, k.result.Why = "tripped", why
	defer func() {
		if r := recover(); r != nil {
			k.result.Why += fmt.Sprintf("; and then %v", r)
		}
	}()
	t, v := k.result.Last.T, k.engine.View()
	load := ""
	if k.result.Last.BladeIn {
		load = control.LoadIn
	}
	for _, r := range []control.Record{
		{Event: &control.Event{T: t, Kind: control.EvTrip, Text: why}},
		{Event: &control.Event{T: t, Kind: control.EvEnd, Word: "tripped", Text: why, Load: load}},
		{Sample: &control.Sample{T: t}},
	} {
		k.handOver(r)
		v.Apply(r)
	}
	k.result.Last = v.Snapshot()
	k.x.publish(k.result.Last)
}

func firstLine(err error) string {
	line, _, _ := strings.Cut(err.Error(), "\n")
	return line
}

// step takes one look's worth of input through the engine.
func (k *Keeper) step(now time.Duration, b probe.Batch, asks []control.Ask) (
	out control.Output, err error,
) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("a failure in the engine: %v\n%s", r, debug.Stack())
			out = control.Output{}
		}
	}()
	k.full = max(0, k.full-1)
	out = k.engine.Step(now, control.Input{Batch: b, Asks: asks,
		LogFull: k.full > 0 || k.log.State().Err != nil})
	for _, r := range out.Records {
		if r.Event != nil && r.Event.Kind == control.EvEnd {
			k.result.Word, k.result.Why = r.Event.Word, r.Event.Text
		}
	}
	return out, nil
}

// lockstep: the board is granted 250 ms, all it says is read, the engine steps, the log takes
// every record; only then comes the next grant. Pace delays grants and nothing else.
func (k *Keeper) lockstep(ctx context.Context) error {
	b := k.first
	start, simStart := k.cfg.Clock.Now(), k.now
	begin := k.atStart()
	for {
		select {
		case err := <-k.fails:
			return err
		default:
		}
		snap := k.engine.Snapshot()
		asks := append(begin, k.x.takeAsks()...)
		begin = nil
		if k.result.Word == "" || snap.Phase == control.PhaseEnded {
			if len(asks) == 0 && snap.Started {
				asks = k.person.look(snap)
			}
		}
		if ctx.Err() != nil {
			asks = append(asks, stopAsk(ctx))
		}
		out, err := k.step(k.now, b, asks)
		if err != nil {
			return err // the heater is commanded off by Run
		}
		k.command(k.now, out.Duty)
		if out.ResetBoard {
			k.port.ResetLatches(k.now)
		}
		k.handOver(out.Records...)
		k.x.publish(k.engine.Snapshot())
		if k.engine.Phase() == control.PhaseClosed {
			return nil
		}
		if p := k.cfg.Sim.Pace; p > 0 {
			due := time.Duration(float64(k.now-simStart) / p)
			if ahead := due - (k.cfg.Clock.Now() - start); ahead > 0 {
				k.cfg.Clock.Sleep(ctx, ahead)
			}
		}
		if b, err = k.poll(); err != nil {
			return err
		}
	}
}

func stopAsk(ctx context.Context) control.Ask {
	return control.Ask{Kind: control.AskStop, By: "keeper", Text: context.Cause(ctx).Error()}
}

// handOver gives records to the run file and to whoever prints them. In lockstep it waits until
// the file has them, so that what was said is in the file; otherwise it waits for nothing.
func (k *Keeper) handOver(rs ...control.Record) {
	for i := range rs {
		rs[i] = rs[i].Kept() // the engine uses its room again while they stand in the queues
		r := rs[i]
		if !k.log.Put(r) {
			k.full = fullFor
		}
		if k.cfg.Records != nil && k.cfg.Sim == nil {
			select {
			case k.lines <- r:
			default: // a printer that stalls loses lines; the run file has them
			}
		}
	}
	if k.cfg.Sim == nil {
		return
	}
	k.log.Flush(context.Background())
	if k.cfg.Records != nil {
		for _, r := range rs {
			k.cfg.Records(r)
		}
	}
}

// fullFor is for how many steps the queue to the disk counts as full after it was: 10 s, so that
// a disk which takes one record in four is one alarm and not hundreds.
const fullFor = 40

// live runs on a real port: one goroutine owns the port, one steps the engine, one writes and
// one prints.
func (k *Keeper) live(ctx context.Context) error {
	inner, cancel := context.WithCancel(ctx)
	defer cancel()
	ex := portExchange{link: k.first.Link}
	ex.add(k.first)
	left := make(chan struct{})
	go func() {
		defer close(left)
		k.guard("port")(func() { k.ownPort(inner, &ex) })
	}()
	if k.cfg.Records != nil {
		k.lines, k.printed = make(chan control.Record, 4096), make(chan struct{})
		go func() {
			defer close(k.printed)
			k.guard("printer")(k.print)
		}()
	}
	err := caught(func() error { return k.liveLoop(ctx, &ex) })
	cancel()
	k.portHangs = !within(portLimit, left)
	return err
}

// within waits for done, at most so long.
func within(limit time.Duration, done <-chan struct{}) bool {
	ctx, cancel := context.WithTimeout(context.Background(), limit)
	defer cancel()
	select {
	case <-done:
		return true
	case <-ctx.Done():
		return false
	}
}

// guard recovers a goroutine's panic and tells the loop, which trips the run.
func (k *Keeper) guard(name string) func(func()) {
	return func(work func()) {
		defer func() {
			if r := recover(); r != nil {
				k.fails <- fmt.Errorf("a failure in the %s: %v\n%s", name, r, debug.Stack())
			}
		}()
		work()
	}
}

func (k *Keeper) print() {
	for r := range k.lines {
		k.cfg.Records(r)
	}
}

// liveLoop steps the engine on a ticker. It waits for nothing but the ticker.
func (k *Keeper) liveLoop(ctx context.Context, ex *portExchange) error {
	tick, stop := k.cfg.Clock.Tick(Tick)
	defer stop()
	stopping := false
	begin := k.atStart()
	var clocks clockWatch
	for {
		select {
		case err := <-k.fails:
			ex.command(0, false)
			return err
		case <-tick:
		case <-ctx.Done():
			if stopping {
				<-tick
			}
			stopping = true
		}
		k.lookAtClocks(&clocks)
		asks := append(begin, k.x.takeAsks()...)
		begin = nil
		if stopping {
			asks = append(asks, stopAsk(ctx))
		}
		for _, b := range split(ex.take()) {
			out, err := k.step(k.clock(), b, asks)
			ex.command(out.Duty, out.ResetBoard)
			if err != nil {
				return err
			}
			k.handOver(out.Records...)
			asks = nil
		}
		k.x.publish(k.engine.Snapshot())
		if k.engine.Phase() == control.PhaseClosed {
			return nil
		}
	}
}

// split cuts a batch where a channel has a second reading, so that each has a sample of its own
// in the run file. There is always one batch at least.
func split(b probe.Batch) []probe.Batch {
	out := []probe.Batch{b}
	out[0].Readings = nil
	seen := map[int]bool{}
	for _, r := range b.Readings {
		if seen[r.Channel] {
			clear(seen)
			out = append(out, probe.Batch{Link: b.Link})
		}
		seen[r.Channel] = true
		last := &out[len(out)-1]
		last.Readings = append(last.Readings, r)
	}
	return out
}

// ownPort is the only goroutine that touches the port while a real run goes on. A duty that the
// engine has not renewed for control.MaxAge is taken back here, before the board's dead man.
func (k *Keeper) ownPort(ctx context.Context, ex *portExchange) {
	var renewed time.Duration
	for ctx.Err() == nil {
		now := k.clock()
		duty, reset, fresh := ex.wanted()
		switch {
		case fresh:
			renewed = now
			k.command(now, duty)
		case now-renewed >= control.MaxAge:
			k.command(now, 0)
		}
		if reset {
			k.port.ResetLatches(now)
		}
		ex.add(k.port.Poll(now))
	}
}

// command gives the port the duty wanted; without a heater there is none to give.
func (k *Keeper) command(now time.Duration, duty int) {
	if !k.cfg.NoHeater {
		k.port.Command(now, duty)
	}
}

// heatOff commands the heater off, waits for the board's answer and closes the port. The error
// says that the answer is not known. A port that hangs or fails is left alone: the board's dead
// man then takes the heat away.
func (k *Keeper) heatOff() (err error) {
	if k.portHangs {
		return errors.New("the port hangs")
	}
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("a failure in the port: %v", r)
		}
	}()
	if k.cfg.Sim != nil {
		k.lastGrants()
	}
	return k.port.Close(k.clock())
}

// finish lets the printer end and completes the run file.
func (k *Keeper) finish() error {
	if k.lines != nil {
		close(k.lines)
		within(printLimit, k.printed)
	}
	ctx, cancel := context.WithTimeout(context.Background(), closeLimit)
	defer cancel()
	return k.log.Close(ctx)
}

// How long what hangs may keep a run from ending: a disk, a printer, and a port, which may be
// in a write, a close and a read that take their own limits.
const (
	closeLimit = 10 * time.Second
	printLimit = 2 * time.Second
	portLimit  = 3 * time.Second
)

// lastGrants gives a simulated board the time to hear and answer the last duty 0.
func (k *Keeper) lastGrants() {
	k.command(k.now, 0)
	for range 4 {
		if _, err := k.poll(); err != nil {
			return
		}
	}
}

// portExchange is what the engine's loop and the port's goroutine hand to each other.
type portExchange struct {
	mu    sync.Mutex
	batch probe.Batch
	link  probe.Link
	duty  int
	fresh bool
	reset bool
}

func (x *portExchange) add(b probe.Batch) {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.batch.Readings = append(x.batch.Readings, b.Readings...)
	x.batch.Boots = append(x.batch.Boots, b.Boots...)
	x.link = b.Link
}

func (x *portExchange) take() probe.Batch {
	x.mu.Lock()
	defer x.mu.Unlock()
	b := x.batch
	b.Link = x.link
	x.batch = probe.Batch{}
	return b
}

func (x *portExchange) command(duty int, reset bool) {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.duty, x.fresh = duty, true
	x.reset = x.reset || reset
}

// wanted gives the newest command once: a duty that the engine does not renew is not repeated,
// and the board's dead man then takes the heat away.
func (x *portExchange) wanted() (duty int, reset, fresh bool) {
	x.mu.Lock()
	defer x.mu.Unlock()
	duty, reset, fresh = x.duty, x.reset, x.fresh
	x.reset, x.fresh = false, false
	return duty, reset, fresh
}
