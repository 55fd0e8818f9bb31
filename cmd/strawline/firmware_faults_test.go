package main

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/board"
)

// The limits of the scripts in quarter degrees of the MAX31855K's line: the usual one, and
// that of the shorted relay, 146 °C on that line.
const (
	usualQ = 1027
	shortQ = 584
)

// trial is one fault in a script and what must come of it.
type trial struct {
	name  string
	words string  // of the script, at the fault
	after string  // 20 s later
	off   float64 // s from the fault to the pin being low
	latch probe.Latch
	latchIn,
	length float64 // s, from the fault to the latch; of the trial
	cause board.Cause // of the restart that it makes

	begin, at float64 // s, of the run
}

// A conversion comes every 250 ms and takes less than 1 ms with what follows; the dead man is at
// 3 s on ticks of 10 ms and began with a line that took 5 ms; the watchdog's second is 2^17 cycles
// of its 128 kHz clock, 1.024 s, and it may be fed once more within 5 ms of a fault.
const (
	sample   = 0.252
	dead     = 3.016
	watchdog = 1.024 + 0.005
)

// trials gives every fault once.
func trials(round int) []trial {
	chip := func(name string, latch probe.Latch) trial {
		return trial{name: name, words: "fault " + name, after: "fault none", off: sample,
			latch: latch, latchIn: 0.75 + sample + 0.02}
	}
	host := func(name string) trial {
		return trial{name: name, words: name, after: "heat 1000", off: dead,
			latch: probe.LatchHostSilent, latchIn: dead + sample + 0.02}
	}
	lockup := trial{name: "lockup", words: "lockup", after: "query", off: watchdog,
		cause: board.CauseWatchdog}
	clock := lockup
	clock.name, clock.words = "clock", "stop-clock"
	if round%2 == 1 {
		lockup.words = "lockup deaf"
	}
	return []trial{
		chip("open", probe.LatchOpen), chip("ground", probe.LatchShortGround),
		chip("supply", probe.LatchShortSupply), chip("stuck0", probe.LatchNoChip),
		chip("stuck1", probe.LatchNoChip),
		// A word that is wild but looks good, about 1 in 64, is believed: three in a row are not.
		{name: "wild", words: "fault wild", after: "fault none", off: 3 * sample,
			latch: probe.AllLatches &^ probe.LatchHostSilent, latchIn: 5},
		{name: "ssr", words: "fault ssr 150", off: 140, latch: probe.LatchHighLimit,
			latchIn: 140 + sample, length: 400},
		host("silent"), host("badcrc 1000"), host("replay"), host("number 9"), lockup, clock,
		{name: "reset", words: "dtr", after: "query", off: 0.001, cause: board.CauseReset},
	}
}

// script writes a script of so many rounds, each trial so many seconds long; the seed moves the
// faults against the board's ticks.
func script(rounds int, each float64, seed uint64) (text string, list []trial, seconds float64) {
	r := rand.New(rand.NewPCG(seed, 7))
	var s strings.Builder
	row := func(at float64, words string) { fmt.Fprintf(&s, "%.4f %s\n", at, words) }
	at := 3.0
	for round := range rounds {
		mains := 50 + 10*(int(seed%2)+round)%20
		row(at, "query")
		row(at+0.3, fmt.Sprintf("settings 1 %d 2 %d", usualQ, mains))
		at += 2
		for _, tr := range trials(round) {
			if tr.length == 0 {
				tr.length = each
			}
			tr.begin = at
			row(at, "query") // after lines that the board has refused
			row(at+0.3, "clear")
			row(at+1, "heat 200")
			if tr.name == "ssr" {
				row(at+1.5, "heat 0")
				row(at+2, fmt.Sprintf("settings 1 %d 2 %d", shortQ, mains))
				row(at+3, "heat 200")
				row(at+3, "door 1") // so that it is far from the limit
				row(at+each/2-6, "door 0")
			}
			tr.at = at + each/2 + r.Float64()
			tr.at = float64(int(tr.at*1e4)) / 1e4
			row(tr.at-4-r.Float64(), "heat 1000")
			row(tr.at, tr.words)
			end := at + tr.length
			if tr.name == "ssr" {
				row(end-11, "silent")
				row(end-10, fmt.Sprintf("settings 1 %d 2 %d", usualQ, mains))
			} else {
				row(min(tr.at+20, end-2), tr.after)
			}
			row(end-1, "silent")
			list = append(list, tr)
			at = end
		}
	}
	return s.String(), list, at + 1
}

// firmwareFaults runs every fault, twice over, and wants the same bytes; the second run is beside
// the first. STRAWLINE_CI makes it 2 simulated hours; STRAWLINE_PART is the seed.
func firmwareFaults(t *testing.T, b bench) {
	rounds, each, seed := 1, 40.0, uint64(0)
	if os.Getenv("STRAWLINE_CI") == "1" {
		rounds, each = 2, 247
	}
	if s := os.Getenv("STRAWLINE_PART"); s != "" {
		var err error
		seed, err = strconv.ParseUint(s, 10, 32)
		require.NoError(t, err)
	}
	text, list, seconds := script(rounds, each, seed)
	dir := t.TempDir()
	file := filepath.Join(dir, "script")
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	var logs [2]bytes.Buffer
	var runs [2]*exec.Cmd
	for i := range runs {
		runs[i] = exec.Command(b.program, b.firmware, "--seed", strconv.FormatUint(seed, 10),
			"--script", file, "--for", fmt.Sprint(seconds))
		runs[i].Stdout = &logs[i]
		require.NoError(t, runs[i].Start())
	}
	for _, run := range runs {
		require.NoError(t, run.Wait())
	}
	require.Equal(t, sha256.Sum256(logs[0].Bytes()), sha256.Sum256(logs[1].Bytes()), "twice the same")
	l := readLog(t, logs[0].String())
	l.rules(t)
	for _, tr := range list {
		l.judge(t, tr)
	}
	assert.LessOrEqual(t, l.stack, b.stack, "the stack's bound holds")
	t.Logf("%.0f simulated seconds, %d faults, %d lines of the board, stack %d of at most %d",
		seconds, len(list), l.lines, l.stack, b.stack)
}
