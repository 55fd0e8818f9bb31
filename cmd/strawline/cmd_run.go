package main

import (
	"context"
	"errors"
	"os"

	"github.com/spf13/cobra"

	"strawline/control"
	"strawline/control/keeper"
	"strawline/probe/port"
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
	cmd := &cobra.Command{
		Use:   "run [PROFILE]",
		Short: "run a profile on an oven whose board speaks our line protocol",
		Long: "Run heats. Fit an independent over-temperature cut-out with a manual reset,\n" +
			"stay within reach and keep to local codes. Leaving the screen asks first and\n" +
			"then ends the run with the heat off.",
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.check(args); err != nil {
				return err
			}
			return h.runOven(cmd.Context(), &f, args)
		},
	}
	f.register(cmd.Flags())
	return cmd
}

func (h *host) runOven(ctx context.Context, f *runFlags, args []string) error {
	if os.Geteuid() == 0 && !f.asRoot {
		return &fault{code: exitNoRight, did: "run", to: "as root",
			wrong: errors.New("root may open a port that another program uses"),
			help:  "run it as yourself, or say --as-root"}
	}
	p, err := h.runProfile(f, args)
	if err != nil {
		return err
	}
	limit := runLimit
	if f.limit.given {
		limit = f.limit.c
	}
	// What needs no board is checked before the port is opened, which restarts most boards.
	if err := control.Check(control.Info{Profile: *p, Shop: control.Shop{LimitC: float64(limit),
		Channels: []string{"oven air"}, NoHeater: true}}); err != nil {
		return &fault{code: exitConfig, did: "start", to: "the run of " + p.Name, wrong: err}
	}
	clock := realClock()
	out, err := h.outPath(f.out, p.Name, clock.Wall())
	if err != nil {
		return err
	}
	s := &session{h: h, plain: f.plain || !h.screened(), cfg: keeper.Config{
		Open: port.OpenSerial(f.port, baud), Port: port.Config{Name: f.port}, Run: p.Name,
		Profile: *p, Unit: p.Unit, Gains: f.gains(), Oven: "oven", Limit: limit,
		Roles: []string{"oven air"}, Blade: f.bladeInfo(), Out: out, Clock: clock}}
	return s.run(ctx)
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

func (f *runFlags) gains() control.Gains {
	g := control.CautiousGains()
	if f.kp.given {
		g = control.Gains{Kp: f.kp.perC, TiS: f.ti.d.Seconds(), TdS: f.td.d.Seconds(), Weight: 1,
			From: "command line"}
	}
	return g
}

func (f *runFlags) bladeInfo() *control.BladeInfo {
	if f.blade == "" && f.steel == "" && !f.thick.given {
		return nil
	}
	return &control.BladeInfo{Text: f.blade, Steel: f.steel, ThickMM: f.thick.mm}
}
