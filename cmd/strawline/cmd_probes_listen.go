package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"strawline/control/keeper"
	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/port"
)

// listenFlags are the options of `probes listen`.
type listenFlags struct {
	shop  string
	board string
	kind  wordValue
	baud  int
	span  spanValue
	raw   bool
	json  bool
}

func (f *listenFlags) register(fs *pflag.FlagSet) {
	f.kind.allowed = []string{string(shop.Strawline), string(shop.Lines)}
	fs.StringVar(&f.shop, "shop", "", "the shop file; unless given, shop.toml in the "+
		"configuration folder")
	fs.StringVar(&f.board, "board", "", "a board of the shop file")
	fs.Var(&f.kind, "kind", `"strawline board" or lines; told by what comes unless given`)
	fs.IntVar(&f.baud, "baud", 0, "the line's speed; the usual ones are tried unless given")
	fs.Var(&f.span, "for", "end by itself after so long: 10s")
	fs.BoolVar(&f.raw, "raw", false, "only the lines as they come, all of them")
	fs.BoolVar(&f.json, "json", false, "answer with one JSON object at the end of --for")
}

// highestBaud is far above any board.
const highestBaud = 10_000_000

func (f *listenFlags) check(fs *pflag.FlagSet) error {
	switch {
	case fs.Changed("baud") && (f.baud < 1 || f.baud > highestBaud):
		return usage("--baud %d is not from 1 to %d", f.baud, highestBaud)
	case f.baud == 1200:
		return usage("--baud 1200 sends many boards to their bootloader: use a faster one")
	case f.kind.word == string(shop.Strawline) && f.baud != 0 && f.baud != baud:
		return usage("--baud %d: a strawline board talks at %d and nothing else", f.baud, baud)
	case f.json && f.raw:
		return usage("--raw gives lines and --json one object: choose one")
	case f.json && !f.span.given:
		return usage("--json answers when it ends: say --for how long")
	case f.span.given && f.span.d <= 0:
		return usage("--for must be above 0")
	}
	return nil
}

func newProbesListen(h *host) *cobra.Command {
	var f listenFlags
	cmd := &cobra.Command{
		Use:   "listen [PORT]",
		Short: "listen to a board: what it prints, what is understood, what can be believed",
		Long: "Listen shows each line as it comes, says in one sentence what it was taken for, and\n" +
			"then what each channel reads and whether that can be believed. Opening a port starts\n" +
			"most boards again. Nothing is written to a port before it has shown that a board of our\n" +
			"line protocol is on it, and then no heat is asked for; a Modbus module of the shop file\n" +
			"is only asked for its readings. Ctrl-c ends it.",
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.check(cmd.Flags()); err != nil {
				return err
			}
			path := ""
			if len(args) > 0 {
				path = args[0]
			}
			return h.listenPort(cmd.Context(), &f, path)
		},
	}
	cmd.Args = func(cmd *cobra.Command, args []string) error {
		if len(args) > 1 {
			return usage("%q is too much", args[1])
		}
		return nil
	}
	f.register(cmd.Flags())
	return cmd
}

func (h *host) listenPort(ctx context.Context, f *listenFlags, path string) error {
	to, err := h.source(f, path)
	if err != nil {
		return err
	}
	ctx, release := signals(ctx)
	defer release()
	l := newListening(h, f, to, realClock())
	err = l.run(ctx)
	if closed := l.port.Close(l.clock.Now()); err == nil && closed != nil {
		err = &fault{code: exitUnavailable, wrong: closed}
	}
	if err == nil {
		err = l.finish()
	}
	var c caught
	if errors.As(context.Cause(ctx), &c) && err == nil && c.sig != interrupt {
		err = &fault{code: exitSignal + int(c.sig), did: "listen to", to: to.path, wrong: c}
	}
	return err
}

// speeds are tried in this order where nobody says which: ours, and those that sketches have.
func speeds(kind shop.Kind) []int {
	switch kind {
	case shop.Strawline:
		return []int{baud}
	case shop.Lines:
		return []int{9600, 115200, baud, 57600, 19200, 74880, 250000}
	}
	return []int{baud, 9600, 115200, 57600, 19200, 74880, 250000}
}

// listening is one listening to one port.
type listening struct {
	h     *host
	f     *listenFlags
	to    *listenSource
	clock keeper.Clock
	start time.Duration
	now   time.Duration

	tap    *tap
	port   *port.Port
	speed  int // index in to.speeds
	opened time.Duration
	once   bool      // it was open once
	is     shop.Kind // "" while it is not told
	tell   teller

	cut    cutter
	rate   rate
	link   linkSaid
	heard  []*listenChannel // by channel, nil where nothing came
	ledger listenCounts
	grasp  grasp
	err    error // of the output
}

// listenCounts count what came.
type listenCounts struct {
	lines, bad uint64
	lastBad    uint64 // of this opening
	starts     int
}

func newListening(h *host, f *listenFlags, to *listenSource, clock keeper.Clock) *listening {
	l := &listening{h: h, f: f, to: to, clock: clock, start: clock.Now()}
	l.heard = make([]*listenChannel, shop.MaxChannel+1)
	l.begin()
	return l
}

// begin makes a port at the speed that is next to be tried; nothing is opened yet. Whatever the
// shop file says of our own protocol, it is first only listened to.
func (l *listening) begin() {
	at := l.to.board(l.baud())
	if at.Kind != shop.Modbus {
		at.Kind = shop.Lines
	}
	open, cfg, err := wire(&at)
	if err != nil { // its columns and channels were tried when the source was chosen
		l.err = err
	}
	l.tap = &tap{open: open, heard: l.hear}
	cfg.Patience, cfg.PatienceMax = never, never // opening it again starts most boards again
	l.port, l.tell = port.New(cfg, l.tap.opener), teller{}
	if l.to.kind != shop.Strawline {
		l.is = l.to.kind
	}
}

// never is longer than anyone listens.
const never = 1000 * time.Hour

func (l *listening) baud() int { return l.to.speeds[l.speed] }

// hear takes bytes as they come.
func (l *listening) hear(p []byte) {
	if l.is == shop.Modbus {
		l.line(fmt.Sprintf("% X", p))
		return
	}
	l.tell.feed(l.now-l.opened, p)
	l.cut.feed(l.now, p, l.line)
}

func (l *listening) run(ctx context.Context) error {
	l.say("listening to %s at %d baud; ctrl-c ends it\n", l.to.path, l.baud())
	for ctx.Err() == nil && l.err == nil {
		l.now = l.clock.Now()
		if l.f.span.given && l.now-l.start >= l.f.span.d {
			break
		}
		b := l.port.Poll(l.now)
		l.now = l.clock.Now()
		if err := l.linked(b.Link); err != nil {
			return err
		}
		if l.settle() {
			continue // what this port made of it was not meant
		}
		l.take(b)
		l.cut.tend(l.now, l.line)
		l.rate.tend(l)
		if !l.f.raw {
			l.understand(b.Link)
			l.judge()
		}
	}
	return l.err
}

// linked tells what becomes of the link. A port that was never open is a fault; one that goes
// away later may come back.
func (l *listening) linked(k probe.Link) error {
	switch k.State {
	case probe.LinkMissing, probe.LinkBusy, probe.LinkDenied, probe.LinkNotPort:
		if !l.once {
			return portFault(l.port.Err())
		}
	case probe.LinkWaiting, probe.LinkUp, probe.LinkSilent:
		if !l.once || l.link.away {
			l.once, l.opened = true, l.now
		}
	}
	l.link.say(l, k)
	return nil
}

// settle goes on to our own protocol where a board speaks it, or to another speed where what
// comes is no text; it says whether it did.
func (l *listening) settle() bool {
	ours := l.is == "" || l.is == shop.Lines && l.to.kind == ""
	switch {
	case ours && l.tell.ours() && !l.f.raw:
		l.is = shop.Strawline
		l.tap.keep = true
		l.ledger.lastBad = 0
		l.port = port.New(port.Config{Name: l.to.path}, l.tap.opener)
		return true
	case l.is != shop.Modbus && l.is != shop.Strawline && len(l.to.speeds) > 1 &&
		!l.grasp.said && l.tell.garbled():
		// Only our Close can be meant here, and a port without a handshake has none to fail.
		_ = l.port.Close(l.now)
		l.speed = (l.speed + 1) % len(l.to.speeds)
		l.say("what comes is no text: trying %d baud\n", l.baud())
		l.opened, l.cut = l.now, cutter{}
		l.begin()
		return true
	}
	return false
}
