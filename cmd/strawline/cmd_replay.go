package main

import (
	"context"
	"errors"
	"math"
	"os"
	"time"

	"github.com/spf13/cobra"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/probe/temp"
	"strawline/tui"
)

// replayPace shows a five-hour temper in five minutes.
const replayPace = 60

func newReplay(h *host) *cobra.Command {
	var f replayFlags
	cmd := &cobra.Command{
		Use:   "replay FILE",
		Short: "show a recorded run again, on the same screens or in the same lines",
		Args:  exactly("the run file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return h.replay(cmd.Context(), &f, args[0])
		},
	}
	f.register(cmd.Flags(), paceValue{factor: replayPace})
	return cmd
}

func (h *host) replay(ctx context.Context, f *replayFlags, path string) error {
	file, err := runlog.Open(path)
	if err != nil {
		code := exitData
		if errors.Is(err, os.ErrNotExist) {
			code = exitNoInput
		} else if errors.Is(err, os.ErrPermission) {
			code = exitNoRight
		}
		return &fault{code: code, wrong: err}
	}
	records, err := file.All()
	if err != nil {
		return &fault{code: exitData, wrong: err}
	}
	info := file.Info
	unit := temp.Celsius
	if info.Unit == "F" {
		unit = temp.Fahrenheit
	}
	if f.plain || !h.screened() {
		return replayEnd(path, h.replayLines(ctx, f, info, unit, records, file.Tail.String()))
	}
	ctx, release := signals(ctx)
	defer release()
	player := tui.NewPlayer(info, records, nil)
	if f.pace.max {
		player.SetSpeed(math.Inf(1))
	} else {
		player.SetSpeed(f.pace.factor)
	}
	player.Toggle() // it is made paused
	o := tui.Options{Unit: unit, Replay: player}
	if info.Test != nil {
		o.Tuned = func() (tui.Tuned, error) { return tunedOf(path) }
	}
	err = tui.Run(ctx, player, o)
	if lost := file.Tail.String(); lost != "" {
		h.print("lost: " + lost + "\n")
	}
	return replayEnd(path, err)
}

// replayEnd makes the fault of a replay that was ended from outside or could not be shown.
func replayEnd(path string, err error) error {
	var c caught
	switch {
	case err == nil:
		return nil
	case errors.As(err, &c):
		return &fault{code: exitSignal + int(c.sig), did: "replay", to: path, wrong: c}
	}
	return &fault{code: exitIO, did: "show", to: "the replay", wrong: err, help: "try --plain"}
}

// replayLines prints what the live run printed, line for line; what the file lost is said last.
func (h *host) replayLines(ctx context.Context, f *replayFlags, info control.Info, unit temp.Unit,
	records []control.Record, lost string) error {
	ctx, release := signals(ctx)
	defer release()
	w := &lineWriter{h: h, unit: unit}
	w.begin(info)
	clock := realClock()
	start := clock.Now()
	for _, r := range records {
		if r.Event == nil {
			continue
		}
		if !f.pace.max {
			due := time.Duration(float64(r.Event.T) / f.pace.factor)
			clock.Sleep(ctx, due-(clock.Now()-start))
		}
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		w.record(r)
	}
	if lost != "" {
		return h.print("lost: " + lost + "\n")
	}
	return nil
}
