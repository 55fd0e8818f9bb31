package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"strawline/control/keeper"
	"strawline/probe"
	"strawline/probe/port"
)

func newProbes(h *host) *cobra.Command {
	cmd := group("probes", "boards and what they say")
	var f boardFlags
	board := &cobra.Command{
		Use:   "board",
		Short: "show a board's stored settings, or set them after a question",
		Args:  exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := f.check(cmd.Flags()); err != nil {
				return err
			}
			return h.board(cmd.Context(), &f)
		},
	}
	f.register(board.Flags())
	cmd.AddCommand(newProbesList(h), newProbesListen(h))
	cmd.AddCommand(board, newProbesCorrect(h), newProbesSurvey(h), newProbesProof(h))
	return cmd
}

// boardAnswer is what `probes board --json` prints.
type boardAnswer struct {
	Name     string   `json:"name"`
	Protocol int      `json:"protocol"`
	Chip     string   `json:"chip"`
	Channels int      `json:"channels"`
	Boot     uint16   `json:"boot"`
	Cause    string   `json:"cause"`
	Guard    int      `json:"guard"`
	LimitC   float64  `json:"limit_c"`
	LimitQ   int16    `json:"limit_chip_quarters"`
	CeilingC float64  `json:"ceiling_c"`
	WindowS  float64  `json:"window_s"`
	MainsHz  int      `json:"mains_hz"`
	Latches  []string `json:"latches"`
	Changed  bool     `json:"changed"`
}

// boardPatience is how long a board may take to prove itself or to answer a change.
const boardPatience = 15 * time.Second

func (h *host) board(ctx context.Context, f *boardFlags) error {
	ctx, release := signals(ctx)
	defer release()
	clock := realClock()
	p := port.New(port.Config{Name: f.port}, port.OpenSerial(f.port, baud))
	defer p.Close(clock.Now())
	b, err := h.meet(ctx, p, clock, f.port)
	if err != nil {
		return err
	}
	changed := false
	if f.sets() {
		want := f.want(b.Settings)
		ask := fmt.Sprintf("%s now has:\n%sStore instead:\n%sWrite this to the board? Type yes: ",
			b.Name, settingsText(b.Settings), settingsText(want))
		if err := h.confirm(ask); err != nil {
			return err
		}
		if b, err = h.store(ctx, p, clock, f.port, want); err != nil {
			return err
		}
		changed = true
	}
	if err := h.backByHand(f.port, b); err != nil {
		fmt.Fprintf(h.err, "strawline: probes: board: %s\n", oneLine(err.Error()))
	}
	if f.json {
		a := boardAnswer{Name: b.Name, Protocol: b.Version, Chip: b.Chip, Channels: b.Channels,
			Boot: b.Boot, Cause: b.Cause, Guard: b.Settings.Guard,
			LimitC: tenth(float64(b.Settings.Limit)), LimitQ: b.Settings.LimitQ,
			CeilingC: tenth(float64(b.Ceiling)),
			WindowS:  b.Settings.Window.Seconds(), MainsHz: b.Settings.MainsHz, Changed: changed}
		a.Latches = append([]string{}, b.Latches.Words()...)
		return h.printJSON(a)
	}
	return h.print(fmt.Sprintf("%s: %s, %d channels, line protocol %d, start %d (%s)\n"+
		"%sceiling %s\nlatches: %s\n",
		b.Name, b.Chip, b.Channels, b.Version, b.Boot, b.Cause, settingsText(b.Settings),
		bothWays(float64(b.Ceiling), b.CeilingQ), b.Latches))
}

func tenth(v float64) float64 { return float64(int(v*10+0.5)) / 10 }

// want is what the board has, with what the person gave.
func (f *boardFlags) want(s probe.Settings) probe.Settings {
	if f.limit.given {
		s.Limit = f.limit.c
	}
	if f.guard != 0 {
		s.Guard = f.guard
	}
	if f.mains.hz != 0 {
		s.MainsHz = f.mains.hz
	}
	if f.window.given {
		s.Window = f.window.d
	}
	return s
}

func settingsText(s probe.Settings) string {
	return fmt.Sprintf("  high limit %s\n  guard channel %d\n  window %v\n  mains %d Hz\n",
		bothWays(float64(s.Limit), s.LimitQ), s.Guard, s.Window, s.MainsHz)
}

// bothWays says a limit as a true temperature and as the board's chip counts it.
func bothWays(c float64, q int16) string {
	return fmt.Sprintf("%.1f °C (%.1f °F; the board compares with its chip's %.2f)",
		c, c*1.8+32, float64(q)/4)
}

// boardPort is a port with a board of our protocol, as what sets it needs it.
type boardPort interface {
	Poll(now time.Duration) probe.Batch
	ProposeSettings(now time.Duration, s probe.Settings)
	Err() error
}

// meet polls until the board has proved itself.
func (h *host) meet(
	ctx context.Context, p boardPort, clock keeper.Clock, path string,
) (*probe.Board, error) {
	start := clock.Now()
	for ctx.Err() == nil {
		b := p.Poll(clock.Now())
		l := b.Link
		switch {
		case l.State == probe.LinkUp && l.Board != nil &&
			(l.Heats || l.Board.Latches&probe.LatchConfig != 0):
			return l.Board, nil
		case l.State == probe.LinkMissing, l.State == probe.LinkBusy, l.State == probe.LinkDenied,
			l.State == probe.LinkNotPort, l.State == probe.LinkOther:
			return nil, portFault(p.Err())
		case clock.Now()-start > boardPatience:
			return nil, &fault{code: exitUnavailable, did: "ask the board on", to: path,
				wrong: keeper.ErrNoProof, help: "is it the right port, and its program of this version?"}
		}
	}
	return nil, &fault{code: exitTemporary, did: "ask the board on", to: path,
		wrong: context.Cause(ctx)}
}

func portFault(err error) error {
	f := &fault{code: exitUnavailable, wrong: err}
	var open *port.OpenError
	if errors.As(err, &open) {
		f.code = portCode(open)
	}
	return f
}

// portCode gives the exit code of a port that could not be opened.
func portCode(e *port.OpenError) int {
	switch e.State {
	case probe.LinkBusy:
		return exitTemporary
	case probe.LinkDenied:
		return exitNoRight
	case probe.LinkNotPort:
		return exitData
	}
	return exitUnavailable
}

// confirm asks and takes only the whole word yes.
func (h *host) confirm(question string) error {
	fmt.Fprint(h.err, question)
	line, err := bufio.NewReader(h.in).ReadString('\n')
	if strings.TrimSpace(line) == "yes" {
		return nil
	}
	if err == nil || line != "" {
		return &fault{code: exitTemporary, did: "change", to: "the board",
			wrong: errors.New("not confirmed"), help: "nothing was changed"}
	}
	return &fault{code: exitNoInput, did: "change", to: "the board",
		wrong: errors.New("nobody answered the question"), help: "nothing was changed"}
}

// store carries out the two steps and reads back what the board has.
func (h *host) store(
	ctx context.Context, p boardPort, clock keeper.Clock, path string, want probe.Settings,
) (*probe.Board, error) {
	p.ProposeSettings(clock.Now(), want)
	start := clock.Now()
	for ctx.Err() == nil && clock.Now()-start < boardPatience {
		b := p.Poll(clock.Now())
		for _, a := range b.Acks {
			switch {
			case a.Of != port.OfSettings:
			case a.Why != "":
				return nil, &fault{code: exitConfig, did: "set the board on", to: path,
					wrong: errors.New(a.Why), help: "the board keeps what it had"}
			case b.Link.Board != nil:
				return b.Link.Board, nil
			}
		}
	}
	return nil, &fault{code: exitUnavailable, did: "set the board on", to: path,
		wrong: errors.New("the board did not answer"), help: "look at it again with probes board"}
}
