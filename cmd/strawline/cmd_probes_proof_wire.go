package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"strawline/control"
	"strawline/control/keeper"
	"strawline/control/shop"
	"strawline/probe/port"
	"strawline/probe/sim"
	"strawline/probe/temp"
	"strawline/profiles"
	"strawline/tui"
)

// proofHeater makes an oven warm by an ordinary run.
type proofHeater struct {
	cfg   keeper.Config
	after func(keeper.Result) error // what is kept of it beside its file; may be nil
}

// wire finds the board, the oven and the file. Nothing is opened yet.
func (c *proving) wire(args []string) (clean func(), err error) {
	clean = func() {}
	c.today = today(c.clock)
	switch {
	case c.f.simulated:
		return c.wireSim()
	case len(args) == 0 && c.f.port != "":
		c.wirePort()
	default:
		name := ""
		if len(args) > 0 {
			name = args[0]
		}
		if err := c.wireShop(name); err != nil {
			return nil, err
		}
	}
	if c.f.found != "" {
		c.file = c.f.found
	}
	c.store = shop.NewStore(c.file)
	return clean, nil
}

// wirePort is a board without a shop file.
func (c *proving) wirePort() {
	c.at, c.path, c.partial = "the board on "+c.f.port, c.f.port, !c.f.contactor
	c.file = shop.FoundPath(c.h.shopPath(""))
	open, cfg := port.OpenSerial(c.path, baud), port.Config{Name: c.path}
	c.open = func() (port.Opener, port.Config) { return open, cfg }
	heater := &proofHeater{cfg: keeper.Config{Open: open, Port: cfg, Gains: control.CautiousGains(),
		Oven: "oven", Limit: runLimit, Roles: []string{"oven air"}}}
	if c.f.contactor {
		heater = nil // how long it must rest is not known
	}
	c.heater = heater
}

// wireShop is a board of the shop file, with the oven that it heats.
func (c *proving) wireShop(name string) error {
	files, err := c.h.shopFiles(c.f.shop)
	if err != nil {
		return err
	}
	b, err := files.proofBoard(name)
	if err != nil {
		return err
	}
	at := *b
	if c.f.port != "" {
		at.Port = c.f.port
	}
	open, cfg, err := wire(&at)
	if err != nil {
		return err
	}
	c.of, c.at, c.path = b.Name, "board "+b.Name+" on "+at.Port, at.Port
	c.file, c.partial = shop.FoundPath(files.path), true
	c.open = func() (port.Opener, port.Config) { return open, cfg }
	o, err := files.heatedBy(b.Name, c.f.oven)
	if err != nil || o == nil {
		return err
	}
	c.partial = o.Output == nil || !o.Output.Contactor
	heat, after, err := files.run(&runFlags{oven: o.Name}, "proof")
	if err != nil {
		return err
	}
	heat.Open, heat.Port = open, cfg
	c.heater = &proofHeater{cfg: heat, after: after}
	return nil
}

// proofBoard finds the board of the shop file that is to be proved.
func (b *shopFiles) proofBoard(name string) (*shop.Board, error) {
	var ours, names []string
	for _, one := range b.shop.Boards {
		names = append(names, one.Name)
		if one.Kind == shop.Strawline {
			ours = append(ours, one.Name)
		}
	}
	switch {
	case name == "" && len(ours) == 0:
		return nil, &fault{code: exitConfig, did: "find", to: "a board in " + b.path,
			wrong: errors.New("none is a strawline board, which alone takes duty")}
	case name == "" && len(ours) > 1:
		return nil, usage("the shop file has several boards; say which: strawline probes proof %s",
			ours[0])
	case name == "":
		name = ours[0]
	}
	board := b.shop.Board(name)
	if board == nil {
		f := &fault{code: exitConfig, did: "find", to: "the board " + name + " in " + b.path,
			wrong: errors.New("there is none of that name")}
		if near := nearest(name, names); near != "" {
			f.help = "did you mean " + near + "?"
		}
		return nil, f
	}
	if board.Kind != shop.Strawline {
		return nil, &fault{code: exitConfig, did: "prove", to: "board " + name, wrong: errNoProofBoard}
	}
	return board, nil
}

// heatedBy finds the oven whose heat a board switches; nil if the shop file has none.
func (b *shopFiles) heatedBy(board, asked string) (*shop.Oven, error) {
	var ovens []*shop.Oven
	for i := range b.shop.Ovens {
		o := &b.shop.Ovens[i]
		if o.Board == board && o.Heater && (asked == "" || o.Name == asked) {
			ovens = append(ovens, o)
		}
	}
	switch {
	case len(ovens) == 1:
		return ovens[0], nil
	case len(ovens) > 1:
		return nil, usage("the board heats several ovens; say which: --oven %s", ovens[0].Name)
	case asked != "":
		return nil, &fault{code: exitConfig, did: "find", to: "the oven " + asked + " in " + b.path,
			wrong: fmt.Errorf("board %s heats none of that name", board)}
	}
	return nil, nil
}

// wireSim makes the demo's own oven and board.
func (c *proving) wireSim() (clean func(), err error) {
	oven, name, err := readOven("")
	if err != nil {
		return nil, err
	}
	if c.f.found != "" {
		if besideShop(c.f.found, c.h.shopPath("")) {
			return nil, &fault{code: exitUsage, did: "keep", to: "what a simulated board showed in " +
				c.f.found, wrong: errors.New("that is the found file of a shop"), help: "name another file"}
		}
		c.store, c.file = shop.NewStore(c.f.found), c.f.found
	}
	board := sim.New(sim.Config{Plant: oven, Seed: c.f.seed.n, Faults: c.f.faults})
	open, _, unlink, err := demoLink(board, c.f.pace.max)
	if err != nil {
		board.Close()
		return nil, err
	}
	c.simulated(board, open)
	c.sim.board, c.heater.cfg.Sim.Board = board, board
	real := realClock()
	c.sim.paced = func(asking bool) {
		switch {
		case asking:
			real.Sleep(c.ctx, sim.Step)
		case c.f.pace.factor > 0:
			real.Sleep(c.ctx, time.Duration(float64(sim.Step)/c.f.pace.factor))
		}
	}
	c.heater.cfg.Oven = name
	c.heater.cfg.Sim.Seed, c.heater.cfg.Sim.Pace = c.f.seed.n, c.f.pace.factor
	c.heater.cfg.Sim.Oven, c.heater.cfg.Clock = oven, real
	return func() { board.Close(); unlink() }, nil
}

// simulated has the walk go in lockstep with a simulated board.
func (c *proving) simulated(g keeper.Granter, open port.Opener) {
	s := &proofSim{grants: g, paced: func(bool) {}}
	cfg := port.Config{Name: "the simulated board", WriteLimit: time.Minute, CloseLimit: time.Minute}
	c.sim, c.partial, c.of, c.path = s, true, simulatedMark+"board", cfg.Name
	c.at = cfg.Name
	c.open = func() (port.Opener, port.Config) { return open, cfg }
	c.clock = keeper.Clock{Now: func() time.Duration { return s.now },
		Wall: func() time.Time { return keeper.SimulatedStart.Add(s.now) }}
	c.today = shop.DateOf(keeper.SimulatedStart)
	c.heater = &proofHeater{cfg: keeper.Config{Open: open, Port: port.Config{Name: cfg.Name},
		Gains: control.CautiousGains(), Oven: "simulated oven", Limit: demoLimit,
		Roles: []string{"oven air"}, Clock: realClock(),
		Sim: &keeper.Simulation{Grants: g, Person: keeper.Away}}}
}

// warm offers to heat an oven that is too cold for the limit's proof, and says why it still is;
// "" if it is warm enough.
func (c *proving) warm() (cold string, err error) {
	if c.mean() >= proofWarm {
		return "", nil
	}
	if c.heater == nil {
		c.say("It is at %s; the oven has to be warm for this, %s at least, and no heater of this board "+
			"is known here. Heat it by a run first.", two(c.mean()), two(proofWarm))
		return fmt.Sprintf("it was only at %s, and no heater is known", two(c.mean())), nil
	}
	at, u := c.heatAt(), temp.Celsius
	if c.f.at.given {
		u = c.f.at.unit
	}
	c.say("It is at %s. To see the heat fall the oven has to be warm, %s at least. A run with all "+
		"its alarms heats it to %s and ends.", two(c.mean()), two(proofWarm), at.Text(u, 0))
	if yes, err := c.yes("Stay with the oven. Heat it?"); err != nil || !yes {
		return leftOut(err).seen, err
	}
	if err := c.heatUp(at, u); err != nil {
		return "", err
	}
	if c.mean() < proofWarm {
		return fmt.Sprintf("heated, it was only at %s", two(c.mean())), nil
	}
	return "", nil
}

// hotAsked refuses a heat that the oven's limit has no room for.
func (c *proving) hotAsked() error {
	if c.heater == nil || !c.f.at.given || c.f.at.c <= c.heater.cfg.Limit.Add(-proofRoom) {
		return nil
	}
	u, limit := c.f.at.unit, c.heater.cfg.Limit
	return usage("--at %s: %s is the most with the oven's limit of %s", c.f.at.c.Text(u, 0),
		limit.Add(-proofRoom).Text(u, 0), limit.Text(u, 0))
}

func (c *proving) heatAt() temp.C {
	if c.f.at.given {
		return c.f.at.c
	}
	return max(proofWarm, min(proofAt, c.heater.cfg.Limit.Add(-proofRoom)))
}

// What the run that heats takes; all are our choice.
const (
	proofStay = 2 * time.Minute // at the heat: what coasts has come to rest
	proofLong = 2 * time.Hour   // at the longest
	proofBand = temp.Delta(20)
	proofOver = temp.Delta(50) // above the heat at which its own limit is
)

// heatUp has an ordinary run heat the oven, with every alarm on, and meets the board again.
func (c *proving) heatUp(at temp.C, u temp.Unit) error {
	cfg := c.heater.cfg
	cfg.Run, cfg.Unit = "proof", u
	if cfg.Sim != nil {
		cfg.Run = simulatedMark + "proof"
	} else {
		cfg.Clock = c.clock
	}
	cfg.Profile = profiles.Profile{Name: cfg.Run, Title: "heating for a proof of the limit", Unit: u,
		Limit: min(cfg.Limit, at.Add(proofOver)), Longest: proofLong, Steps: []profiles.Step{
			{Kind: profiles.Ramp, To: at, Band: proofBand},
			{Kind: profiles.Soak, To: at, For: proofStay, Band: proofBand}}}
	var err error
	cfg.Out, cfg.Numbered, err = c.h.outPath("", cfg.Run, c.clock.Wall())
	if err != nil {
		return err
	}
	c.close() // the run opens the port for itself
	if c.sim != nil && c.sim.board != nil {
		c.sim.board.Closed()
	}
	err = c.runHot(cfg, u)
	if back := c.reach(); back != nil && err == nil {
		err = back
	}
	return err
}

// runHot makes the run, answers its end and stops it where it trips: a proof starts no second try.
func (c *proving) runHot(cfg keeper.Config, u temp.Unit) error {
	var screen *keeper.Screen
	var info control.Info
	cfg.Records = func(r control.Record) {
		if r.Event == nil {
			return
		}
		if line := tui.Line(*r.Event, &info, u); line != "" {
			c.say("  %s", line)
		}
		switch r.Event.Kind {
		case control.EvTrip:
			screen.Ask(control.Ask{Kind: control.AskStop, By: "proof", Text: r.Event.Text})
		case control.EvEnd:
			screen.Ask(control.Ask{Kind: control.AskAnswer, By: "proof"})
		}
	}
	s := &session{h: c.h, cfg: cfg}
	k, err := keeper.Prepare(c.ctx, cfg)
	if err != nil {
		return s.prepareFault(c.ctx, err)
	}
	screen, info = k.Screen(), k.Info()
	c.heatRun = trimRun(k.Out(), cfg)
	res, err := k.Run(c.ctx)
	if c.heater.after != nil && err == nil {
		if kept := c.heater.after(res); kept != nil {
			c.say("%s", oneLine(kept.Error()))
		}
	}
	f := &fault{code: exitTemporary, did: "heat", to: cfg.Oven, wrong: err,
		help: off(res) + "; the run file is " + k.Out()}
	switch {
	case c.ctx.Err() != nil:
		f.code, f.wrong = asFault(c.ended()).code, asFault(c.ended()).wrong
		return f
	case err != nil:
		f.code = exitIO
		return f
	case res.Word != "done":
		f.wrong = fmt.Errorf("the run ended %s: %s", res.Word, res.Why)
		return f
	}
	return nil
}

// trimRun names the run in the found file, without anything of the machine if it is simulated.
func trimRun(out string, cfg keeper.Config) string {
	if cfg.Sim != nil {
		return cfg.Run
	}
	base := filepath.Base(out)
	return base[:len(base)-len(filepath.Ext(base))]
}
