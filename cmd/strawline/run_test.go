package main

import (
	"bytes"
	"errors"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func rapidNumber(n float64) string { return strconv.FormatFloat(n, 'f', -1, 64) }

// emfLike makes a tree with one command that takes arguments and options, and shows in got
// what it was given.
func emfLike(got *[]string, at, seen *string) *cobra.Command {
	root := group("strawline", "")
	root.SilenceErrors, root.SilenceUsage = true, true
	var asJSON bool
	leaf := &cobra.Command{
		Use: "emf",
		RunE: func(_ *cobra.Command, args []string) error {
			*got = args
			*seen = strconv.FormatBool(asJSON)
			return nil
		},
	}
	leaf.Flags().StringVarP(at, "at", "a", "", "")
	leaf.Flags().BoolVar(&asJSON, "json", false, "")
	root.AddCommand(leaf)
	return root
}

func TestMinusValues(t *testing.T) {
	for _, c := range []struct {
		args string
		want string // arguments
		at   string
		json string
	}{
		{"emf K 100C", "K 100C", "", "false"},
		{"emf K -100C", "K -100C", "", "false"},
		{"emf K -.5C --json", "K -.5C", "", "true"},
		{"emf --json -100C K", "-100C K", "", "true"},
		{"emf K --at -100C", "K", "-100C", "false"},
		{"emf K --at -100C -5C --json", "K -5C", "-100C", "true"},
		{"emf -a -100C K", "K", "-100C", "false"},
		{"emf --at=-100C -5C K", "-5C K", "-100C", "false"},
		{"emf -5C -- --json", "-5C --json", "", "false"},
		{"emf -5C emf", "-5C emf", "", "false"},
		{"emf - -5C", "- -5C", "", "false"},
		{"--json emf -5C", "-5C", "", "true"},
		{"--at -1C emf -5C", "-5C", "-1C", "false"},
		{"-5C", "", "", `no command "-5C"`},
		{"emf -5C -x", "", "", "no option -x"},
		{"emf -5C --at", "", "", "--at needs a value"},
	} {
		var got []string
		var at, seen string
		root := emfLike(&got, &at, &seen)
		root.SetFlagErrorFunc(flagFault)
		root.SetArgs(valuesLast(root, strings.Fields(c.args)))
		if err := root.Execute(); err != nil {
			assert.Contains(t, err.Error(), c.json, c.args)
			continue
		}
		assert.Equal(t, c.want, strings.Join(got, " "), c.args)
		assert.Equal(t, c.at, at, c.args)
		assert.Equal(t, c.json, seen, c.args)
	}
}

// TestMinusValuesAnywhere mixes values and options in any order: the values come through in
// theirs, and the options keep theirs.
func TestMinusValuesAnywhere(t *testing.T) {
	value := rapid.SampledFrom([]string{"-100C", "-0.5mV", "-.5C", "K", "20C", "emf", "-1e3C"})
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(value, 0, 5).Draw(t, "values")
		atValue := value.Draw(t, "at")
		args := slices.Clone(values)
		where := rapid.IntRange(0, len(args)).Draw(t, "where")
		args = slices.Insert(args, where, "--at", atValue)
		args = append([]string{"emf"}, args...)
		var got []string
		var at, seen string
		root := emfLike(&got, &at, &seen)
		root.SetArgs(valuesLast(root, args))
		require.NoError(t, root.Execute())
		assert.Equal(t, atValue, at)
		assert.Equal(t, strings.Join(values, " "), strings.Join(got, " "))
	})
}

func TestFaultIsOneLine(t *testing.T) {
	f := &fault{
		code: exitNoInput, did: "open", to: "/dev/ttyUSB0",
		wrong: errors.New("no such port\nat all\n"), help: "plug the board in",
	}
	assert.Equal(t, "open /dev/ttyUSB0: no such port; at all; plug the board in", f.Error())
	assert.Equal(t, exitBug, asFault(errors.New("x")).code)
	assert.Same(t, f, asFault(errors.Join(errors.New("x"), f)))
}

// TestExitsAreSysexits compares the codes with sysexits.h of 4.4BSD, from memory.
func TestExitsAreSysexits(t *testing.T) {
	var codes []int
	for _, e := range exits {
		codes = append(codes, e.code)
		assert.NotEmpty(t, e.when)
	}
	assert.Equal(t, []int{0, 64, 65, 66, 69, 70, 73, 74, 75, 77, 78, 128}, codes)
}

func TestVersionOf(t *testing.T) {
	info := &debug.BuildInfo{Main: debug.Module{Version: "v1.2.3"}, Settings: []debug.BuildSetting{
		{Key: "vcs.revision", Value: "abc"}, {Key: "vcs.time", Value: "2026-01-02T03:04:05Z"},
		{Key: "vcs.modified", Value: "true"},
	}}
	v := versionOf(info)
	assert.Equal(t, "abc", v.Revision)
	assert.Contains(t, v.text(), "revision abc of 2026-01-02T03:04:05Z, with changes")
	assert.Contains(t, v.text(), "strawline v1.2.3, go")
	assert.Equal(t, "unknown", versionOf(&debug.BuildInfo{}).Version)
}

// TestEveryOptionIsExplained: each command has one line of help and so has each option.
func TestEveryOptionIsExplained(t *testing.T) {
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		assert.NotEmpty(t, c.Short, c.CommandPath())
		c.Flags().VisitAll(func(f *pflag.Flag) {
			assert.NotEmpty(t, f.Usage, c.CommandPath()+" --"+f.Name)
		})
		for _, child := range c.Commands() {
			walk(child)
		}
	}
	walk(newRoot(&host{}))
}

// TestRunHasNoStateOfItsOwn runs the program twice in one process.
func TestRunHasNoStateOfItsOwn(t *testing.T) {
	for range 2 {
		var out, bad bytes.Buffer
		code := run(t.Context(), []string{"version"}, nil, &out, &bad, nil)
		assert.Equal(t, exitOK, code)
		assert.Contains(t, out.String(), "strawline ")
		assert.Empty(t, bad.String())
	}
}

type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, errors.New("no room") }

func TestOutputThatFails(t *testing.T) {
	var bad bytes.Buffer
	code := run(t.Context(), []string{"version"}, nil, brokenWriter{}, &bad, nil)
	assert.Equal(t, exitIO, code)
	assert.Equal(t, "strawline: version: write standard output: no room\n", bad.String())
}
