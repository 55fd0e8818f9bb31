// Package alarm holds the alarms: one table that declares each of them, and one state machine
// that all of them go through. An alarm marks what is not normal AND needs someone to act;
// whatever needs no action is an event and not here.
//
// The states and their letters are those of ISA-18.2, from memory and from two open
// descriptions of it; testdata/alarm/transitions.csv has each transition with its source, and
// the tests hold the machine to that table in both directions. Nothing here makes the program
// conform to any standard.
//
//	A normal          C stands, acknowledged       E latched, not acknowledged   G shelved
//	B stands          D gone, not acknowledged     F latched, acknowledged       H suppressed
//	  unacknowledged                                                             I out of service
//
// Time and conditions come in as data: nothing here asks a clock, and States belong to whoever
// made them. The functions change the States they are given and return what changed.
package alarm

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// What a table may hold. Our choices.
const (
	Most     = 16  // alarms in a table; ten were not enough for faults that want different acts
	MostWord = 12  // letters of a Word, so that it can be drawn large
	MostText = 100 // letters of a Cause, a Consequence or a Do, so that it fits a line
)

// Declaration says what one alarm is and how it behaves.
type Declaration struct {
	Code        string        // its name in files: lower case with dashes, unique in the table
	Word        string        // for across the shop: upper case, at most MostWord letters
	Cause       string        // what is not normal, in one line
	Consequence string        // what happens if nobody acts, in one line
	Do          string        // what to do, in one line
	High        bool          // of the higher of two priorities: heat or the steel is at stake
	OnDelay     time.Duration // how long the condition must stand before it raises the alarm
	OffDelay    time.Duration // how long it must be gone before the alarm takes notice
	Realarm     time.Duration // acknowledged and standing this long, it announces again; 0 never
	Latching    bool          // stays after the condition has gone until acknowledged and reset
	NeedsAck    bool          // a person must say that it was seen
	Hidable     bool          // may be shelved, suppressed or taken out of service
	DependsOn   []string      // codes further up; while one of them stands, this one rests
}

// canHide is Hidable where it may be: never for an alarm that latches, whose latch would be
// lost on the way back, nor for one of high priority.
func (d *Declaration) canHide() bool { return d.Hidable && !d.Latching && !d.High }

// Table is all alarms, in the order of the States and conditions that go with it.
type Table []Declaration

// Index gives the place of a code, -1 if there is none.
func (t Table) Index(code string) int {
	for i := range t {
		if t[i].Code == code {
			return i
		}
	}
	return -1
}

// Check gives nil if the table is sound, or else every fault of it, each with its code.
func (t Table) Check() error {
	var faults []error
	if len(t) == 0 || len(t) > Most {
		faults = append(faults, fmt.Errorf("alarm: %d alarms, where 1 to %d may be", len(t), Most))
	}
	for i := range t {
		for _, why := range t.faults(i) {
			faults = append(faults, fmt.Errorf("alarm %q: %s", t[i].Code, why))
		}
	}
	return errors.Join(faults...)
}

// faults gives what is wrong with the row at i.
func (t Table) faults(i int) []string {
	d := &t[i]
	var why []string
	bad := func(is bool, what string) {
		if is {
			why = append(why, what)
		}
	}
	bad(!only(d.Code, "abcdefghijklmnopqrstuvwxyz-", 40), "the code must be lower case and dashes")
	bad(t.Index(d.Code) != i, "the code is there twice")
	bad(!only(d.Word, "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 -", MostWord),
		"the word must be short and upper case")
	bad(!line(d.Cause), "the cause must be one line")
	bad(!line(d.Consequence), "the consequence must be one line")
	bad(!line(d.Do), "what to do must be one line")
	bad(d.OnDelay < 0 || d.OffDelay < 0 || d.Realarm < 0, "a delay is below zero")
	bad(d.Realarm > 0 && !d.NeedsAck, "it announces again without needing an acknowledgement")
	bad(d.Latching && !d.NeedsAck, "it latches without needing an acknowledgement")
	bad(d.Hidable && d.Latching, "it latches and can be hidden, which would lose the latch")
	bad(d.Hidable && d.High, "it has high priority and can be hidden")
	bad(d.Latching && len(d.DependsOn) > 0, "it latches and rests while another stands")
	for _, code := range d.DependsOn {
		at := t.Index(code)
		bad(at < 0 || at >= i, "it depends on "+code+", which is not further up")
		bad(at >= 0 && t[at].Hidable, "it depends on "+code+", which can be hidden")
	}
	return why
}

func only(s, letters string, most int) bool {
	outside := func(r rune) bool { return !strings.ContainsRune(letters, r) }
	return s != "" && len(s) <= most && !strings.ContainsFunc(s, outside)
}

func line(s string) bool {
	control := func(r rune) bool { return r < ' ' }
	return strings.TrimSpace(s) == s && s != "" && len(s) <= MostText &&
		!slices.ContainsFunc([]rune(s), control)
}
