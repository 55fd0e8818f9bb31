package main

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"strawline/control"
	"strawline/control/keeper"
	"strawline/control/shop"
	"strawline/probe/port"
	"strawline/probe/sim"
	"strawline/probe/temp"
	"strawline/profiles"
)

// What a run takes where the person did not say.
const (
	baud     = 38400       // of the board's line protocol
	runLimit = temp.C(250) // a small tempering oven's; common practice, no source
)

func newRun(h *host) *cobra.Command {
	var f runFlags
	return runCommand(h, &f)
}

// runCommand is the command with its options in f, which a keeper reads too.
func runCommand(h *host, f *runFlags) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "run [PROFILE]",
		Short: "run a profile on an oven: heat it by its board, or say what to do",
		Long: "Run heats. Fit an independent over-temperature cut-out with a manual reset,\n" +
			"stay within reach and keep to local codes. On a terminal the run goes on when you\n" +
			"leave the screen: strawline watch shows it again, strawline stop ends it. With\n" +
			"--plain, or without a terminal, the run ends with the program.",
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.check(args); err != nil {
				return err
			}
			return h.runOven(cmd.Context(), f, args)
		},
	}
	f.register(cmd.Flags())
	return cmd
}

func (h *host) runOven(ctx context.Context, f *runFlags, args []string) error {
	if os.Geteuid() == 0 && !f.asRoot && f.grants == "" {
		return rootRefused("run")
	}
	cfg, after, err := h.runConfig(f, args)
	if err != nil {
		return err
	}
	ahead, err := h.mayRun(f, cfg)
	if err != nil {
		return err
	}
	plain := f.plain || !h.screened()
	if canDetach && !plain && f.grants == "" {
		return h.runKept(ctx, f, cfg, ahead)
	}
	s := &session{h: h, plain: plain, cfg: cfg, after: after, ahead: ahead}
	if f.port == "" {
		s.calls = h.shopPath(f.shop)
	}
	return s.run(ctx)
}

func rootRefused(command string) error {
	return &fault{code: exitNoRight, did: command, to: "as root",
		wrong: errors.New("root may open a port that another program uses"),
		help:  "run it as yourself, or say --as-root"}
}

// runConfig says what the run needs. Nothing is opened yet.
func (h *host) runConfig(f *runFlags, args []string) (
	cfg keeper.Config, after func(keeper.Result) error, err error,
) {
	p, err := h.runProfile(f, args)
	if err != nil {
		return cfg, nil, err
	}
	if cfg, after, err = h.runShop(f, p.Name); err != nil {
		return cfg, nil, err
	}
	cfg.Run, cfg.Profile, cfg.Unit = p.Name, *p, p.Unit
	cfg.Blade, after = f.blade.info(h, cfg.Blade), h.hardnessKept(after)
	if f.limit.given {
		cfg.Limit = f.limit.c
		cfg.Profile.LimitMade = false // the person has thought in limits, and is asked about them
	}
	// What needs no board is checked before the port is opened, which restarts most boards.
	if err := control.Check(control.Info{Profile: *p, Shop: control.Shop{
		LimitC: float64(cfg.Limit), Channels: cfg.Roles, NoHeater: true}}); err != nil {
		return cfg, nil, &fault{code: exitConfig, did: "start", to: "the run of " + p.Name, wrong: err}
	}
	cfg.Clock = realClock()
	cfg.Out, cfg.Numbered, err = h.outPath(f.out, p.Name, cfg.Clock.Wall())
	return cfg, after, err
}

// runShop says what the run is held with: the port that was named, or what the shop file has;
// and what is to be kept of it afterwards.
func (h *host) runShop(f *runFlags, run string) (
	keeper.Config, func(keeper.Result) error, error,
) {
	if f.port == "" {
		b, err := h.shopFiles(f.shop)
		if f.shop == "" && errors.Is(err, fs.ErrNotExist) {
			err = usage("say which port: --port PATH, or write a shop file at %s", h.shopPath(""))
		}
		if err != nil {
			return keeper.Config{}, nil, err
		}
		return b.run(f, run)
	}
	cfg := keeper.Config{Open: port.OpenSerial(f.port, baud), Port: port.Config{Name: f.port},
		Gains: f.gains(control.CautiousGains()), Oven: "oven", Limit: runLimit,
		Roles: []string{"oven air"}, NoHeater: f.noHeat, Proofs: h.proofsOn(f.port)}
	if f.grants != "" {
		return h.granted(f, cfg)
	}
	if f.noHeat {
		cfg.Open, cfg.Port.Sketch = port.OpenSerial(f.port, f.baud), &port.Sketch{}
	}
	return cfg, nil, nil
}

// granted makes a run lockstep with a simulated board in another process: on a pseudo-terminal
// only, and only if a bench answers on the socket that it is one. Never on the wall's time.
func (h *host) granted(f *runFlags, cfg keeper.Config) (
	keeper.Config, func(keeper.Result) error, error,
) {
	real, err := filepath.EvalSymlinks(f.port)
	if err != nil || !strings.HasPrefix(real, "/dev/pts/") && !strings.HasPrefix(real, "/dev/ttys") {
		return cfg, nil, &fault{code: exitUsage, did: "run", to: "with --grants on " + f.port,
			wrong: errors.New("it is no pseudo-terminal"),
			help:  "grants are for a simulated board; leave out --grants"}
	}
	bench, err := sim.Dial(f.grants)
	if err != nil {
		return cfg, nil, &fault{code: exitUnavailable, did: "reach the bench at", to: f.grants,
			wrong: err, help: "start it first; without it the run is refused"}
	}
	inner := cfg.Open
	cfg.Open = func() (port.Stream, error) {
		s, err := inner()
		if err == nil {
			bench.Opened()
		}
		return s, err
	}
	cfg.Oven = "simulated bench"
	cfg.Sim = &keeper.Simulation{Grants: bench, Pace: f.pace.factor, Person: keeper.Away}
	return cfg, func(keeper.Result) error { return bench.Close() }, nil
}

// run says what an oven of the shop file is held with.
func (b *shopFiles) run(f *runFlags, name string) (
	cfg keeper.Config, after func(keeper.Result) error, err error,
) {
	o, err := b.oven(f.oven)
	if err != nil {
		return cfg, nil, err
	}
	probes, board, err := b.probesOf(o)
	if err != nil {
		return cfg, nil, err
	}
	if cfg.Open, cfg.Port, err = wire(board); err != nil {
		return cfg, nil, err
	}
	cfg.Oven, cfg.Limit = o.Name, o.Limit
	cfg.NoHeater = f.noHeat || !o.Heater || board.Kind != shop.Strawline
	gains := control.CautiousGains()
	if g := shop.PickGains(b.shop, b.found, o.Name); g.Origin != shop.FromNowhere {
		gains = gainsInfo(g)
	}
	cfg.Gains, cfg.Model = f.gains(gains), b.model(o)
	b.output(o, &cfg)
	cfg.Proofs = proofsOf(b.found, board.Name)
	// The run is led by the probe in the oven's air; it is its first channel.
	for i, p := range probes {
		role, c := "", control.Correction{}
		if p != nil {
			role, c = string(p.Use), b.correction(p)
		}
		cfg.Roles, cfg.Corrections = append(cfg.Roles, role), append(cfg.Corrections, c)
		if p != nil && p.Use == shop.OvenAir && cfg.Lead == 0 {
			cfg.Lead = i + 1
		}
	}
	cfg.Blade = b.bladeIn(o)
	return cfg, func(r keeper.Result) error {
		return errors.Join(b.worn(probes, r, name), b.convection(o.Name, r, name))
	}, nil
}

// worn adds what a run did to its probes to found.toml. A probe that was fitted since the last
// entry begins anew. A simulated run never gets here.
func (b *shopFiles) worn(probes []*shop.Probe, r keeper.Result, run string) error {
	if r.Last.Info == nil || r.Last.Info.Simulated {
		return nil
	}
	today := shop.DateOf(r.Last.Wall)
	return shop.NewStore(shop.FoundPath(b.path)).Update(func(f *shop.Found) error {
		for i, p := range probes {
			if p == nil || i >= len(r.Wear) || !r.Wear[i].Seen {
				continue
			}
			w := shop.Wear{Warm: r.Wear[i].Warm, Aged: r.Wear[i].Aged, Peak: r.Wear[i].Peak}
			old := shop.Get(f.Wears, p.Name)
			fitted := shop.PickFitted(b.shop, *f, p.Name)
			if old != nil && (fitted.Origin == shop.FromNowhere || old.Date.Since(fitted.Value) >= 0) {
				w = old.Value.Add(w)
			}
			f.Wears = shop.Put(f.Wears, shop.Entry[shop.Wear]{Of: p.Name, Date: today, Run: run,
				Value: w})
		}
		return nil
	})
}

func (h *host) runProfile(f *runFlags, args []string) (*profiles.Profile, error) {
	if len(args) == 1 {
		p, err := h.profile(args[0])
		return p.Profile, err
	}
	band := temp.DeltaF(10)
	if f.band.given {
		band = f.band.d
	}
	p, err := profiles.Temper(f.at.c, f.soak.d, f.times, band, f.at.unit)
	if err != nil {
		return nil, &fault{code: exitData, did: "make", to: "the profile", wrong: err}
	}
	return p, nil
}

// gains gives those of the command line, or g.
func (f *runFlags) gains(g control.Gains) control.Gains {
	if f.kp.given {
		g = control.Gains{Kp: f.kp.perC, TiS: f.ti.d.Seconds(), TdS: f.td.d.Seconds(), Weight: 1,
			From: "command line"}
	}
	return g
}
