// Package keeper holds everything that runs: the port, the engine, the run file and what the
// screens fetch, all under one context. It is the one place where goroutines are started.
//
// Off is the resting state: the heater is commanded off when a run ends, when any part of the
// program fails and when the context ends; the board takes the heat away by itself when it
// hears nothing for 3 s. Nothing here replaces an independent over-temperature cut-out.
package keeper

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/plant"
	"strawline/probe/port"
	"strawline/probe/sim"
	"strawline/probe/temp"
	"strawline/profiles"
	"strawline/profiles/steel"
)

// Tick is the time between two steps of a run: the board says each channel four times a second.
const Tick = 250 * time.Millisecond

// Config is what one run needs.
type Config struct {
	Open    port.Opener
	Port    port.Config
	Run     string // short name
	Profile profiles.Profile
	Unit    temp.Unit
	Gains   control.Gains
	// Model is how the oven answers its heater; nil if nobody knows.
	Model *control.ModelInfo
	// Test makes the run a tuning test; nil for a run like any other.
	Test *control.TestInfo
	// Window and MainsHz are what the shop file says that the board has stored; 0 if nothing. Where
	// the board has something else, the run file says so and how to set it.
	Window  time.Duration
	MainsHz int
	// Contactor is for an output that switches rarely; nil for a solid-state relay.
	Contactor *control.Contactor
	Oven      string // what the oven is called
	Limit     temp.C // the oven's
	// NoHeater says that the person holds the heat: no duty is ever sent.
	NoHeater bool
	Roles    []string // of the channels, channel 1 first
	Lead     int      // channel of the oven's air; 0 is 1
	// Corrections of the channels, channel 1 first; may be shorter.
	Corrections []control.Correction
	// Proofs of the board, as far as they are known; not used where Sim or NoHeater is.
	Proofs *control.Proofs
	Blade  *control.BladeInfo
	Out    string // path of the run file; it must not exist
	// Numbered says that nobody asked for this very path: where it exists, -2, -3 and so on are put
	// before its ending.
	Numbered bool

	// Resume goes on with the run that the file at Out has, whose keeper was killed: what its head
	// says stands, and the run is tripped until a person decides. See control.Resume.
	Resume bool

	// Sim is the simulated shop: then the run goes in lockstep with it. Nil for a real port.
	Sim *Simulation

	Clock Clock
	// Records is called with every record in order, from a goroutine of its own where the run
	// is on a real port, and before the next grant in lockstep. It may be nil.
	Records func(control.Record)
	// Patience is how long Prepare waits for a board that proves itself; 15 s if 0: a board
	// boots in about 2 s, and one that does not is asked again.
	Patience time.Duration
}

// Simulation is the shop that a lockstep run happens in.
type Simulation struct {
	Board  *sim.Board   // in this process; nil if Grants has one elsewhere
	Grants Granter      // a board in another process; only without Board
	Oven   plant.Params // the oven behind it, for the simulated person's blade
	Seed   uint64
	Person Person
	// Pace is simulated seconds for each real one; 0 goes as fast as the machine can. It only
	// delays grants and is not in the run file.
	Pace float64
}

// Granter is a simulated board as a lockstep run needs it: see sim.Board.Grant.
type Granter interface {
	Grant(sent uint64) (said uint64, err error)
}

// granter gives the board that is granted its time.
func (s *Simulation) granter() Granter {
	if s.Board != nil {
		return s.Board
	}
	return s.Grants
}

// Clock is the keeper's time. Now is monotonic from any start; Wall labels the run file.
type Clock struct {
	Now   func() time.Duration
	Wall  func() time.Time
	Sleep func(context.Context, time.Duration) // returns early when the context ends
	Tick  func(time.Duration) (c <-chan time.Time, stop func())
	// CountsSleep says that Now goes on while the computer sleeps.
	CountsSleep bool
}

// syncedPace is the highest pace at which a simulated run syncs its file every 5 s of its own
// time, as a real one does: twice a second.
const syncedPace = 10

// SimulatedStart is the wall clock of every lockstep run, so that nothing of the machine enters
// its run file. A Monday morning, chosen by us.
var SimulatedStart = time.Date(2026, 1, 5, 8, 0, 0, 0, time.UTC)

// Result is how a run ended.
type Result struct {
	Word string // "done", "stopped", "tripped" or "late", as the end event has it
	Why  string
	Last control.Snapshot
	Fit  steel.Fit     // of the modelled blade to the probe at it, if there was one
	Wear []belief.Wear // what the run added to the use of each channel's probe, channel 1 first
	// Unanswered says that the board did not answer the last duty 0, or was not there to hear it:
	// its dead man takes the heat away.
	Unanswered bool
}

// Keeper holds one run.
type Keeper struct {
	cfg    Config
	port   *port.Port
	now    time.Duration // simulated time of a lockstep run
	engine *control.Engine
	log    *runlog.Logger
	info   control.Info
	x      exchange
	person *person
	result Result
	first  probe.Batch
	fails  chan error // of goroutines that panicked
	full   int        // steps for which the queue to the disk still counts as full

	lines     chan control.Record // to the printer; nil where there is none
	printed   chan struct{}       // closed when the printer has ended
	slept     atomic.Int64        // ns that the computer slept and Clock.Now did not count
	portHangs bool                // its goroutine has not come back
}

// ErrQuestion says that a sketch's lines do not tell what its numbers are.
var ErrQuestion = errors.New("the board's lines do not say everything")

// ErrNoProof says that a port opened but no board behind it proved our line protocol.
var ErrNoProof = errors.New("no board on this port has proved Strawline's line protocol")

// Prepare opens the port, waits until the board has proved that it speaks our protocol, checks
// the limits and makes the run file. Nothing is heated. Its errors are one clear line each:
// *port.OpenError, ErrNoProof, a limit, or the run file's.
func Prepare(ctx context.Context, cfg Config) (*Keeper, error) {
	if cfg.Sim != nil {
		cfg.Port = patient(cfg.Port)
	}
	if cfg.Port.Sketch != nil && cfg.Port.Patience == 0 {
		cfg.Port.Patience = time.Minute // opening it again would reset it while it is learnt
	}
	k := &Keeper{cfg: cfg, port: port.New(cfg.Port, cfg.Open), fails: make(chan error, 8)}
	if cfg.Patience == 0 {
		k.cfg.Patience = 15 * time.Second
		if cfg.Port.Sketch != nil { // a slow one prints a line every ten seconds
			k.cfg.Patience = time.Minute
		}
	}
	if err := k.prove(ctx); err != nil { // before there is a file
		k.port.Close(k.clock())
		return nil, err
	}
	w, err := k.file(k.head())
	if err != nil {
		k.port.Close(k.clock())
		return nil, err
	}
	if cfg.Sim != nil && (cfg.Sim.Pace == 0 || cfg.Sim.Pace > syncedPace) {
		w.SetSync(func() error { return nil }) // what a power cut takes can be simulated again
	}
	k.log = runlog.Start(w, k.guard("log"))
	if cfg.Sim != nil {
		k.person = &person{mode: cfg.Sim.Person, board: cfg.Sim.Board, oven: cfg.Sim.Oven}
	}
	return k, nil
}

// create makes the run file. It alone decides which name is free, so that two runs that begin in
// the same second have a file each.
func (k *Keeper) create(info control.Info) (*runlog.Writer, error) {
	end := filepath.Ext(k.cfg.Out)
	stem := strings.TrimSuffix(k.cfg.Out, end)
	for i := 2; ; i++ {
		w, err := runlog.Create(k.cfg.Out, info)
		if !k.cfg.Numbered || !errors.Is(err, fs.ErrExist) {
			return w, err
		}
		k.cfg.Out = fmt.Sprintf("%s-%d%s", stem, i, end)
	}
}

// Out gives the path of the run file.
func (k *Keeper) Out() string { return k.cfg.Out }

// patient gives a lockstep run's port limits on the wall's time that only a hang can reach: on a
// busy machine a write to memory can wait a quarter of a second for its goroutine, and a run that
// took that for an unplugged cable would not be the same twice.
func patient(c port.Config) port.Config {
	c.WriteLimit, c.CloseLimit, c.CollectLimit = time.Minute, time.Minute, time.Minute
	return c
}

// prove polls until the board has proved itself.
func (k *Keeper) prove(ctx context.Context) error {
	start := k.clock()
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		b, err := k.poll()
		if err != nil {
			return err
		}
		switch l := b.Link; {
		case l.State == probe.LinkUp && (l.Heats || k.cfg.NoHeater) && len(b.Readings) > 0:
			k.first = b
			return nil
		case l.State == probe.LinkMissing, l.State == probe.LinkBusy, l.State == probe.LinkDenied,
			l.State == probe.LinkNotPort:
			return k.port.Err()
		case k.asked() != nil:
			return k.asked()
		case k.clock()-start > k.cfg.Patience:
			if err := k.port.Err(); err != nil && l.State != probe.LinkWaiting && l.State != probe.LinkUp {
				return err
			}
			return fmt.Errorf("%w: %s, link %s, %d lines that were none of it", ErrNoProof,
				k.cfg.Port.Name, l.State, l.Bad)
		}
	}
}

// asked gives what a sketch's lines leave open, once they are known otherwise; nil if nothing.
func (k *Keeper) asked() error {
	u, _ := k.port.Understood()
	for _, q := range u.Questions {
		return fmt.Errorf("%w: %s; say %s = %s in the shop file", ErrQuestion, q.Why, q.What,
			strings.Join(q.Choices, " or "))
	}
	return nil
}

// clock gives the time that readings are marked with.
func (k *Keeper) clock() time.Duration {
	if k.cfg.Sim != nil {
		return k.now
	}
	return k.cfg.Clock.Now() + time.Duration(k.slept.Load())
}

// poll looks at the port once; in lockstep it grants the board its next 250 ms first.
func (k *Keeper) poll() (probe.Batch, error) {
	if k.cfg.Sim == nil {
		return k.port.Poll(k.clock()), nil
	}
	said, err := k.cfg.Sim.granter().Grant(k.port.Sent())
	if err != nil {
		return probe.Batch{}, err
	}
	k.now += Tick
	return k.port.Collect(k.now, said)
}

func (k *Keeper) head() control.Info {
	c := k.cfg
	b := k.first.Link.Board
	info := control.Info{Schema: runlog.Schema, Run: c.Run, Simulated: c.Sim != nil, Unit: "C",
		Profile: c.Profile, Gains: c.Gains, Blade: c.Blade, Model: c.Model, Test: c.Test}
	if c.Unit == temp.Fahrenheit {
		info.Unit = "F"
	}
	info.Shop = control.Shop{Oven: c.Oven, LimitC: float64(c.Limit), Channels: c.Roles,
		NoHeater: c.NoHeater, Corrections: c.Corrections, Contactor: c.Contactor}
	if c.Lead > 1 {
		info.Shop.Lead = c.Lead
	}
	if c.NoHeater {
		info.Gains, info.Model, info.Shop.Contactor = control.Gains{}, nil, nil
	}
	if s := &info.Shop; b != nil {
		s.Board, s.Protocol, s.Guard = b.Name, b.Version, b.Settings.Guard
		s.BoardLimC, s.CeilingC = float64(b.Settings.Limit), float64(b.Ceiling)
		s.MainsHz, s.WindowS = b.Settings.MainsHz, b.Settings.Window.Seconds()
	}
	if c.Sim != nil {
		info.Start = SimulatedStart
		if c.Sim.Board != nil { // another process has a seed of its own, or none
			info.Seed = &c.Sim.Seed
		}
		return info
	}
	info.Start = c.Clock.Wall()
	if !c.NoHeater {
		info.Shop.Proofs = c.Proofs
	}
	return info
}

// unlike says in one line where the board's stored settings are not those of the shop file, and
// how to set them; "" where they are.
func (k *Keeper) unlike() string {
	c, b := k.cfg, k.first.Link.Board
	if b == nil || c.NoHeater {
		return ""
	}
	var is, set []string
	if w := b.Settings.Window; c.Window != 0 && w != c.Window {
		is = append(is, fmt.Sprintf("a window of %v and the shop file says %v", w, c.Window))
		set = append(set, fmt.Sprintf("--window %.0fs", c.Window.Seconds()))
	}
	if hz := b.Settings.MainsHz; c.MainsHz != 0 && hz != c.MainsHz {
		is = append(is, fmt.Sprintf("mains of %d Hz and the shop file says %d Hz", hz, c.MainsHz))
		set = append(set, fmt.Sprintf("--mains %dHz", c.MainsHz))
	}
	if is == nil {
		return ""
	}
	return fmt.Sprintf("the board has %s: set it with strawline probes board --port %s %s",
		strings.Join(is, ", and "), c.Port.Name, strings.Join(set, " "))
}

// atStart gives what the keeper itself asks at the first step: a note where the board is not as
// the shop file has it, and one of what a real run that heats was begun with although it is odd.
func (k *Keeper) atStart() (asks []control.Ask) {
	note := func(text string) {
		asks = append(asks, control.Ask{Kind: control.AskNote, By: "keeper", Text: text})
	}
	if text := k.unlike(); text != "" {
		note(text)
	}
	if k.cfg.Sim == nil && k.cfg.Test == nil && !k.cfg.Resume {
		for _, why := range control.Odd(k.info) {
			note("begun all the same: " + why)
		}
	}
	return asks
}

// Screen makes one more watcher of the run.
func (k *Keeper) Screen() *Screen { return k.x.screen() }

// Info gives the head of the run.
func (k *Keeper) Info() control.Info { return k.info }
