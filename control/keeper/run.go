package keeper

import (
	"context"
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
		err = k.lockstep(ctx)
	} else {
		err = k.live(ctx)
	}
	if err != nil {
		k.failed(err)
	}
	k.result.Last = k.engine.Snapshot()
	if e := k.finish(); err == nil {
		err = e
	}
	return k.result, err
}

// failed puts the end of a run that the program itself broke into the run file; the engine is
// not asked, since it may be what failed.
func (k *Keeper) failed(err error) {
	why := "the program failed: " + firstLine(err)
	k.result.Word, k.result.Why = "tripped", why
	t := k.engine.Snapshot().T
	for _, kind := range []control.EventKind{control.EvTrip, control.EvEnd} {
		e := control.Event{T: t, Kind: kind, Text: why}
		if kind == control.EvEnd {
			e.Word = "tripped"
		}
		k.hand([]control.Record{{Event: &e}}, k.cfg.Sim != nil)
	}
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
	out = k.engine.Step(now, control.Input{Batch: b, Asks: asks, LogFull: k.log.State().Err != nil})
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
	for {
		snap := k.engine.Snapshot()
		asks := k.x.takeAsks()
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
			return err // finish commands the heater off
		}
		k.command(k.now, out.Duty)
		if out.ResetBoard {
			k.port.ResetLatches(k.now)
		}
		k.hand(out.Records, true)
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

// hand gives records to the run file and to whoever prints them.
func (k *Keeper) hand(rs []control.Record, wait bool) {
	for _, r := range rs {
		k.log.Put(r)
		if wait && k.cfg.Records != nil {
			k.cfg.Records(r)
		}
	}
	if wait {
		k.log.Flush(context.Background())
	}
}

// live runs on a real port: one goroutine owns the port, one steps the engine, one writes.
func (k *Keeper) live(ctx context.Context) error {
	inner, cancel := context.WithCancel(ctx)
	defer cancel()
	var (
		wg sync.WaitGroup
		ex = portExchange{link: k.first.Link}
	)
	ex.add(k.first)
	wg.Go(func() { k.guard("port")(func() { k.ownPort(inner, &ex) }) })
	printer := make(chan control.Record, 4096)
	wg.Go(func() { k.guard("printer")(func() { k.print(printer) }) })
	err := k.liveLoop(ctx, &ex, printer)
	cancel()
	close(printer)
	wg.Wait()
	return err
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

func (k *Keeper) print(records <-chan control.Record) {
	for r := range records {
		if k.cfg.Records != nil {
			k.cfg.Records(r)
		}
	}
}

// liveLoop steps the engine on a ticker. It waits for nothing but the ticker.
func (k *Keeper) liveLoop(
	ctx context.Context, ex *portExchange, printer chan<- control.Record,
) error {
	tick, stop := k.cfg.Clock.Tick(Tick)
	defer stop()
	stopping := false
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
		asks := k.x.takeAsks()
		if stopping {
			asks = append(asks, stopAsk(ctx))
		}
		out, err := k.step(k.cfg.Clock.Now(), ex.take(), asks)
		ex.command(out.Duty, out.ResetBoard)
		if err != nil {
			return err
		}
		k.hand(out.Records, false)
		if k.cfg.Records != nil {
			for _, r := range out.Records {
				select {
				case printer <- r:
				default: // a printer that stalls loses lines; the run file has them
				}
			}
		}
		k.x.publish(k.engine.Snapshot())
		if k.engine.Phase() == control.PhaseClosed {
			return nil
		}
	}
}

// ownPort is the only goroutine that touches the port while a real run goes on.
func (k *Keeper) ownPort(ctx context.Context, ex *portExchange) {
	for ctx.Err() == nil {
		now := k.cfg.Clock.Now()
		duty, reset, fresh := ex.wanted()
		if fresh {
			k.command(now, duty)
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

// finish commands the heater off and waits for the board's answer, completes the run file and
// closes the port, in this order.
func (k *Keeper) finish() error {
	if k.cfg.Sim != nil {
		k.lastGrants()
	}
	k.port.Close(k.clock())
	ctx, cancel := context.WithTimeout(context.Background(), closeLimit)
	defer cancel()
	return k.log.Close(ctx)
}

// closeLimit is how long a disk that hangs may keep a run from ending.
const closeLimit = 10 * time.Second

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
