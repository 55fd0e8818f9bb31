package board

import "strawline/probe"

// Version of the line protocol.
const Version = 1

// MaxLine is the longest line in bytes, the checksum and the line end left out.
const MaxLine = 96 - len("*FFFF\r\n")

// Frame is one line's meaning: Boot, Info, Reading, Ack, Duty, Query, Propose, Commit or Reset.
type Frame interface{ kind() byte }

// Boot is the board's first line after every start.
type Boot struct{ About }

// Info is the same, said in answer to a Query; it follows that Query's Ack.
type Info struct{ About }

// About is what a board says of itself.
type About struct {
	Version  uint8
	Name     string // 1 to 16 of A-Z a-z 0-9 and -
	Boot     uint16 // number of this start, wraps
	Cause    Cause
	Chip     string // as Name
	Channels uint8  // 1 to 8
	CeilingQ int16  // highest limit compiled in, quarter degrees of the chip's own scale
	Stored   Stored
	Latches  probe.Latch
}

// Stored are the settings that survive a power cut.
type Stored struct {
	Guard   uint8 // 1 to Channels
	LimitQ  int16 // high limit, quarter degrees of the chip's own scale
	WindowS uint8 // 2 to 60
	MainsHz uint8 // 50 or 60
}

// Cause is why the board started.
type Cause byte

// The causes, as the letters of the line.
const (
	CausePower    Cause = 'P'
	CauseReset    Cause = 'R' // the reset line, which opening the port pulls on most boards
	CauseWatchdog Cause = 'W'
	CauseBrownOut Cause = 'B'
)

// Reading is one channel's raw word, and the board's answer to the last command.
type Reading struct {
	Seq      uint16
	Millis   uint32 // since the board started, wraps
	Channel  uint8  // 1 to 8
	Raw      uint32
	Latches  probe.Latch
	Accepted uint16 // number of the last accepted command
	Refused  uint8  // lines refused since the last reading, 255 if more
}

// Ack answers Query, Propose, Commit and Reset (never Duty: the readings do).
type Ack struct {
	Seq     uint16 // of the line it answers
	Of      byte   // that line's letter
	Result  Result
	Latches probe.Latch
}

// Result is what became of a line.
type Result byte

// The results, as the letters of the line.
const (
	ResultDone    Result = 'Y'
	ResultHeating Result = 'H' // refused: duty is above 0
	ResultRange   Result = 'R' // refused: a value is out of its range
	ResultCheck   Result = 'C' // refused: the second step does not match the first
	ResultStands  Result = 'L' // refused: the cause of a latch still stands
)

// Duty commands the heater.
type Duty struct {
	Seq      uint16
	PerMille uint16 // 0 to 1000
}

// Query asks for Ack and Info, and sets the start of the numbering to its own number.
type Query struct{ Seq uint16 }

// Propose is the first step of changing the stored settings.
type Propose struct {
	Seq    uint16
	Stored Stored
}

// Commit is the second step: it repeats the checksum of the Propose line.
type Commit struct {
	Seq   uint16
	Check uint16
}

// Reset asks the board to clear the latches whose cause is gone.
type Reset struct{ Seq uint16 }

func (Boot) kind() byte    { return 'B' }
func (Info) kind() byte    { return 'I' }
func (Reading) kind() byte { return 'R' }
func (Ack) kind() byte     { return 'A' }
func (Duty) kind() byte    { return 'D' }
func (Query) kind() byte   { return 'Q' }
func (Propose) kind() byte { return 'P' }
func (Commit) kind() byte  { return 'C' }
func (Reset) kind() byte   { return 'X' }
