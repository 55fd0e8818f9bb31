package main

import (
	"strings"

	"github.com/spf13/pflag"

	"strawline/probe/sim"
)

// What the simulated person does.
const (
	personGoesOn = "goes-on"
	personAway   = "away"
)

// faultsValue collects the values of --fault: "open@40m".
type faultsValue []sim.Fault

// Type names the kind of value in the help.
func (v *faultsValue) Type() string { return "NAME@SPAN" }

// String gives the faults as they are written.
func (v *faultsValue) String() string {
	var parts []string
	for _, f := range *v {
		parts = append(parts, f.String())
	}
	return strings.Join(parts, ",")
}

// Set adds one fault.
func (v *faultsValue) Set(s string) error {
	f, err := sim.ParseFault(s)
	if err != nil {
		return err
	}
	*v = append(*v, f)
	return nil
}

// demoFlags are the options of `demo`.
type demoFlags struct {
	profile string
	oven    string // path of an oven parameters file; "" is plant A
	found   string // path of a found file; "" for none
	out     string
	pace    paceValue
	seed    seedValue
	faults  faultsValue
	person  wordValue
	plain   bool
	noHeat  bool
	blade   bladeFlags
}

// register adds the options to a command's, with the default profile and pace of the demo.
func (f *demoFlags) register(fs *pflag.FlagSet, profile string, pace paceValue) {
	f.pace = pace
	f.person = wordValue{word: personAway, allowed: []string{personGoesOn, personAway}}
	fs.StringVar(&f.profile, "profile", profile, "the profile to run")
	fs.StringVar(&f.oven, "oven", "", "the simulated oven's parameters file")
	fs.StringVar(&f.found, "found", "", "the found file that has the oven's model and gains, as "+
		"tune --found writes it")
	fs.StringVar(&f.out, "out", "", "write the run file here; the file must not exist")
	fs.Var(&f.pace, "pace", "max, 1 or a factor")
	fs.Var(&f.seed, "seed", "whole number that the simulated shop's chance starts from")
	fs.Var(&f.faults, "fault", "a fault and when, such as open@40m, or open@40m+60s for so "+
		"long; may be repeated: open, "+
		"ssr-short, host-silent, restart, garbage, unplug, door, reversed, frozen, no-heat, "+
		"weak, sag, fallen, lead-short, warm-board, short-ground, short-supply, mute, hang, "+
		"wander-up, wander-down")
	fs.Var(&f.person, "person", "what the simulated person does after a trip: goes-on or away")
	fs.BoolVar(&f.noHeat, "no-heater", false, "a sketch's board that only prints, and an oven "+
		"with a thermostat of its own")
	fs.BoolVar(&f.plain, "plain", false, "lines of text instead of the screen")
	f.blade.steel, f.blade.text = demoSteel, "demo blade"
	f.blade.thick = lengthValue{mm: demoThickMM, given: true}
	f.blade.register(fs)
}

// replayFlags are the options of `replay`.
type replayFlags struct {
	pace  paceValue
	plain bool
}

// register adds the options to a command's.
func (f *replayFlags) register(fs *pflag.FlagSet, pace paceValue) {
	f.pace = pace
	fs.Var(&f.pace, "pace", "max, 1 or a factor")
	fs.BoolVar(&f.plain, "plain", false, "lines of text instead of the screen")
}
