package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"strawline/control/tune"
)

// tuneFlags are the options of `tune`.
type tuneFlags struct {
	from      string
	json, all bool
	keep      bool
	take      wordValue
	found     string
	shop      string
	oven      string
	port      string
	simulated bool
	at        tempValue
	limit     tempValue
	swing     bool
	most      spanValue
	seed      seedValue
	pace      paceValue
	faults    faultsValue
	out       string
	plain     bool
	yes       bool
	asRoot    bool
}

// Which of the gains that are offered are kept.
const (
	takeBest   = "recommended"
	takeBolder = "bolder"
	takeCalmer = "calmer"
)

func newTune(h *host) *cobra.Command {
	var f tuneFlags
	cmd := &cobra.Command{
		Use:   "tune",
		Short: "find out how the oven answers, and the gains that follow",
		Long: "Tune heats the oven once to the heat of a temper and finds out from that how it\n" +
			"answers; where the heat-up alone does not tell, the duty then swings a little around\n" +
			"what holds it. It prints the model, the gains that are recommended, bolder and calmer\n" +
			"ones, and why. Limits, alarms and the board's dead man are on as in any run; stay\n" +
			"within reach. With --from it heats nothing and looks at a recorded run instead.\n\n" +
			"--oven names an oven of the shop file. A name with a slash or .toml at its end is a\n" +
			"file of a simulated oven's parameters: then nothing real is heated.",
		Args: exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := f.check(); err != nil {
				return err
			}
			if f.from != "" {
				return h.tuneFrom(&f)
			}
			return h.tuneOven(cmd.Context(), &f)
		},
	}
	f.register(cmd.Flags())
	return cmd
}

func (f *tuneFlags) register(fs *pflag.FlagSet) {
	f.pace = paceValue{factor: demoPace}
	f.take = wordValue{word: takeBest, allowed: []string{takeBest, takeBolder, takeCalmer}}
	fs.StringVar(&f.from, "from", "", "a recorded run to find the model in, any run")
	fs.BoolVar(&f.json, "json", false, "one JSON object")
	fs.BoolVar(&f.all, "all", false, "what every known rule makes of the model as well")
	fs.BoolVar(&f.keep, "keep", false, "write model and gains into found.toml, for the runs to come")
	fs.Var(&f.take, "take", "which gains --keep keeps: recommended, bolder or calmer")
	fs.StringVar(&f.found, "found", "", "keep them in this file instead, as demo --found reads it")
	fs.StringVar(&f.shop, "shop", "", "the shop file; shop.toml in the configuration folder "+
		"unless given")
	fs.StringVar(&f.oven, "oven", "", "which oven of the shop file, its only one unless given; or "+
		"a simulated oven's parameters file")
	fs.StringVar(&f.port, "port", "", "without a shop file: the board's serial port")
	fs.BoolVar(&f.simulated, "simulated", false, "the demo's own simulated oven")
	fs.Var(&f.at, "at", "the heat of the test: 200C or 30C below the oven's limit unless given")
	fs.Var(&f.limit, "limit", "the oven's limit: 250C")
	fs.BoolVar(&f.swing, "swing", false, "let the duty swing even if the heat-up tells a model")
	fs.Var(&f.most, "most", "longest time, after which the test ends with the heat off: 3h")
	fs.Var(&f.seed, "seed", "simulated: whole number that chance starts from")
	fs.Var(&f.pace, "pace", "simulated: max, 1 or a factor")
	fs.Var(&f.faults, "fault", "simulated: a fault and when, such as door@30m")
	fs.StringVar(&f.out, "out", "", "write the run file here; the file must not exist")
	fs.BoolVar(&f.plain, "plain", false, "lines of text instead of the screen")
	fs.BoolVar(&f.yes, "yes", false, "heat without asking first")
	fs.BoolVar(&f.asRoot, "as-root", false, "heat as root all the same")
}

// isFile says that --oven names a file of parameters and not an oven of the shop file, by the
// rule that a profile goes by.
func (f *tuneFlags) isFile() bool {
	return strings.ContainsAny(f.oven, `/\`) || strings.HasSuffix(f.oven, ".toml")
}

// invented says that the oven is a simulated one.
func (f *tuneFlags) invented() bool { return f.simulated || f.isFile() }

func (f *tuneFlags) check() error {
	heats := f.port != "" || f.simulated || f.at.given || f.limit.given || f.swing ||
		f.most.given || f.seed.given || f.out != "" || f.yes || len(f.faults) > 0
	switch {
	case f.from != "" && (heats || f.isFile()):
		return usage("--from looks at a recorded run and heats nothing; leave out what is " +
			"for a test")
	case f.simulated && f.oven != "":
		return usage("--simulated is the demo's own oven; leave out --oven")
	case f.port != "" && (f.shop != "" || f.oven != "" || f.simulated):
		return usage("--port is for a test without a shop file; leave out --shop and --oven")
	case f.port != "" && f.keep && f.found == "":
		return usage("without a shop file there is no oven to keep it for; say --found FILE")
	case f.invented() && f.keep && f.found == "":
		return usage("what a simulated oven showed is no figure of your shop; say --found FILE")
	case !f.invented() && (f.seed.given || len(f.faults) > 0 || f.pace.max ||
		f.pace.factor != demoPace):
		return usage("--seed, --pace and --fault are for a simulated oven")
	case f.take.word != takeBest && !f.keeps():
		return usage("--take says what --keep keeps; say --keep or --found FILE")
	case f.most.given && f.most.d == 0:
		return usage("--most must be above 0")
	}
	return nil
}

func (f *tuneFlags) keeps() bool { return f.keep || f.found != "" }

// tuneFrom finds a model in a run that was recorded.
func (h *host) tuneFrom(f *tuneFlags) error {
	info, records, err := readRun(f.from)
	if err != nil {
		return err
	}
	c, err := conclude(info, records)
	if err != nil {
		return &fault{code: exitData, did: "find a model in", to: f.from, wrong: refused(err)}
	}
	c.path = f.from
	return h.tuned(f, c)
}

// refused keeps of several refusals the first: that of the test which the record looks most like.
func refused(err error) error {
	var r *tune.Refusal
	if errors.As(err, &r) {
		return r
	}
	return err
}

// tuned prints what was found, and keeps it if that was asked.
func (h *host) tuned(f *tuneFlags, c concluded) error {
	kept := ""
	if f.keeps() {
		var err error
		if kept, err = h.keepTuned(f, c); err != nil {
			return err
		}
	}
	if f.json {
		j := c.json(f.all)
		j.Kept = kept
		return h.printJSON(j)
	}
	lines := c.lines(unitOf(&c.info), f.all)
	if kept != "" {
		lines = append(lines, keptWords(f, kept))
	}
	return h.print(strings.Join(lines, "\n") + "\n")
}

func keptWords(f *tuneFlags, path string) string {
	return fmt.Sprintf("kept: model and %s gains, in %s", f.take.word, path)
}

// taken gives the choice that was asked for.
func (f *tuneFlags) taken(v tune.Verdict) tune.Choice {
	switch f.take.word {
	case takeBolder:
		return v.Bolder
	case takeCalmer:
		return v.Calmer
	}
	return v.Best
}
