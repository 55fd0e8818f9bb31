package main

import (
	"fmt"

	"github.com/spf13/pflag"

	"strawline/profiles"
)

// The speeds of a sketch's lines. 1200 is left out: opening at it sends some boards to their
// bootloader.
const (
	sketchBaud = 9600
	leastBaud  = 2400
	mostBaud   = 1000000
)

// runFlags are the options of `run`.
type runFlags struct {
	port   string
	kp     gainValue
	ti, td spanValue
	limit  tempValue // the oven's
	blade  bladeFlags
	at     tempValue
	soak   spanValue // --for
	times  int
	band   deltaValue
	out    string
	asRoot bool
	yes    bool
	plain  bool
	shop   string
	oven   string
	baud   int
	noHeat bool
	grants string
	pace   paceValue
}

// register adds the options to a command's.
func (f *runFlags) register(fs *pflag.FlagSet) {
	fs.StringVar(&f.port, "port", "", "the board's serial port, such as /dev/ttyUSB0; without it "+
		"the shop file says")
	fs.StringVar(&f.shop, "shop", "", "the shop file; shop.toml in the configuration folder "+
		"unless given")
	fs.StringVar(&f.oven, "oven", "", "which oven of the shop file; its only one unless given")
	f.pace = paceValue{max: true}
	fs.StringVar(&f.grants, "grants", "", "the socket of a simulated board's bench, whose time this "+
		"run grants; the run is SIMULATED")
	fs.Var(&f.pace, "pace", "with --grants: max, 1 or a factor")
	fs.BoolVar(&f.noHeat, "no-heater", false, "you hold the heat; with --port the board may be one "+
		"whose sketch only prints")
	fs.IntVar(&f.baud, "baud", sketchBaud, "with --port and --no-heater: the speed of the "+
		"sketch's lines")
	fs.Var(&f.kp, "kp", "proportional gain, duty from 0 to 1 per degree: 0.057/C")
	fs.Var(&f.ti, "ti", "integral time: 120s")
	fs.Var(&f.td, "td", "derivative time: 12s")
	fs.Var(&f.limit, "limit", "the oven's limit: 250C")
	f.blade.register(fs)
	fs.Var(&f.at, "at", "without a profile: soak at this temperature, such as 400F")
	fs.Var(&f.soak, "for", "without a profile: soak this long, such as 2h")
	fs.IntVar(&f.times, "times", 1, fmt.Sprintf(
		"without a profile: soak so many times, 1 to %d", profiles.MaxRepeats))
	fs.Var(&f.band, "band", "without a profile: half width of the soak's band, such as 10F")
	fs.StringVar(&f.out, "out", "", "write the run file here; the file must not exist")
	fs.BoolVar(&f.asRoot, "as-root", false, "run as root all the same")
	fs.BoolVar(&f.yes, "yes", false, "heat without asking, where something of the run is odd")
	fs.BoolVar(&f.plain, "plain", false, "lines of text instead of the screen")
}

// check says what does not fit together; args are the command's arguments.
func (f *runFlags) check(args []string) error {
	made := f.at.given || f.soak.given
	switch {
	case len(args) > 1:
		return usage("%q is too much", args[1])
	case len(args) == 1 && made:
		return usage("a profile has its own soaks; leave out --at and --for, or the profile")
	case len(args) == 0 && !made:
		return usage("name a profile, or give --at and --for; strawline profiles list has them")
	case made && (!f.at.given || !f.soak.given):
		return usage("--at and --for belong together")
	case made && f.soak.d == 0:
		return usage("--for must be above 0")
	case !made && (f.times != 1 || f.band.given):
		return usage("--times and --band are for --at and --for; a profile has its own")
	case f.times < 1 || f.times > profiles.MaxRepeats:
		return usage("--times %d is not from 1 to %d", f.times, profiles.MaxRepeats)
	case f.port != "" && (f.shop != "" || f.oven != ""):
		return usage("--port is for a run without a shop file; leave out --shop and --oven")
	case f.grants != "" && (f.port == "" || f.noHeat):
		return usage("--grants goes with --port and a heater")
	case f.grants == "" && !f.pace.max:
		return usage("--pace is for --grants: a real oven has its own")
	case f.baud != sketchBaud && (f.port == "" || !f.noHeat):
		return usage("--baud is for --port with --no-heater")
	case f.baud < leastBaud || f.baud > mostBaud:
		return usage("--baud %d is not from %d to %d", f.baud, leastBaud, mostBaud)
	case f.kp.given != f.ti.given:
		return usage("--kp and --ti belong together")
	case f.td.given && !f.kp.given:
		return usage("--td needs --kp and --ti")
	case f.ti.given && f.ti.d == 0:
		return usage("--ti must be above 0")
	}
	return nil
}
