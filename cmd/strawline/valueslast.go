package main

import (
	"regexp"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// minusValue is text that begins with a minus sign and is a value, not an option: -100C.
var minusValue = regexp.MustCompile(`^-[0-9.]`)

// valuesLast writes args so that a value beginning with a minus sign is read as a value: the
// options come first, each with its value, then "--" and everything else in its order.
// Args without such a value stay as they are.
func valuesLast(root *cobra.Command, args []string) []string {
	if !holdsMinusValue(args) {
		return args
	}
	cmd := root
	var words, options, values []string
	for i := 0; i < len(args); i++ {
		arg := args[i]
		switch {
		case arg == "--":
			values = append(values, args[i+1:]...)
			i = len(args)
		case arg != "-" && strings.HasPrefix(arg, "-") && !minusValue.MatchString(arg):
			options = append(options, arg)
			if !takesNext(cmd, arg) {
				continue
			}
			if i++; i == len(args) {
				return append(words, options...) // the complaint will name the option
			}
			options = append(options, args[i])
		default:
			if next := child(cmd, arg); next != nil && len(values) == 0 {
				cmd = next
				words = append(words, arg)
				continue
			}
			values = append(values, arg)
		}
	}
	return append(append(append(words, options...), "--"), values...)
}

func holdsMinusValue(args []string) bool {
	for _, arg := range args {
		if arg == "--" {
			return false
		}
		if minusValue.MatchString(arg) {
			return true
		}
	}
	return false
}

// takesNext tells whether the option's value is the argument after it; an option that stands
// before its command's word is looked for in the commands below.
func takesNext(cmd *cobra.Command, arg string) bool {
	if strings.Contains(arg, "=") {
		return false
	}
	var f *pflag.Flag
	if name, long := strings.CutPrefix(arg, "--"); long {
		f = cmd.Flags().Lookup(name)
	} else if len(arg) == 2 {
		f = cmd.Flags().ShorthandLookup(arg[1:])
	}
	if f != nil {
		return f.NoOptDefVal == ""
	}
	return slices.ContainsFunc(cmd.Commands(), func(c *cobra.Command) bool {
		return takesNext(c, arg)
	})
}

// child finds the command that word names below cmd.
func child(cmd *cobra.Command, word string) *cobra.Command {
	for _, c := range cmd.Commands() {
		if c.Name() == word || c.HasAlias(word) {
			return c
		}
	}
	return nil
}
