package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"strawline/control"
	"strawline/control/attach"
	"strawline/control/keeper"
	"strawline/probe/temp"
	"strawline/tui"
)

func newWatch(h *host) *cobra.Command {
	var shop string
	var plain bool
	cmd := &cobra.Command{
		Use:   "watch [RUN]",
		Short: "a screen of a run that goes on",
		Long: "Watch shows a run of the shop file's keeper on a screen; any number may watch. Leaving\n" +
			"the screen leaves the run alone.",
		Args: atMost("RUN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return h.watch(cmd.Context(), shop, first(args), plain || !h.screened())
		},
	}
	addShop(cmd, &shop)
	cmd.Flags().BoolVar(&plain, "plain", false, "lines of text instead of the screen")
	return cmd
}

func newStop(h *host) *cobra.Command {
	var shop string
	cmd := &cobra.Command{
		Use:   "stop [RUN]",
		Short: "end a run with its heater off, or all of them",
		Long: "Stop ends a run of the shop file's keeper, or all of them if none is named, and waits\n" +
			"until the heater is commanded off and the run file is whole. A run that a killed keeper\n" +
			"left and that cannot be taken up ends only where it is named.",
		Args: atMost("RUN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return h.stop(cmd.Context(), shop, first(args))
		},
	}
	addShop(cmd, &shop)
	return cmd
}

func addShop(cmd *cobra.Command, shop *string) {
	cmd.Flags().StringVar(shop, "shop", "", "the shop file; shop.toml in the configuration folder "+
		"unless given")
}

// atMost allows one argument and names it in its complaint.
func atMost(string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		if len(args) > 1 {
			return usage("%q is too much", args[1])
		}
		return nil
	}
}

func first(args []string) string {
	if len(args) == 0 {
		return ""
	}
	return args[0]
}

// runKept has the shop's keeper begin the run, and shows it; ahead is what the run is going to do.
func (h *host) runKept(ctx context.Context, f *runFlags, cfg keeper.Config, ahead string) error {
	p, err := h.seat(f.shop)
	if err != nil {
		return err
	}
	told, release := signals(ctx)
	defer release()
	folder, err := os.Getwd()
	if err != nil {
		return fileFault("find", "the working folder", err)
	}
	job := attach.Job{Args: h.args[1:], Folder: folder}
	for _, name := range []string{"HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"} {
		if v := h.getenv(name); v != "" {
			job.Env = append(job.Env, name+"="+v)
		}
	}
	var d attach.Door
	var run string
	for range 2 { // a keeper that was about to end for want of work is asked once more
		if d, err = h.reach(told, p, f.asRoot); err != nil {
			return err
		}
		if run, err = d.Start(told, job); !errors.Is(err, attach.ErrNobody) {
			break
		}
	}
	var c caught
	if errors.As(err, &c) {
		return &fault{code: exitSignal + int(c.sig), did: "start", to: "the run of " + cfg.Run,
			wrong: c, help: "nothing was begun"}
	}
	if err != nil {
		return h.doorFault(p, err)
	}
	return h.show(told, d, p, run, ahead)
}

// show is a screen of one run of a keeper, until the person leaves it; first is said on it first.
func (h *host) show(told context.Context, d attach.Door, p seat, run, first string) error {
	w, err := d.Watch(told, run)
	if err != nil {
		return h.doorFault(p, err)
	}
	defer w.Close()
	info, err := w.Info(told)
	if err != nil {
		return h.parted(told, w, p, err)
	}
	err = tui.Run(told, w, tui.Options{Unit: unitOf(info), Lease: w, Call: h.calls(p.shop),
		First: first})
	return h.parted(told, w, p, err)
}

func unitOf(info *control.Info) temp.Unit { return info.TempUnit() }

// parted says what became of a run whose screen was left.
func (h *host) parted(told context.Context, w *attach.Watcher, p seat, shown error) error {
	var c caught
	signal := errors.As(context.Cause(told), &c)
	if o, over := w.Outcome(); over {
		if !signal {
			h.print(outcomeWords(w.Run(), o) + "\n")
			h.unkept(o)
			if line := h.learnedOf(o.Out); line != "" {
				fmt.Fprintf(h.err, "strawline: %s\n", line)
			}
		}
		return outcomeFault(w.Run(), o)
	}
	goesOn := fmt.Sprintf("the run %s goes on; strawline watch%s shows it, strawline stop%s ends it",
		w.Run(), p.option(h), p.option(h))
	switch {
	case signal:
		return &fault{code: exitSignal + int(c.sig), did: "watch", to: w.Run(), wrong: c, help: goesOn}
	case errors.Is(shown, attach.ErrNobody):
		return &fault{code: exitUnavailable, did: "watch", to: w.Run(), wrong: shown,
			help: "the board's dead man takes the heat away; look at the oven"}
	case shown != nil:
		return &fault{code: exitIO, did: "show", to: "the screen", wrong: shown, help: goesOn}
	}
	return h.print(goesOn + "\n")
}

// option is what names the shop file in a command, where it is not the usual one.
func (p seat) option(h *host) string {
	if usual, err := h.seat(""); err == nil && usual == p {
		return ""
	}
	return " --shop " + p.shop
}

func outcomeWords(run string, o attach.Outcome) string {
	off := o.Off
	if o.Unanswered {
		off += ", which the board did not answer: switch off at the wall"
	}
	if o.Left != "" {
		off += "; " + o.Left
	}
	if o.Why == "" {
		o.Why = "over"
	}
	return fmt.Sprintf("%s: %s; %s; run file %s", run, o.Why, off, o.Out)
}

// outcomeFault is the fault of a run that did not end well.
func outcomeFault(run string, o attach.Outcome) error {
	switch {
	case o.Failed != "":
		return &fault{code: exitIO, did: "run", to: run, wrong: errors.New(o.Failed),
			help: "look at the oven and at the run file " + o.Out}
	case o.Word == "tripped" || o.Word == "late":
		return &fault{code: exitTemporary, did: "run", to: run,
			wrong: fmt.Errorf("ended %s: %s", o.Word, o.Why),
			help:  "look at the oven and at the run file " + o.Out}
	}
	return nil
}

// find gives the door of the shop's keeper and what runs. Where a killed keeper left a run, it
// starts another, which takes that up, and waits until it has: its board boots again.
func (h *host) find(told context.Context, p seat) (attach.Door, attach.Hello, error) {
	d := h.door(p)
	hello, err := d.Look(told)
	if left := p.unfinished(); errors.Is(err, attach.ErrNobody) && canDetach && len(left) > 0 {
		if d, err = h.reach(told, p, slices.Contains(left[0].Job.Args, "--as-root")); err != nil {
			return d, hello, err
		}
		hello, err = d.Look(told)
	}
	begins := func() bool {
		return slices.ContainsFunc(hello.Runs, func(r attach.Run) bool {
			return r.Phase == keeper.Beginning
		})
	}
	if err == nil && begins() {
		waitFor(stopLimit, func() bool {
			hello, err = d.Look(told)
			return err != nil || !begins()
		})
	}
	return d, hello, h.doorFault(p, err)
}

func (h *host) watch(ctx context.Context, shop, run string, plain bool) error {
	p, err := h.seat(shop)
	if err != nil {
		return err
	}
	told, release := signals(ctx)
	defer release()
	d, _, err := h.find(told, p)
	if err != nil {
		return err
	}
	if plain {
		return h.watchLines(told, d, p, run)
	}
	return h.show(told, d, p, run, "")
}

// lineEvery is how often `watch --plain` says how a run stands when nothing else has changed.
const lineEvery = time.Minute

// watchLines says how a run stands whenever that changes, and every minute.
func (h *host) watchLines(told context.Context, d attach.Door, p seat, run string) error {
	w, err := d.Watch(told, run)
	if err != nil {
		return h.doorFault(p, err)
	}
	defer w.Close()
	was, at := "", -lineEvery
	for {
		s, err := w.Next(told)
		if err != nil {
			if _, over := w.Outcome(); over || told.Err() != nil {
				err = nil
			}
			return h.parted(told, w, p, err)
		}
		state, figures := standing(s)
		now := state + tui.ShelfNames(s)
		if now == was && s.T-at < lineEvery {
			continue
		}
		was, at = now, s.T
		if err := h.print(s.Wall.Format(time.TimeOnly) + "  " + state + figures + "\n"); err != nil {
			return err
		}
	}
}

// standing says how a run stands: what a new line is worth, and the figures behind it.
func standing(s control.Snapshot) (state, figures string) {
	u := unitOf(s.Info)
	parts := []string{s.Info.Run, string(s.Phase)}
	if s.Info.Simulated {
		parts = append([]string{"SIMULATED"}, parts...)
	}
	if s.Step < len(s.Steps) {
		parts = append(parts, fmt.Sprintf("step %d of %d: %s", s.Step+1, len(s.Steps),
			s.Steps[s.Step].Words(u)))
	}
	if s.Soak != control.SoakNone {
		parts = append(parts, "soak "+string(s.Soak))
	}
	for _, a := range s.Alarms {
		parts = append(parts, a.Word)
	}
	if s.Why != "" {
		parts = append(parts, s.Why)
	}
	if s.BladeIn && s.Next != "" && (s.Phase == control.PhaseEnded || s.Phase == control.PhaseClosed) {
		parts = append(parts, s.Next)
	}
	if s.HasTemp {
		figures += "; reads " + s.Temp.Text(u, 0)
	} else {
		figures += "; no reading"
	}
	if !s.Info.Shop.NoHeater {
		figures += fmt.Sprintf(", duty %d %%", s.Duty/10)
	}
	if s.Soak != control.SoakNone {
		figures += ", soak left " + s.SoakLeft.Round(time.Second).String()
	}
	if shelf := tui.ShelfWords(s); shelf != "" { // how long changes all the time
		figures += "; " + shelf
	}
	return strings.Join(parts, "  "), figures
}

// stop ends one run, or all, and says how each ended.
func (h *host) stop(ctx context.Context, shop, run string) error {
	p, err := h.seat(shop)
	if err != nil {
		return err
	}
	told, release := signals(ctx)
	defer release()
	d, hello, err := h.find(told, p)
	if err != nil {
		return err
	}
	runs := []attach.Run{{Name: run}}
	if i := slices.IndexFunc(hello.Runs, func(r attach.Run) bool { return r.Name == run }); i >= 0 {
		runs[0] = hello.Runs[i]
	} else if run == "" {
		runs = hello.Runs
	}
	if len(runs) == 0 {
		return &fault{code: exitNoInput, did: "stop", to: "the runs of " + p.shop,
			wrong: errors.New("none goes on")}
	}
	var all error
	for _, r := range runs {
		if r.Phase == keeper.Cut && run != "" { // only where it is named: nobody can take it up then
			all = errors.Join(all, h.giveUp(told, d, p, run))
			continue
		}
		all = errors.Join(all, h.stopOne(told, d, p, r.Name))
	}
	return all
}

// giveUp ends a run that was cut off and cannot be taken up.
func (h *host) giveUp(told context.Context, d attach.Door, p seat, run string) error {
	ctx, cancel := context.WithTimeout(told, stopLimit)
	defer cancel()
	o, err := d.GiveUp(ctx, run)
	if err != nil {
		return h.doorFault(p, err)
	}
	h.unkept(o)
	return h.print(outcomeWords(run, o) + "\n")
}

// stopLimit is how long a run may take to end: its board's answer, its file and its port.
const stopLimit = 30 * time.Second

func (h *host) stopOne(told context.Context, d attach.Door, p seat, run string) error {
	ctx, cancel := context.WithTimeout(told, stopLimit)
	defer cancel()
	w, err := d.Watch(ctx, run)
	if err != nil {
		return h.doorFault(p, err)
	}
	defer w.Close()
	w.Ask(control.Ask{Kind: control.AskStop})
	for err == nil {
		_, err = w.Next(ctx)
	}
	o, over := w.Outcome()
	if !over {
		return &fault{code: exitTemporary, did: "stop", to: run, wrong: err,
			help: "whether it has ended is not known: look at the oven"}
	}
	if o.Failed != "" {
		return outcomeFault(run, o)
	}
	h.unkept(o)
	return h.print(outcomeWords(run, o) + "\n")
}

// unkept says what could not be kept of a run that is whole itself.
func (h *host) unkept(o attach.Outcome) {
	if o.Unkept != "" {
		fmt.Fprintf(h.err, "strawline: run: %s\n", oneLine(o.Unkept))
	}
}
