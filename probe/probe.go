// Package probe has the values that a thermocouple board gives: a Reading of one
// channel, the Fault that can stand in its place, the board's latches and settings,
// and the state of the link to it. It does no input or output.
package probe

import (
	"strings"
	"time"

	"strawline/probe/temp"
)

// Fault says why a reading has no temperature; FaultNone means that it has one.
type Fault uint8

// The faults that a chip or its decoding can report.
const (
	FaultNone         Fault = iota
	FaultOpen               // the thermocouple is open
	FaultShortGround        // it touches ground
	FaultShortSupply        // it touches the supply
	FaultNoChip             // all zeros, all ones or a reserved bit set: no chip answers
	FaultRange              // outside what the thermocouple or the chip can measure
	FaultColdJunction       // the cold junction is outside what the chip can measure
)

var faultWords = [...]string{"", "open", "short to ground", "short to supply", "no chip",
	"out of range", "cold junction out of range"}

// String gives the fault's word, "" for FaultNone.
func (f Fault) String() string {
	if int(f) < len(faultWords) {
		return faultWords[f]
	}
	return "unknown fault"
}

// Latch is the set of a board's latches: each holds the heater off until a person resets it.
type Latch uint8

// The latches of the board's line protocol.
const (
	LatchOpen        Latch = 1 << iota // guard channel open
	LatchShortGround                   // guard channel shorted to ground
	LatchShortSupply                   // guard channel shorted to supply
	LatchNoChip                        // guard channel's chip absent
	LatchHighLimit                     // guard channel above the stored high limit
	LatchHostSilent                    // no valid new command for 3 s while heat was commanded
	LatchConfig                        // stored settings unreadable
)

// AllLatches has every defined bit.
const AllLatches = LatchConfig<<1 - 1

var latchWords = [...]string{"open", "short to ground", "short to supply", "chip absent",
	"high limit", "host silent", "configuration"}

// Words names each latch that is set, in the protocol's order.
func (l Latch) Words() []string {
	var w []string
	for i, s := range latchWords {
		if l&(1<<i) != 0 {
			w = append(w, s)
		}
	}
	return w
}

// String joins the names with a comma; "none" if no latch is set.
func (l Latch) String() string {
	if l == 0 {
		return "none"
	}
	return strings.Join(l.Words(), ", ")
}

// Reading is what one channel said once. On a board of our protocol it is also the board's
// answer: it carries the latches and the number of the last command that was accepted.
type Reading struct {
	At      time.Duration // when its line was whole, on the host's monotonic clock
	Channel int           // 1 to 8
	Hot     temp.C        // measured junction, linearised; only with FaultNone
	Cold    temp.C        // cold junction; only with FaultNone and HasCold
	HasCold bool          // the board says its cold junction
	Fault   Fault
	// Raw is the chip's word as it came. A board that gives numbers instead has the registers'
	// bytes here, or the printed temperature in °C as an IEEE 754 single.
	Raw      uint32
	Seq      uint16 // the board's running number, wraps
	Latches  Latch
	Accepted uint16 // number of the last command that the board accepted
	Refused  uint16 // corrupt lines and replays it refused since the last reading
}

// Good reports whether the reading carries a temperature.
func (r Reading) Good() bool { return r.Fault == FaultNone }

// Settings are what a board keeps through a power cut.
type Settings struct {
	Guard   int           // the heater's guard channel, 1 to 8
	Limit   temp.C        // high limit as a true temperature at a 25 °C cold junction
	LimitQ  int16         // the same as the chip counts it, quarter degrees of its straight line
	Window  time.Duration // duty window, 2 to 60 s
	MainsHz int           // 50 or 60
}

// Board is what a board says of itself when it starts or is asked.
type Board struct {
	Version  int    // of the line protocol
	Name     string // letters, digits and dashes
	Boot     uint16 // number of this start
	Cause    string // of this start: "power", "reset", "watchdog", "brown-out"
	Chip     string // such as "MAX31855K"
	Channels int
	Ceiling  temp.C // highest limit compiled in, as a true temperature
	CeilingQ int16  // the same in the chip's quarter degrees
	Settings Settings
	Latches  Latch
}

// LinkState is what a person would say of the cable.
type LinkState uint8

// The states, each told once when it begins.
const (
	LinkClosed  LinkState = iota // not opened yet, or closed by us
	LinkMissing                  // no such port
	LinkBusy                     // someone else has it
	LinkDenied                   // no right to open it
	LinkNotPort                  // it is not a serial port
	LinkWaiting                  // open, no good line yet
	LinkUp                       // good lines come
	LinkSilent                   // open, good lines have stopped
	LinkGone                     // it vanished while open
	LinkOther                    // not the board or the adapter that was there first
)

var linkWords = [...]string{"closed", "missing", "busy", "forbidden", "not a port", "waiting",
	"up", "silent", "gone", "another board"}

// String gives the state's word.
func (s LinkState) String() string {
	if int(s) < len(linkWords) {
		return linkWords[s]
	}
	return "unknown"
}

// Link is the state of a port and of the board behind it.
type Link struct {
	State LinkState
	Since time.Duration // when the state began
	Board *Board        // what it said since it last started or fell silent; nil if nothing
	Heats bool          // it proved since then that it speaks our protocol: duty may go to it
	Bad   uint64        // lines that were no frame since the port was opened
	Other string        // with LinkOther: what was found, and in the place of what, in one line
	// Interval is the learnt time between two readings of a channel on a board that takes no
	// duty; 0 on a board of our protocol, or while it is not known.
	Interval time.Duration
}

// Batch is what a port saw between two looks. Nothing in it is ever a guess.
type Batch struct {
	Readings []Reading
	Boots    []Board // each start of the board seen, in order
	Acks     []Ack   // what became of a person's requests, each once
	Link     Link
	Notes    []string // what did not become a reading, in one line each
}

// Ack says what became of one request of a person to a board.
type Ack struct {
	Of  string // what was asked: port.OfReset or port.OfSettings
	Why string // why it was not done, in a person's words; "" if it was
}
