package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// host is the world that a command runs in; tests give their own.
type host struct {
	in  io.Reader
	out io.Writer
	err io.Writer
	env []string // as os.Environ gives it
	// args are those that the program was called with, as they are read.
	args []string
}

// getenv gives the value of an environment variable, "" if it is not set.
func (h *host) getenv(key string) string {
	for i := len(h.env) - 1; i >= 0; i-- {
		if name, value, _ := strings.Cut(h.env[i], "="); name == key {
			return value
		}
	}
	return ""
}

// printJSON writes v as one JSON object on one line.
func (h *host) printJSON(v any) error {
	text, err := json.Marshal(v)
	if err != nil {
		return &fault{code: exitBug, did: "write", to: "JSON", wrong: err}
	}
	return h.print(string(text) + "\n")
}

// print writes text to the standard output.
func (h *host) print(text string) error {
	if _, err := io.WriteString(h.out, text); err != nil {
		return &fault{code: exitIO, did: "write", to: "standard output", wrong: err}
	}
	return nil
}

// run is the whole program: it reads args, does what they say, prints a failure as one line
// on stderr and gives the exit code.
func run(
	ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer, env []string,
) int {
	h := &host{in: stdin, out: stdout, err: stderr, env: env}
	root := newRoot(h)
	h.args = valuesLast(root, args)
	root.SetArgs(h.args)
	cmd, err := root.ExecuteContextC(ctx)
	if err == nil {
		return exitOK
	}
	f := asFault(err)
	where := strings.ReplaceAll(strings.TrimSpace(cmd.CommandPath()), " ", ": ")
	fmt.Fprintf(stderr, "%s: %s\n", where, f.Error())
	return f.code
}

// newRoot makes the tree of commands.
func newRoot(h *host) *cobra.Command {
	root := group("strawline", "watch over the heat of steel that is treated by hand")
	root.Long = "Strawline runs, watches and records the heat treatment of steel by hand.\n" +
		"Temperatures, spans and lengths always carry their unit: 400F, 2h, 4mm."
	root.SilenceErrors, root.SilenceUsage = true, true
	root.SetIn(h.in)
	root.SetOut(h.out)
	root.SetErr(h.err)
	root.SetFlagErrorFunc(flagFault)
	root.AddCommand(newDemo(h), newRun(h), newWatch(h), newStop(h), newKeep(h), newReplay(h),
		newProfiles(h), newProbes(h), newEMF(h), newSteel(h), newRecord(h), newTune(h),
		newVersion(h), newExits())
	return root
}

// newExits makes the help topic that lists the exit codes.
func newExits() *cobra.Command {
	var text strings.Builder
	text.WriteString("What the program's exit codes mean:\n")
	for _, e := range exits {
		fmt.Fprintf(&text, "\n  %3d  %s", e.code, e.when)
	}
	return &cobra.Command{Use: "exits", Short: "what the exit codes mean", Long: text.String()}
}

// group makes a command that only has others below it.
func group(use, short string) *cobra.Command {
	return &cobra.Command{
		Use:   use,
		Short: short,
		Args:  cobra.ArbitraryArgs, // or cobra complains of unknown commands in its own words
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usage("say which command; %s --help lists them", cmd.CommandPath())
			}
			f := usage("no command %q", args[0])
			cmd.SuggestionsMinimumDistance = 2
			if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
				f.help = "did you mean " + strings.Join(near, " or ") + "?"
			} else {
				f.help = cmd.CommandPath() + " --help lists them"
			}
			return f
		},
	}
}

// exactly allows n arguments and names them in its complaint.
func exactly(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case len(args) < len(names):
			return usage("%s is missing", strings.Join(names[len(args):], " and "))
		case len(args) > len(names):
			return usage("%q is too much", args[len(names)])
		}
		return nil
	}
}

// flagFault turns what is wrong with the flags into our words.
func flagFault(cmd *cobra.Command, err error) error {
	var absent *pflag.NotExistError
	if errors.As(err, &absent) {
		name := absent.GetSpecifiedName()
		if absent.GetSpecifiedShortnames() != "" {
			return usage("no option -%s; %s --help lists them", name, cmd.CommandPath())
		}
		f := usage("no option --%s", name)
		f.help = cmd.CommandPath() + " --help lists them"
		if near := nearest(name, flagNames(cmd)); near != "" {
			f.help = "did you mean --" + near + "?"
		}
		return f
	}
	var bare *pflag.ValueRequiredError
	if errors.As(err, &bare) {
		return usage("--%s needs a value", bare.GetFlag().Name)
	}
	var bad *pflag.InvalidValueError
	if errors.As(err, &bad) {
		return usage("--%s: %w", bad.GetFlag().Name, errors.Unwrap(bad))
	}
	return usage("%w", err)
}

func flagNames(cmd *cobra.Command) []string {
	var names []string
	cmd.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
	return names
}
