package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"strawline/control/keeper"
	"strawline/probe/plant"
	"strawline/probe/port"
	"strawline/probe/sim"
	"strawline/probe/temp"
)

// The demo's shop: invented, as everything in it.
const (
	demoProfile = "small-knife"
	demoLimit   = temp.C(250) // the oven's
	demoSteel   = "1084"
	demoThickMM = 4.0 // the thickness of the simulated blade
	demoPace    = 100
)

func newDemo(h *host) *cobra.Command {
	var f demoFlags
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "a whole two-cycle temper in a simulated shop",
		Long: "Demo runs a profile on a simulated oven and board, through the same port, line\n" +
			"protocol, engine, run file and screen as a real run. Nothing real is heated.\n" +
			"The options of the blade say what is modelled; the simulated one is as its oven file says.",
		Args: exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error { return h.demo(cmd.Context(), &f) },
	}
	f.register(cmd.Flags(), demoProfile, paceValue{factor: demoPace})
	return cmd
}

func (h *host) demo(ctx context.Context, f *demoFlags) error {
	p, err := h.profile(f.profile)
	if err != nil {
		return err
	}
	oven, name, err := readOven(f.oven)
	if err != nil {
		return err
	}
	gains, model, err := foundOf(f.found, name)
	if err != nil {
		return err
	}
	clock := realClock()
	out, numbered, err := h.outPath(f.out, p.Name+"-simulated", clock.Wall())
	if err != nil {
		return err
	}
	shop := sim.Config{Plant: oven, Seed: f.seed.n, Faults: f.faults}
	wire := port.Config{Name: "the simulated board"}
	if f.noHeat {
		shop.Plain, wire.Sketch = &sim.Plain{}, &port.Sketch{}
	}
	board := sim.New(shop)
	defer board.Close()
	open, transport, clean, err := demoLink(board, f.pace.max)
	if err != nil {
		return err
	}
	defer clean()
	s := &session{h: h, plain: f.plain || !h.screened(), transport: transport, cfg: keeper.Config{
		Open: open, Port: wire, NoHeater: f.noHeat, Run: "demo", Profile: *p.Profile,
		Unit: p.Unit, Gains: gains, Model: model, Oven: name, Limit: demoLimit,
		Roles: []string{"oven air"}, Out: out, Numbered: numbered, Clock: clock,
		Blade: f.blade.info(h, nil),
		Sim: &keeper.Simulation{Board: board, Oven: oven, Seed: f.seed.n, Pace: f.pace.factor,
			Person: keeper.Person(f.person.word)},
	}}
	return s.run(ctx)
}

// demoLink reaches the simulated board: through a pseudo-terminal and the serial library, or
// through memory at the highest pace and where the system has no pseudo-terminal.
func demoLink(b *sim.Board, memory bool) (port.Opener, string, func(), error) {
	clean := func() {}
	if !memory {
		dir, err := os.MkdirTemp("", "strawline-demo-")
		if err != nil {
			return nil, "", nil, &fault{code: exitCannotMake, did: "make",
				to: "a folder for the demo's port", wrong: err}
		}
		clean = func() { os.RemoveAll(dir) }
		path, err := b.Pty(dir)
		if err == nil {
			return opened(b, port.OpenSerial(path, baud)), "pseudo-terminal", clean, nil
		}
		if !errors.Is(err, sim.ErrNoPty) {
			clean()
			return nil, "", nil, &fault{code: exitUnavailable, did: "make",
				to: "the demo's port", wrong: err}
		}
	}
	m, err := b.Memory()
	if err != nil {
		return nil, "", nil, &fault{code: exitBug, did: "reach", to: "the simulated board",
			wrong: err}
	}
	open := func() (port.Stream, error) {
		c, err := m.Open()
		if err != nil { // a nil *Conn must not become a Stream
			return nil, err
		}
		return c, nil
	}
	return opened(b, open), "in-memory stream", clean, nil
}

// opened tells the simulated board of each opening, as DTR does on a real one.
func opened(b *sim.Board, open port.Opener) port.Opener {
	return func() (port.Stream, error) {
		s, err := open()
		if err == nil {
			b.Opened()
		}
		return s, err
	}
}

// readOven reads an oven parameters file; "" is reference oven A.
func readOven(path string) (plant.Params, string, error) {
	if path == "" {
		return plant.A(), "simulated oven A", nil
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return plant.Params{}, "", &fault{code: exitNoInput, did: "read the oven file", to: path,
			wrong: err, help: "give a file of oven parameters, or leave out --oven"}
	}
	p, err := plant.Parse(data)
	if err != nil {
		return plant.Params{}, "", &fault{code: exitData, did: "read the oven file", to: path,
			wrong: err}
	}
	return p, "simulated oven of " + filepath.Base(path), nil
}
