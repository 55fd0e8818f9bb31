package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"strawline/control/keeper"
	"strawline/control/shop"
	"strawline/probe/sim"
	"strawline/probe/temp"
)

// What a proof takes where the person did not say. All are our choice.
const (
	proofAt   = temp.C(100)    // the heat at which the limit is proved
	proofWarm = temp.C(60)     // the least: an oven that is colder cools too slowly to be watched
	proofRoom = temp.Delta(30) // that the heat stays below the oven's limit
)

// proofFlags are the options of `probes proof`.
type proofFlags struct {
	shop, port, oven, found string
	contactor               bool
	at                      tempValue
	simulated               bool
	seed                    seedValue
	faults                  faultsValue
	pace                    paceValue
	plain, json, asRoot     bool
}

func newProbesProof(h *host) *cobra.Command {
	var f proofFlags
	cmd := &cobra.Command{
		Use:   "proof [BOARD]",
		Short: "prove, step by step, what takes the heat away without the program",
		Long: "Proof walks you through four proofs of a board of our line protocol: its own high\n" +
			"limit, lowered for it under the present temperature and put back afterwards; its dead\n" +
			"man, once with the program silent and once with the cable pulled; and, by your word,\n" +
			"the oven's independent cut-out. What was commanded, what the board said and what you\n" +
			"saw is kept apart and written into found.toml with the day. Each part is asked first\n" +
			"and can be left out. It heats: stay with the oven and be ready at its plug.",
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.check(args); err != nil {
				return err
			}
			return h.proof(cmd.Context(), &f, args)
		},
	}
	f.register(cmd.Flags())
	return cmd
}

func (f *proofFlags) register(fs *pflag.FlagSet) {
	f.pace = paceValue{factor: demoPace}
	fs.StringVar(&f.shop, "shop", "", "the shop file; unless given, shop.toml in the "+
		"configuration folder")
	fs.StringVar(&f.port, "port", "", "the serial port of a board, in the place of the shop file's")
	fs.StringVar(&f.oven, "oven", "", "which oven of the shop file the board heats, where it has "+
		"several")
	fs.StringVar(&f.found, "found", "", "write what is proved into this file instead")
	fs.BoolVar(&f.contactor, "contactor", false, "without a shop file: the board switches a "+
		"contactor, so that only the whole heat is commanded")
	fs.Var(&f.at, "at", "the heat at which the limit is proved: 100C or 30C below the oven's limit "+
		"unless given")
	fs.BoolVar(&f.simulated, "simulated", false, "the demo's own simulated oven and board: nothing "+
		"real is proved")
	fs.Var(&f.seed, "seed", "simulated: whole number that chance starts from")
	fs.Var(&f.faults, "fault", "simulated: a fault and when, such as ssr-short@30m")
	fs.Var(&f.pace, "pace", "simulated: max, 1 or a factor; questions wait at 1")
	fs.BoolVar(&f.plain, "plain", false, "lines of text: no line is written over")
	fs.BoolVar(&f.json, "json", false, "answer with one JSON object")
	fs.BoolVar(&f.asRoot, "as-root", false, "heat as root all the same")
}

func (f *proofFlags) check(args []string) error {
	real := len(args) > 0 || f.port != "" || f.shop != "" || f.oven != "" || f.contactor
	switch {
	case len(args) > 1:
		return usage("%q is too much", args[1])
	case f.simulated && real:
		return usage("--simulated is the demo's own board; leave out what names another")
	case !f.simulated && (f.seed.given || len(f.faults) > 0 || f.pace.max ||
		f.pace.factor != demoPace):
		return usage("--seed, --pace and --fault are for --simulated")
	case len(args) == 0 && f.port != "" && (f.shop != "" || f.oven != ""):
		return usage("--port alone is a board without a shop file; name the board, or leave out " +
			"--shop and --oven")
	case f.contactor && (len(args) > 0 || f.port == ""):
		return usage("--contactor is for --port without a shop file, which says it otherwise")
	case f.at.given && f.at.c < proofWarm:
		return usage("--at %s: %s is the least, so that the heat can be seen to fall",
			f.at.c.Text(f.at.unit, 0), proofWarm.Text(f.at.unit, 0))
	}
	return nil
}

func (h *host) proof(ctx context.Context, f *proofFlags, args []string) error {
	if os.Geteuid() == 0 && !f.asRoot && !f.simulated {
		return rootRefused("prove")
	}
	ctx, release := signals(ctx)
	defer release()
	c := &proving{talk: &talk{h: h, ctx: ctx, clock: realClock(), over: !f.plain && h.screened()},
		f: f}
	clean, err := c.wire(args)
	if err != nil {
		return err
	}
	defer clean()
	if err := c.hotAsked(); err != nil {
		return err
	}
	c.typed = h.typedLines(ctx)
	defer c.close()
	return c.walk()
}

// close lets the port go, with the heat commanded off and, where it is there, the board's answer.
func (c *proving) close() {
	if c.p != nil {
		c.quiet()
	}
	c.leave()
}

// walk goes through all the parts and says what came of them.
func (c *proving) walk() error {
	c.tried = map[shop.Part]tried{}
	if err := c.reach(); err != nil {
		return err
	}
	if err := c.left(); err != nil {
		return err
	}
	c.begin()
	err := c.parts()
	end := c.finish(err)
	if end != nil || err == nil {
		return end
	}
	f := *asFault(err)
	if f.help == nothingWritten {
		if f.help = ""; c.kept {
			f.help = "what was seen until then is in " + c.file
		}
	}
	return &f
}

// parts does one part after the other; a part that failed is the last.
func (c *proving) parts() error {
	for _, part := range []struct {
		of shop.Part
		do func() (tried, error)
	}{{shop.PartLimit, c.limit}, {shop.PartDeadMan, c.silence}, {shop.PartCable, c.cable},
		{shop.PartCutOut, c.cutOut}} {
		t, err := part.do()
		if err != nil && t.result == "" {
			t = tried{result: shop.NotDone, seen: "broken off: " + oneLine(asFault(err).wrong.Error())}
		}
		c.tried[part.of] = t
		c.say("%s: %s", part.of, t.words())
		if err != nil || t.result == shop.Failed {
			return err
		}
	}
	return nil
}

const proofCautions = "CAUTION: This commands heat, and it may find that a part does not work. " +
	"Stay with the oven, be ready at its plug, with nothing in the oven and its door shut. It does " +
	"not test your independent cut-out: only you can."

// begin says what will be done with what.
func (c *proving) begin() {
	what := c.at
	if c.sim != nil {
		what = "SIMULATED: nothing real is heated or proved. " + what
	}
	c.say("%s: %s, high limit %s, guard channel %d.", what, c.board.Name,
		bothWays(float64(c.board.Settings.Limit), c.board.Settings.LimitQ), c.board.Settings.Guard)
	c.say("%s", proofCautions)
}

// tried is what became of one part.
type tried struct {
	result shop.Proven
	seen   string // one line; "" if there is nothing to say
}

func (t tried) words() string {
	word := string(t.result)
	if t.result == shop.Failed {
		word = "FAILED"
	}
	if t.seen != "" {
		word += ": " + t.seen
	}
	return word
}

// failed makes a part's failure, with what to do about it.
func failed(format string, args ...any) tried {
	return tried{shop.Failed, fmt.Sprintf(format, args...)}
}

// notDone makes what a part is that showed nothing.
func notDone(format string, args ...any) tried {
	return tried{shop.NotDone, fmt.Sprintf(format, args...)}
}

// leftOut makes what a part is that the person did not want; nothing where err broke the walk off.
func leftOut(err error) tried {
	if err != nil {
		return tried{}
	}
	return notDone("left out")
}

// pullPlug is what to do where a part failed.
const pullPlug = "Pull the oven's plug and do not use this board to heat until this passes: look " +
	"at its relay, its wiring and its program."

// yes puts a question and reports whether the whole word yes was typed.
func (c *proving) yes(format string, args ...any) (bool, error) {
	line, err := c.askWarm(format+" Type yes:", args...)
	return strings.EqualFold(line, "yes"), err
}

// choice puts a question until one of the words is typed.
func (c *proving) choice(question string, words ...string) (string, error) {
	for {
		line, err := c.askWarm("%s", question)
		if err != nil {
			return "", err
		}
		for _, w := range words {
			if strings.EqualFold(line, w) {
				return w, nil
			}
		}
		c.say("%q is none of the answers.", line)
	}
}

// askWarm asks with the duty at 0 and the simulated oven at the person's pace.
func (c *proving) askWarm(format string, args ...any) (string, error) {
	c.off()
	if c.sim != nil {
		c.sim.asking = true
		defer func() { c.sim.asking = false }()
	}
	return c.ask(format, args...)
}

// What a person can say of the relay.
const (
	sawOff    = "yes"
	sawOn     = "no"
	sawNot    = "cannot see"
	lampAsked = "Was the relay's light off, or the contactor open, %s? Type yes, no or cannot see:"
)

// lamp asks what the person saw of the relay since the heat was to be gone.
func (c *proving) lamp(when string, onBefore time.Duration) (string, error) {
	if c.sim != nil && c.sim.board != nil {
		c.say("SIMULATED: the board's output was on for %.1f s since then.",
			(c.sim.board.Truth().On - onBefore).Seconds())
	}
	return c.choice(fmt.Sprintf(lampAsked, when), sawOff, sawOn, sawNot)
}

// lampWords puts it into the record, as the person's.
func lampWords(saw string) string {
	switch saw {
	case sawOff:
		return "you saw the relay off"
	case sawOn:
		return "you saw the relay on"
	}
	return "you could not see the relay"
}

// outputOn gives for how long the simulated board's output was on so far.
func (c *proving) outputOn() time.Duration {
	if c.sim == nil || c.sim.board == nil {
		return 0
	}
	return c.sim.board.Truth().On
}

// proofSim is the simulated shop of a walk.
type proofSim struct {
	grants keeper.Granter
	board  *sim.Board // behind grants; nil: another process has it
	asking bool
	paced  func(asking bool) // waits as long as a grant's time takes
	now    time.Duration     // of the walk
}

var errNoProofBoard = errors.New("it takes no duty: there is no heat of ours to take away")
