package sim

import (
	"math/rand/v2"
	"time"

	"strawline/probe"
	"strawline/probe/board"
	"strawline/probe/plant"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// Step is the simulated time of one Grant.
const Step = plant.Every

// Times and sizes of the simulated board. They are choices of ours, in the range of hobby
// boards.
const (
	chipName = "MAX31855K"
	// BootTime is from power or reset to the boot line: the wait of a usual bootloader.
	BootTime = 1500 * time.Millisecond

	usualNoise   = temp.Delta(0.5)
	usualLimit   = temp.C(260)
	usualCeiling = temp.C(320)

	coldRise = 6.0    // °C above the room, by the oven's side
	coldLag  = 1200.0 // s
)

// Config is a board and its oven. Zero fields take the defaults named.
type Config struct {
	Plant   plant.Params // the oven; default plant.A()
	Start   temp.C       // of the whole oven; the default, 0, is the room's temperature
	Blade   bool         // Plant.Blade is in the oven from the start
	Name    string       // what the board calls itself; default straw-sim
	Seed    uint64       // of the noise and the garbage
	Noise   temp.Delta   // the readings' noise is uniform, ± this; 0 is 0.5 °C, below 0 none
	Room    bool         // channel 2 reads the room
	Limit   temp.C       // stored high limit, true at a 25 °C cold junction; default 260 °C
	Ceiling temp.C       // compiled ceiling, likewise; default 320 °C
	WindowS uint8        // stored window, 2 to 60 s; default 2
	MainsHz uint8        // 50 or 60; default 50
	BadCRC  bool         // the stored settings are unreadable
	Faults  []Fault
	Plain   *Plain // a sketch's board and an oven of its own; nil: our firmware

	// Apart has the board stand apart from its cable: it has its power from elsewhere and no line
	// that resets it, so that it runs on while the cable is out and when a port is opened.
	Apart bool

	// Broken is what the board's program leaves undone.
	Broken Broken

	// BladeProbe puts a probe where the blade lies: channel 2 reads the blade, and the air
	// while none is in. It comes before Room; a sketch's board does not have it.
	BladeProbe bool

	// After times the reads of Memory and guards those of Pty by the wall clock; default
	// time.After. Simulated time never depends on it.
	After func(time.Duration) <-chan time.Time
}

// Broken says what a board's program leaves undone that it should do: for tests of whoever must
// notice. The zero value is a good board.
type Broken struct {
	Limit   bool // it never latches high limit
	DeadMan bool // it never latches host silent
	Latched bool // it says its latches and heats all the same
	Forgets bool // it says that settings are stored and stores none
	LetsGo  bool // its high limit does not stay latched below the limit
}

func (c Config) withDefaults() Config {
	if c.Plant == (plant.Params{}) {
		c.Plant = plant.A()
	}
	if c.Start == 0 {
		c.Start = c.Plant.Room
	}
	switch {
	case c.Noise == 0:
		c.Noise = usualNoise
	case c.Noise < 0:
		c.Noise = 0
	}
	if c.Limit == 0 {
		c.Limit = usualLimit
	}
	if c.Ceiling == 0 {
		c.Ceiling = usualCeiling
	}
	if c.Name == "" {
		c.Name = "straw-sim"
	}
	if c.WindowS == 0 {
		c.WindowS = 2
	}
	if c.MainsHz == 0 {
		c.MainsHz = 50
	}
	if c.After == nil {
		c.After = time.After
	}
	return c
}

// channels gives the count of channels.
func (c Config) channels() uint8 {
	if c.Room || c.BladeProbe {
		return 2
	}
	return 1
}

func (c Config) about() board.About {
	return board.About{
		Name: c.Name, Chip: chipName, Channels: c.channels(),
		CeilingQ: thermocouple.ChipQuarters(chipName, c.Ceiling, 25),
	}
}

// eeprom gives the stored settings; such as no board would take are unreadable.
func (c Config) eeprom(ceilingQ int16) eeprom {
	s := board.Stored{Guard: 1, LimitQ: thermocouple.ChipQuarters(chipName, c.Limit, 25),
		WindowS: c.WindowS, MainsHz: c.MainsHz}
	return eeprom{stored: s, readable: !c.BadCRC && s.Valid() == nil && s.LimitQ <= ceilingQ}
}

// front is what stands between the oven and the board's program: the thermocouples and
// their chips.
type front struct {
	noise temp.Delta
	room  temp.C
	cold  float64
	rand  *rand.Rand
}

// warm moves the cold junction on by one step. A board that lies too near the oven, as hot says,
// warms by 2 °C a minute up to 65 °C: our choice.
func (f *front) warm(hot bool) {
	if hot {
		f.cold = max(f.cold, min(f.cold+2*Step.Minutes(), 65))
		return
	}
	const share = 0.25 / coldLag // of the way, in one step; the lag is 4800 steps long
	f.cold += (float64(f.room) + coldRise - f.cold) * share
}

// word converts a true temperature once.
func (f *front) word(hot temp.C, fault probe.Fault) uint32 {
	hot = hot.Add(f.noise * temp.Delta(2*f.rand.Float64()-1))
	return thermocouple.Word(chipName, hot, temp.C(f.cold), fault)
}
