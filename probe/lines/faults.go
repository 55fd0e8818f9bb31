package lines

import (
	"slices"
	"strings"

	"strawline/probe"
)

// isROM tells whether a line is what an ESP board's ROM prints at every start, or when it fails.
func isROM(line string) bool {
	for _, w := range []string{"rst:0x", "boot:0x", "load:0x", "entry 0x", "ets ", "configsip",
		"clk_drv", "mode:DIO", "mode:DOUT", "mode:QIO", "csum 0x", "tail ", "chksum", "ESP-ROM",
		"Saved PC", "SPIWP:", "Brownout", "Guru Meditation", "Backtrace:"} {
		if strings.HasPrefix(line, w) || len(w) > 5 && strings.Contains(line, w) {
			return true
		}
	}
	return false
}

// faultIn finds what a line in words says is wrong; FaultNone if it says nothing of the kind.
// Where it only says that something is, that is FaultRange: there is no reading.
func faultIn(line string) probe.Fault {
	low := strings.ToLower(line)
	has := func(list ...string) bool {
		return slices.ContainsFunc(list, func(w string) bool { return hasWord(low, w) })
	}
	if has("no fault", "no faults", "no error", "no errors", "faults: none", "fault: none",
		"error: none", "fault: no", "fault: ok", "error: ok", "fault: 0", "error: 0") {
		return probe.FaultNone
	}
	short := has("short", "shorted", "shortcircuit", "short-circuit", "scg", "scv")
	failed := has("fault", "faults", "faulty", "error", "err", "fail", "failed", "failure",
		"wrong", "bad", "invalid")
	switch {
	case has("open", "oc", "broken", "unplugged", "open-circuit") && !has("opening"),
		has("check wiring", "not connected", "disconnected", "disconnect", "no probe",
			"no thermocouple"):
		return probe.FaultOpen
	case short && has("vcc", "supply", "vdd", "3v3", "scv"), failed && has("vcc", "vdd"):
		return probe.FaultShortSupply
	case short && has("gnd", "ground", "scg"), failed && has("gnd", "ground"), short:
		return probe.FaultShortGround
	case has("not found", "missing", "no chip", "no sensor", "not detected", "no response",
		"not responding", "could not find", "couldn't find"):
		return probe.FaultNoChip
	case failed, has("out of range", "over range", "under range", "overrange", "underrange",
		"over temperature", "nan", "ovf", "null", "n/a", "no reading", "cold junction range"):
		return probe.FaultRange
	}
	return probe.FaultNone
}

// hasWord tells whether w stands in s between things that are no letters.
func hasWord(s, w string) bool {
	for from := 0; ; {
		i := strings.Index(s[from:], w)
		if i < 0 {
			return false
		}
		i += from
		end := i + len(w)
		if (i == 0 || !isAlnum(s[i-1])) && (end == len(s) || !isAlnum(s[end])) {
			return true
		}
		from = i + 1
	}
}

// faultLabels calls do for each word for a fault that names a value, as in "fault": "open" or
// err=3, with where the word begins, and where its value begins and ends.
func faultLabels(text string, do func(from, value, end int)) {
	low := strings.Map(func(r rune) rune { // of the same length, as ToLower need not be
		if r >= 'A' && r <= 'Z' {
			return r + 'a' - 'A'
		}
		return r
	}, text)
	if len(low) != len(text) {
		return // bytes that are no text
	}
	for i := 0; i < len(low); i++ {
		if !isLetter(low[i]) || i > 0 && isAlnum(low[i-1]) {
			continue
		}
		end := i
		for end < len(low) && isAlnum(low[end]) {
			end++
		}
		if guessOf(low[i:end]) != faultWord {
			continue
		}
		at := len(low) - len(strings.TrimLeft(low[end:], "\" '"))
		if at == len(low) || low[at] != ':' && low[at] != '=' {
			continue
		}
		stop := strings.IndexAny(low[at:], ",;}|")
		if stop < 0 {
			stop = len(low) - at
		}
		do(i, at+1, at+stop)
	}
}

// faultSaid gives the fault that a kind of line names as the value of a word for one, such as
// "fault": "open". A kind with a number there says nothing: the number does.
func faultSaid(text string) probe.Fault {
	f := probe.FaultNone
	faultLabels(text, func(_, value, end int) {
		if f == probe.FaultNone {
			f = faultIn(text[value:end])
		}
	})
	return f
}

// faultAlone gives the fault that a line speaks of other than by the name of a value.
func faultAlone(text string) probe.Fault {
	b := []byte(text)
	faultLabels(text, func(from, value, _ int) {
		for i := from; i < value; i++ {
			b[i] = ' '
		}
	})
	return faultIn(string(b))
}
