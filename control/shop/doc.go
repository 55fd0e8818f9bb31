// Package shop reads the shop file, in which a person says what boards, probes, ovens and forges
// his shop has, and keeps found.toml beside it, in which the program writes what it finds. Both
// are read strictly: every complaint is one line with the file's line and column. A value of the
// shop file wins over one that was found, and Pick says that it does. The shop file is never
// written; where the program has something for it, Paste gives the text.
//
// Every temperature, difference, gain and span is text with its unit. The shop file, with every
// key:
//
//	name = "barn"                # optional, one line
//	unit = "F"                   # optional: how temperatures are shown; that of the first
//	                             # oven's limit unless given, else C
//	on_alarm = ["/usr/local/bin/ring", "kiln"] # optional: a program, by its whole path, and its
//	on_done = ["/usr/local/bin/ring", "done"]  # arguments; no shell
//	bell = true                  # optional, as the next two: a screen's terminal rings at an
//	                             # alarm, at a wait and at the end
//	title = true                 # the state of the run stands in the window's title
//	notify = true                # the desktop shows a notification where the bell would ring
//
//	[[board]]
//	name = "temper"              # a-z 0-9 and -; how the rest of the file calls it
//	kind = "strawline board"     # or "lines" (a sketch that prints), or "modbus"
//	port = "/dev/serial/by-id/usb-1a86-if00"   # path, best one that does not change
//	baud = 38400                 # optional: 38400 for a strawline board (its protocol has no
//	                             # other), 9600 for the rest (what sketches and modules mostly use)
//	note = "behind the kiln"     # optional, here and in every table below
//	# of lines only, all optional: what cannot be told from the lines themselves
//	unit = "C"                   # of numbers that are printed without one
//	decimal = ","                # or "."
//	columns = [2, "oven"]        # channels 1, 2, ...: the column, from 1, or its label
//	cold_column = 3              # of the cold junction, number or label
//	chip = "MAX31855K"           # where the lines are the chip's raw words
//	# of modbus only
//	parity = "none"              # optional: "even" or "odd"; most modules come with none
//	[[board.channel]]
//	number = 1                   # optional, 1 to 8: its place in the file unless given
//	address = 17                 # of the unit, 1 to 247
//	function = 4                 # optional, 3 or 4: 4, where measured values mostly are
//	register = 0                 # on the wire, from 0: often one less than in the manual
//	type = "int16"               # optional: int16 (the usual one), uint16, int32, uint32, float32
//	word_order = "ABCD"          # optional: ABCD (the protocol's own), CDAB, BADC, DCBA
//	scale = 0.1                  # the register times this is the temperature; never guessed
//	unit = "C"                   # of that temperature
//	low = "-200C"                # optional, with high: what the module can measure; -270 to
//	high = "1372C"               # 1820 °C, the widest of NIST's tables, unless given
//
//	[[probe]]
//	name = "oven-air"
//	board = "temper"
//	channel = 1                  # optional: 1
//	use = "oven air"             # or "blade", "forge", "oil", "reference"
//	type = "K"                   # optional, B E J K N R S T: K, the usual one of cheap boards
//	class = "special"            # optional: "class 1", "class 2", "class 3" (IEC 60584-1),
//	                             # "standard", "special" (ASTM E230); unknown unless given
//	fitted = 2026-03-01          # optional: the day that it was put in
//	[probe.correction]           # optional; offset or point
//	offset = "-1.4C"             # added to what the probe reads
//	point = [{ reads = "0C", is = "0.4C" }, { reads = "100C", is = "99.1C" }]
//	date = 2026-11-02
//	source = "ice point"
//
//	[[oven]]
//	name = "kiln"
//	limit = "500F"               # no run goes above it, 30 to 1300 °C
//	board = "temper"             # optional: the board that takes its duty
//	heater = true                # optional: may we switch its heat? no unless given
//	probes = ["oven-air"]        # optional: the probes in it; those of its board for the oven air
//	fan = true                   # optional: a fan moves its air; no unless given
//	[oven.gains]                 # optional
//	kp = "0.057/C"               # duty from 0 to 1 for a degree
//	ti = "120s"
//	td = "12s"                   # optional: none
//	weight = 1.0                 # optional, 0 to 1: setpoint weight; 1, the plain law
//	[oven.model]                 # optional
//	rise = "1100F"               # above the room at full duty, in the end
//	time_constant = "40m"
//	second = "45s"               # optional: a second, shorter time constant
//	dead_time = "12s"
//	slope = "0.8F/s"             # in place of rise and time_constant: how it begins to rise
//	hold = 0.22                  # optional: the duty, 0 to 1, that held hold_at
//	hold_at = "400F"
//	noise = "0.5F"               # optional: standard deviation of one reading
//
//	[oven.output]                # optional, of a heater: how it is switched
//	kind = "contactor"           # optional: "contactor" or "ssr", a solid-state relay; ssr
//	deadband = "3C"              # of a contactor: from where it comes on to where it goes off,
//	                             # 0.5 to 50 °C
//	least_on = "30s"             # of a contactor: how long it stays on at least, 0s to 1h
//	least_off = "60s"            # and off
//	window = "4s"                # optional, of an ssr: what its board spreads the duty over, 2s
//	                             # to 60s in whole seconds; what the board has stored unless given
//	mains = "50Hz"               # optional: "50Hz" or "60Hz"; likewise
//
//	[[forge]]
//	name = "gas"
//	limit = "1300C"              # optional, up to 1800 °C
//	probes = ["forge-wall"]      # optional: the probes for the forge unless given
//
// found.toml has a line schema = 1 and lists of entries, each with the name that it is of and
// its date:
//
//	[[model]] and [[gains]]      # of an oven: keys as above; run, and rule for gains
//	[[correction]]               # of a probe: keys as above; run optional
//	[[check]]                    # of an oven: against, at, offset; swing, recovery, spread
//	                             # and run optional
//	[[wear]]                     # of a probe: warm, aged and peak since it was fitted
//	[[convection]]               # of an oven, from a run with a probe at the blade: run, w_per_m2_k
//	                             # that its air gives a blade, 1 to 100, within what on either side
//	[[fitted]]                   # of a probe: the day is its date
//	[[proof_limit]], [[proof_dead_man]], [[proof_cable]] and [[proof_cut_out]]
//	                             # of a board, the last try to prove what takes the heat away
//	                             # without the program: result "passed", "failed" or "not done",
//	                             # board; seen, port, limit, run optional; last, last_board and
//	                             # last_limit of the last pass
//	[[lowered]]                  # of a board whose limit a proof lowered and has not seen put
//	                             # back: to, and before it board, limit, guard, window, mains
package shop
