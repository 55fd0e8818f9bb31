package main

import (
	"context"
	"errors"
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
		return h.replayLines(ctx, f, info, unit, records, file.Tail.String())
	}
	ctx, release := signals(ctx)
	defer release()
	player := tui.NewPlayer(info, records, nil)
	return tui.Run(ctx, player, tui.Options{Unit: unit, Replay: player})
}

// replayLines prints what the live run printed, line for line; what the file lost is said first.
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
			return nil
		}
		w.record(r)
	}
	if lost != "" {
		return h.print("lost: " + lost + "\n")
	}
	return nil
}
