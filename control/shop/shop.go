package shop

import (
	"time"

	"strawline/probe/temp"
)

// Kind says how a board talks.
type Kind string

// The kinds of board. Only the first can take duty; the rest are for reading.
const (
	Strawline Kind = "strawline board" // our own line protocol
	Lines     Kind = "lines"           // what people's own sketches print
	Modbus    Kind = "modbus"          // a Modbus RTU module
)

// Use says what a probe is for.
type Use string

// The uses.
const (
	OvenAir   Use = "oven air"
	Blade     Use = "blade"
	InForge   Use = "forge"
	Oil       Use = "oil"
	Reference Use = "reference" // what other probes are checked against
)

// Class is a tolerance class; "" is unknown, and then the widest of its type is the honest one.
type Class string

// The classes: the first three of IEC 60584-1, the others of ASTM E230.
const (
	Class1   Class = "class 1"
	Class2   Class = "class 2"
	Class3   Class = "class 3"
	Standard Class = "standard"
	Special  Class = "special"
)

// The limits of a shop file. All are our own, chosen so that a slip of the pen is caught.
const (
	LowestLimit  = temp.C(30)   // of an oven or forge: a warm shop is no limit
	HighestOven  = temp.C(1300) // as of a profile; type K ends at 1372 °C
	HighestForge = temp.C(1800) // type B ends at 1820 °C
	MaxChannel   = 8            // of a board, as in its line protocol

	// The widest of the eight types' reference functions (NIST Monograph 175): type K begins
	// at -270 °C and type B ends at 1820 °C.
	Coldest = temp.C(-270)
	Hottest = temp.C(1820)
)

// Shop is what a shop file says. Names are unique among boards, among probes, and among ovens
// and forges together.
type Shop struct {
	Name   string
	Unit   temp.Unit // in which temperatures are shown
	Boards []Board
	Probes []Probe
	Ovens  []Oven
	Forges []Forge
	// What is run at an alarm and at the end of a run: a program and its arguments, no shell.
	OnAlarm, OnDone []string
	// How a screen calls a person: BEL, the window's title, a notification of the desktop.
	Bell, Title, Notify bool
}

// Board is a board and the port that it is on.
type Board struct {
	Name string
	Kind Kind
	Port string // path
	Baud int
	Note string

	Lines    LinesHints // of kind Lines
	Parity   string     // of kind Modbus: "none", "even" or "odd"
	Channels []Channel  // of kind Modbus, one at least
}

// LinesHints are what a person says about printed lines; zero values leave it to the lines.
type LinesHints struct {
	HasUnit    bool
	Unit       temp.Unit // with HasUnit
	Decimal    string    // "," or "."
	Columns    []Column  // of channel 1, 2, ...
	ColdColumn Column
	Chip       string // of raw words, such as "MAX31855K"
}

// Column is a column of a printed line: its number from 1, or its label. The zero Column is none.
type Column struct {
	Number int
	Label  string
}

// Channel says where a channel of a Modbus module is.
type Channel struct {
	Number    int // 1 to 8
	Address   int // of the unit, 1 to 247
	Function  int // 3 or 4
	Register  int // wire address, 0 to 65535
	Type      string
	WordOrder string
	Scale     float64   // above 0; the register times this is the temperature
	Unit      temp.Unit // of that temperature
	Low, High temp.C    // what the module can measure
}

// Probe is a thermocouple.
type Probe struct {
	Name       string
	Board      string
	Channel    int // 1 to 8
	Use        Use
	Type       string // letter: B E J K N R S T
	Class      Class
	Fitted     Date // zero if the file does not say
	Note       string
	Correction *Correction // nil if the file has none
}

// Oven is an oven.
type Oven struct {
	Name   string
	Limit  temp.C
	Board  string // "" if no board takes its duty
	Heater bool   // its heat is ours to switch
	Fan    bool   // a fan moves its air
	Probes []string
	Gains  *Gains  // nil if the file has none
	Model  *Model  // nil if the file has none
	Output *Output // nil if the file has none
	Note   string
}

// Forge is a forge; its heat is never ours to switch.
type Forge struct {
	Name   string
	Limit  temp.C // 0 if the file has none
	Probes []string
	Note   string
}

// Gains are a loop's gains in the ISA standard form.
type Gains struct {
	Kp     float64 // duty from 0 to 1 per °C; above 0
	Ti     time.Duration
	Td     time.Duration // 0 for none
	Weight float64       // setpoint weight, 0 to 1
}

// Output says how an oven's heat is switched.
type Output struct {
	Contactor bool // or a solid-state relay
	// Of a contactor.
	Deadband          temp.Delta
	LeastOn, LeastOff time.Duration

	Window  time.Duration // of a solid-state relay; 0 if the file does not say
	MainsHz int           // 50 or 60; 0 if the file does not say
}

// Model is what is known of how an oven answers to duty.
type Model struct {
	// Either Rise and TimeConstant, or Slope alone: of an oven that was not seen to an end.
	Rise         temp.Delta    // above the room at full duty, in the end
	TimeConstant time.Duration // the longer one
	Slope        float64       // that full duty begins with once it acts, °C/s

	Second   time.Duration // 0 if the model has one time constant
	DeadTime time.Duration
	Hold     float64    // duty, 0 to 1, that held HoldAt; 0 if it was not seen
	HoldAt   temp.C     // only with Hold
	Noise    temp.Delta // standard deviation of one reading; 0 unknown

	// What a landing goes by, as the swings of a test near the setpoint show it; all of them or
	// none. And the lag that a start from cold showed; 0 if none did.
	SwingSlope float64 // °C/s for the whole duty
	SwingLag   time.Duration
	SwingDead  time.Duration
	StartLag   time.Duration
}

// Board gives the board of that name, nil if there is none.
func (s *Shop) Board(name string) *Board {
	return find(s.Boards, func(b *Board) bool { return b.Name == name })
}

// Probe gives the probe of that name, nil if there is none.
func (s *Shop) Probe(name string) *Probe {
	return find(s.Probes, func(p *Probe) bool { return p.Name == name })
}

// Oven gives the oven of that name, nil if there is none.
func (s *Shop) Oven(name string) *Oven {
	return find(s.Ovens, func(o *Oven) bool { return o.Name == name })
}

// Forge gives the forge of that name, nil if there is none.
func (s *Shop) Forge(name string) *Forge {
	return find(s.Forges, func(f *Forge) bool { return f.Name == name })
}

func find[T any](list []T, is func(*T) bool) *T {
	for i := range list {
		if is(&list[i]) {
			return &list[i]
		}
	}
	return nil
}
