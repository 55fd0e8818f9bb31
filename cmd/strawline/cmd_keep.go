package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"strawline/control"
	"strawline/control/attach"
	"strawline/control/keeper"
)

// keepFlags are the options of `keep`.
type keepFlags struct {
	shop      string
	asRoot    bool
	untilIdle bool
}

func newKeep(h *host) *cobra.Command {
	var f keepFlags
	cmd := &cobra.Command{
		Use:   "keep",
		Short: "hold the runs of a shop file in the foreground, for a service manager",
		Long: "Keep is idle until strawline run asks it for a run. It ends at SIGTERM or SIGINT,\n" +
			"every heater commanded off and the board's answer waited for.",
		Args: exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error { return h.keep(cmd.Context(), &f) },
	}
	fs := cmd.Flags()
	fs.StringVar(&f.shop, "shop", "", "the shop file; shop.toml in the configuration folder "+
		"unless given")
	fs.BoolVar(&f.asRoot, "as-root", false, "run as root all the same")
	fs.BoolVar(&f.untilIdle, "until-idle", false, "end when no run is left and nobody watches")
	return cmd
}

// Times of a keeper that ends.
const (
	endLimit  = 30 * time.Second // for the runs; a port and a disk that hang have limits of their own
	tellLimit = time.Second      // for the screens to hear how it ended
)

func (h *host) keep(ctx context.Context, f *keepFlags) error {
	if os.Geteuid() == 0 && !f.asRoot {
		return rootRefused("keep")
	}
	p, err := h.seat(f.shop)
	if err != nil {
		return err
	}
	socket, err := attach.Listen(p.socket)
	if err != nil {
		return h.doorFault(p, err)
	}
	signal.Ignore(syscall.SIGHUP) // its runs outlive a terminal
	told, release := signalled(ctx, syscall.SIGINT, syscall.SIGTERM)
	defer release()
	say := func(line string) {
		fmt.Fprintf(h.err, "%s %s\n", time.Now().Format(time.DateTime), strings.TrimSpace(line))
	}
	house := keeper.NewHouse(context.WithoutCancel(ctx), keeper.HouseConfig{
		Make: h.made, Kept: p.kept, Say: say})
	server := attach.NewServer(attach.Config{Build: buildWords(), Shop: p.shop, House: house,
		Now: time.Now, Complain: func(err error) { say(err.Error()) }})
	open, shut := context.WithCancel(context.WithoutCancel(ctx))
	defer shut()
	if err := house.Recover(); err != nil { // before anyone can be told that no run goes on
		say("what the last keeper left is not known: " + err.Error())
	}
	served := make(chan error, 1)
	go func() { served <- server.Serve(open, socket) }()
	say("the keeper of " + p.shop + " is there, " + buildWords() + fmt.Sprintf(
		", process %d", os.Getpid()))
	up := &awake{say: say, find: exec.LookPath}
	defer up.let()
	why := h.untilEnd(told, f.untilIdle, func() bool {
		idle := house.Idle()
		up.want(!idle)
		return idle && server.Connections() == 0
	})
	say("the keeper ends: " + why.Error())
	limit, cancel := context.WithTimeout(context.WithoutCancel(ctx), endLimit)
	defer cancel()
	err = house.Close(limit, why)
	waitFor(tellLimit, func() bool { return server.Connections() == 0 })
	shut()
	if e := <-served; err == nil {
		err = e
	}
	if err != nil {
		return &fault{code: exitIO, did: "end", to: "the keeper", wrong: err}
	}
	return nil
}

var errIdle = errors.New("nothing is left to do")

// untilEnd waits until the keeper is told to end, or has been idle for long enough.
func (h *host) untilEnd(told context.Context, untilIdle bool, idle func() bool) error {
	const every = 250 * time.Millisecond
	tick := time.NewTicker(every)
	defer tick.Stop()
	since := time.Duration(0)
	for {
		select {
		case <-told.Done():
			return context.Cause(told)
		case <-tick.C:
		}
		since += every
		if !idle() || !untilIdle {
			since = 0
		}
		if since >= keeper.IdleLimit {
			return errIdle
		}
	}
}

// waitFor waits until ok, at most so long.
func waitFor(limit time.Duration, ok func() bool) {
	ctx, cancel := context.WithTimeout(context.Background(), limit)
	defer cancel()
	tick := time.NewTicker(10 * time.Millisecond)
	defer tick.Stop()
	for !ok() {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// made turns the arguments of somebody's `run` into what the run needs, as if it had been called
// here: the paths are his, and so are the folders of his environment.
func (h *host) made(job attach.Job, again bool) (keeper.Made, error) {
	var f runFlags
	his := &host{in: strings.NewReader(""), out: h.out, err: h.err, env: job.Env}
	cmd := runCommand(his, &f)
	cmd.SetFlagErrorFunc(flagFault)
	if err := cmd.ParseFlags(job.Args); err != nil {
		return keeper.Made{}, refusalOf(flagFault(cmd, err))
	}
	args := cmd.Flags().Args()
	if err := f.check(args); err != nil {
		return keeper.Made{}, refusalOf(err)
	}
	f.rebase(job.Folder, args)
	if again {
		f.out = "" // it is there, and is named by whoever takes the run up
	}
	cfg, after, err := his.runConfig(&f, args)
	if err != nil {
		return keeper.Made{}, refusalOf(err)
	}
	s := &session{h: his, cfg: cfg}
	m := keeper.Made{Config: cfg, After: after, Refuse: func(err error) error {
		return refusalOf(s.prepareFault(context.Background(), err))
	}}
	if f.port == "" {
		if err := his.hooked(&f, &m); err != nil {
			return keeper.Made{}, refusalOf(err)
		}
	}
	return m, nil
}

// hooked has a run of the shop file ring that file's hooks. Hooks that may not be run cost a line
// in the keeper's log, not the run.
func (h *host) hooked(f *runFlags, m *keeper.Made) error {
	say := func(line string) { fmt.Fprintf(h.err, "%s\n", oneLine(line)) }
	b, err := h.shopFiles(f.shop)
	if err != nil {
		return err
	}
	k, err := newHooks(b, say)
	if err != nil {
		say(err.Error())
	}
	if k == nil {
		return nil
	}
	k.off = (&control.Info{Shop: control.Shop{NoHeater: m.Config.NoHeater}}).Off()
	name, after := m.Config.Run, m.After
	m.Named = func(run string) { name = run } // before there are records
	m.Config.Records = func(r control.Record) { k.record(name, r) }
	m.After = func(r keeper.Result) error {
		k.end()
		if after == nil {
			return nil
		}
		return after(r)
	}
	return nil
}

// refusalOf makes a fault travel.
func refusalOf(err error) *attach.Refusal {
	f := asFault(err)
	return &attach.Refusal{Code: f.code, Text: f.Error()}
}

// rebase makes the paths of the command line absolute: they were meant from folder.
func (f *runFlags) rebase(folder string, args []string) {
	for _, p := range []*string{&f.port, &f.shop, &f.out} {
		*p = from(folder, *p)
	}
	for i, a := range args {
		if strings.ContainsRune(filepath.ToSlash(a), '/') || strings.HasSuffix(a, ".toml") {
			args[i] = from(folder, a)
		}
	}
}

// from gives path as seen from folder; "" stays nothing.
func from(folder, path string) string {
	if path == "" || filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(folder, path)
}
