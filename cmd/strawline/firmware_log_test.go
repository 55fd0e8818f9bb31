package main

import (
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/board"
	"strawline/probe/thermocouple"
)

// benchLog is what a bench wrote, in the order of time.
type benchLog struct {
	events []event
	lines  int // of the board
	stack  int
}

// event is a row: a line of the board or the host, the pin, a start of the processor or the oven.
type event struct {
	at    float64 // s
	kind  string
	rest  string
	frame board.Frame // of a board's line, or of a host's good one
}

func readLog(t *testing.T, text string) *benchLog {
	t.Helper()
	l := &benchLog{}
	for row := range strings.Lines(text) {
		w := strings.SplitN(strings.TrimSuffix(row, "\n"), " ", 3)
		require.Len(t, w, 3, row)
		at, err := strconv.ParseFloat(w[0], 64)
		require.NoError(t, err)
		e := event{at: at, kind: w[1], rest: w[2]}
		switch e.kind {
		case "<":
			// Lines that a restart cut short end at the empty line before the boot line.
			e.frame, err = board.Decode([]byte(e.rest + "\r\n"))
			if err != nil {
				require.True(t, l.restarting(at), "%s: %v", row, err)
			}
			l.lines++
		case ">":
			e.frame, _ = board.Decode([]byte(e.rest + "\r\n")) // bad ones are sent on purpose
		case "stack":
			l.stack, err = strconv.Atoi(e.rest)
			require.NoError(t, err)
		}
		l.events = append(l.events, e)
	}
	require.Positive(t, l.stack, "the log is whole")
	return l
}

// restarting reports whether the processor started less than 1.6 s before.
func (l *benchLog) restarting(at float64) bool {
	for i := len(l.events) - 1; i >= 0 && l.events[i].at > at-1.6; i-- {
		if l.events[i].kind == "start" {
			return true
		}
	}
	return false
}

// rules are what holds at every moment: whenever a reading is told the pin is low if a latch is
// set, the word was bad or passed the limit; and it is high only within 3 s of a new command
// above 0 that the board can have accepted, never before the first one after a start.
func (l *benchLog) rules(t *testing.T) {
	on, heated := false, 0.0
	commanded := -100.0
	limit := int16(0)
	for i, e := range l.events {
		if on && i > 0 {
			heated += e.at - l.events[i-1].at
		}
		switch e.kind {
		case "pin":
			on = e.rest == "1"
			require.True(t, !on || e.at-commanded <= dead, "%.6f: heat without a command", e.at)
		case "start":
			commanded = -100
		case "word": // of the guard channel, while a fault stands
			v, err := strconv.ParseUint(e.rest, 16, 32)
			require.NoError(t, err)
			if on && badWord(uint32(v)) {
				pin := slices.IndexFunc(l.events[i:], func(e event) bool { return e.kind == "pin" })
				require.Positive(t, pin, "%.6f: a bad word", e.at)
				require.Less(t, l.events[i+pin].at-e.at, 0.001, "%.6f: off in the same sample", e.at)
			}
		}
		switch f := e.frame.(type) {
		case board.Duty:
			if e.kind == ">" && f.PerMille > 0 {
				commanded = e.at
			}
		case board.Boot:
			limit = f.Stored.LimitQ
		case board.Propose:
			limit = min(limit, f.Stored.LimitQ)
			if f.Stored.LimitQ == usualQ {
				limit = usualQ
			}
		case board.Reading:
			bad := badWord(f.Raw)
			over := !bad && int16(int32(f.Raw)>>18) > limit
			require.False(t, on && (bad || over || f.Latches != 0), "%.6f: heat at %08X, latches %v",
				e.at, f.Raw, f.Latches)
		}
	}
	assert.Greater(t, heated, 60.0, "there was heat")
}

// badWord reports whether a word is a fault to the board, which does not know what temperatures a
// thermocouple can have.
func badWord(word uint32) bool {
	switch thermocouple.Read("MAX31855K", word).Fault {
	case probe.FaultNone, probe.FaultRange, probe.FaultColdJunction:
		return false
	}
	return true
}

// judge holds one trial to its times.
func (l *benchLog) judge(t *testing.T, tr trial) {
	before, since, off, latched, booted, last := false, 0.0, -1.0, -1.0, -1.0, 0.0
	var oven []float64
	for _, e := range l.events {
		if e.at < tr.at {
			switch e.kind {
			case "pin":
				before, since = e.rest == "1", e.at
			case ">":
				last = e.at // the last command that the board could take
			}
			continue
		}
		if e.at > tr.begin+tr.length-2 {
			break
		}
		switch e.kind {
		case "pin":
			// Wild words that look good are believed until something latches.
			require.False(t, e.rest == "1" && (tr.name != "wild" || latched > 0),
				"%s at %.4f: heat again at %.6f", tr.name, tr.at, e.at)
			if off < 0 {
				off = e.at
			}
		case "oven":
			v, err := strconv.ParseFloat(e.rest, 64)
			require.NoError(t, err)
			if off > 0 {
				oven = append(oven, v)
			}
		}
		switch f := e.frame.(type) {
		case board.Reading:
			if latched < 0 && f.Latches&tr.latch != 0 {
				latched = e.at
			}
		case board.Boot:
			booted = e.at
			require.Equal(t, tr.cause, f.Cause, "%s at %.4f", tr.name, tr.at)
		}
	}
	require.True(t, before && tr.at-since > 2, "%s at %.4f: the pin was high before", tr.name, tr.at)
	from := tr.at
	if tr.off == dead {
		from = last
	}
	require.Positive(t, off, "%s at %.4f: the pin stayed high", tr.name, tr.at)
	require.LessOrEqual(t, off-from, tr.off, "%s at %.4f", tr.name, tr.at)
	if tr.off == dead {
		require.GreaterOrEqual(t, off-from, 3.0, "%s at %.4f: too early", tr.name, tr.at)
	}
	if tr.latch != 0 {
		require.Positive(t, latched, "%s at %.4f: no latch", tr.name, tr.at)
		require.LessOrEqual(t, latched-from, tr.latchIn, "%s at %.4f", tr.name, tr.at)
	}
	require.Equal(t, tr.cause != 0, booted > 0, "%s at %.4f: restart", tr.name, tr.at)
	if tr.name == "ssr" {
		// The board has done what it can, and the oven goes on: only another switch ends that.
		require.Greater(t, len(oven), 2)
		require.Greater(t, oven[2], oven[0]+1)
	}
	t.Logf("%-11s at %9.4f s: pin low after %.6f s", tr.name, tr.at, off-from)
}
