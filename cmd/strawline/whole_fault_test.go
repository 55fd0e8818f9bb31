//go:build linux || darwin

package main

import (
	"math"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A fault's time counts from the start of the simulated shop, the run's clock from the first
// reading of a board that has proved itself. Between them lie its boot (1.5 s), and a few
// looks of a quarter second.
const mostBoot = 3.0

// faulty runs a demo of the small knife with a fault and gives what it told and its run file.
// What the live run printed is what the replay prints.
func faulty(t *testing.T, code int, fault, person string) *tape {
	t.Helper()
	p := newWholePerson(t)
	path := filepath.Join(p.home, "run.jsonl")
	g := p.pipes("demo", "--plain", "--pace", "max", "--seed", "7", "--fault", fault,
		"--person", person, "--out", path)
	require.Equal(t, code, g.code, "%s%s", g.out, g.bad)
	if code == exitTemporary {
		assert.Regexp(t, `^strawline: demo: run small-knife: ended \w+: [^\n]+\n$`, g.bad)
	} else {
		assert.Empty(t, g.bad)
	}
	p.replays("run.jsonl", g.out)
	f := readWhole(t, path)
	f.creditKept()
	return f
}

// away says that a run with a trip at some time was ended by nobody's coming: heat off from
// the trip to the end.
func (f *tape) away(trip recorded) {
	f.t.Helper()
	f.heated(0, trip.T)
	f.noHeat(trip.T, f.end())
	end := f.one("end")
	assert.Equal(f.t, "tripped", end.Word)
	assert.InDelta(f.t, trip.T+600, end.T, 5, "the simulated person stays away for 10 minutes")
	assert.Empty(f.t, f.events("go on"))
}

// cooled says that the oven itself, not only the record of the duty, shows no heat: from one
// time to another its temperature falls by at least so many °C.
func (f *tape) cooled(from, to, by float64) {
	f.t.Helper()
	first, last := math.NaN(), math.NaN()
	for _, s := range f.samples(from, to) {
		if s.T1 == nil {
			continue
		}
		if math.IsNaN(first) {
			first = *s.T1
		}
		last = *s.T1
	}
	assert.Less(f.t, last, first-by, "the oven cools from %.0f to %.0f s", from, to)
}

// wentOn says that after a trip heat stayed off until the person went on, that the board's
// latches were reset before, and that the run then ended done.
func (f *tape) wentOn(trip recorded) {
	f.t.Helper()
	on := f.one("go on")
	f.noHeat(trip.T, on.T-0.25)
	f.heated(on.T, f.end())
	reset := f.one("reset")
	assert.Less(f.t, reset.T, on.T)
	assert.InDelta(f.t, trip.T+120, reset.T, 5, "the simulated person goes on after 2 minutes")
	f.done()
	f.soaks()
}

// alarms gives the times at which an alarm became new.
func (f *tape) alarms(code string) []float64 {
	var at []float64
	for _, e := range f.events("alarm") {
		if e.Code == code && e.Word == "B" {
			at = append(at, e.T)
		}
	}
	return at
}

func TestShortedSSR(t *testing.T) {
	t.Parallel()
	f := faulty(t, exitTemporary, "ssr-short@40m", "away")
	trip := f.one("trip")
	assert.Contains(t, trip.Text, "above the limit")
	assert.Greater(t, trip.T, 2400-mostBoot)
	f.away(trip)
	const limitF = 450.0 // the profile's
	for _, s := range f.samples(2400-mostBoot, f.end()) {
		if s.T1 != nil && *s.T1 > (limitF-32)/1.8+1 {
			assert.Greater(t, s.T, trip.T-1, "the trip is not late")
			break
		}
	}
	assert.NotEmpty(t, f.alarms("over-temperature"))
	// The relay is stuck: nothing that the host says cools the oven, and the board's own limit,
	// higher than the profile's, latches as well.
	latched := f.one("latch")
	assert.Equal(t, "high limit", latched.Word)
	assert.Greater(t, latched.T, trip.T)
}

func TestShortedSSRNeverGoesOn(t *testing.T) {
	t.Parallel()
	f := faulty(t, exitTemporary, "ssr-short@40m", "goes-on")
	trip := f.one("trip")
	assert.Empty(t, f.events("go on"), "above the limit nobody goes on")
	f.noHeat(trip.T, f.end())
	assert.Equal(t, "late", f.one("end").Word)
	refused := 0
	for _, a := range f.events("ask") {
		if a.Word == "refused" {
			refused++
		}
	}
	assert.Positive(t, refused)
}

// openBits are those of a MAX31855 word with an open thermocouple: the fault bit D16 and D0
// (MAX31855 data sheet, table 2).
const openBits = 1<<16 | 1

func TestOpenProbe(t *testing.T) {
	t.Parallel()
	for _, person := range []string{"away", "goes-on"} {
		code := exitTemporary
		if person == "goes-on" {
			code = exitOK
		}
		f := faulty(t, code, "open@40m", person)
		fault := 0.0
		for _, s := range f.samples(0, f.end()) {
			word, err := strconv.ParseUint(s.Raw, 16, 32)
			if err == nil && word&openBits == openBits {
				fault = s.T
				break
			}
		}
		require.InDelta(t, 2400-mostBoot/2, fault, mostBoot/2, "the chip's first word with a fault")
		off := -1.0
		for _, s := range f.samples(fault-1, fault+5) {
			if *s.Duty == 0 {
				off = s.T
				break
			}
		}
		require.GreaterOrEqual(t, off, 0.0)
		assert.LessOrEqual(t, off, fault+0.25, "heat off with the first bad word, well within a second")
		trip := f.one("trip")
		f.noHeat(off, trip.T)
		assert.Contains(t, trip.Text, "open")
		assert.InDelta(t, fault, trip.T, 10)
		assert.Contains(t, f.events("latch")[0].Word, "open")
		assert.NotEmpty(t, f.alarms("no-reading"))
		for _, s := range f.samples(fault, fault+55) {
			require.Nil(t, s.T1, "no figure is made up at %.2f s", s.T)
		}
		if person == "away" {
			f.away(trip)
			f.cooled(trip.T+120, f.end(), 30)
		} else {
			f.wentOn(trip)
		}
	}
}

func TestHostSilent(t *testing.T) {
	t.Parallel()
	for _, person := range []string{"away", "goes-on"} {
		code := exitTemporary
		if person == "goes-on" {
			code = exitOK
		}
		f := faulty(t, code, "host-silent@40m", person)
		latch := f.events("latch")[0]
		assert.Equal(t, "host silent", latch.Word)
		// The board waits for 3 s from the last command that came, which is at most 1 s older
		// than the silence.
		assert.Greater(t, latch.T, 2400-mostBoot+2-0.5)
		assert.Less(t, latch.T, 2400+3.5)
		trip := f.one("trip")
		assert.Contains(t, trip.Text, "host silent")
		assert.InDelta(t, latch.T, trip.T, 0.5)
		if person == "away" {
			f.away(trip)
			f.cooled(trip.T+120, f.end(), 30)
		} else {
			f.wentOn(trip)
		}
	}
}

func TestUnplugged(t *testing.T) {
	t.Parallel()
	f := faulty(t, exitOK, "unplug@1h", "goes-on")
	var gone, back recorded
	for _, e := range f.events("link") {
		switch {
		case gone.Word == "" && e.Word != "up":
			gone = e
		case gone.Word != "" && back.Word == "" && e.Word == "up":
			back = e
		}
	}
	require.InDelta(t, 3600-mostBoot/2, gone.T, mostBoot/2+0.5)
	assert.InDelta(t, gone.T+20, back.T, 5, "the cable is out for 20 s, then the board boots")
	on := f.one("go on")
	f.noHeat(gone.T, on.T-0.25)
	f.cooled(gone.T-1, on.T, 10)
	gap := f.one("gap")
	assert.GreaterOrEqual(t, gap.T, back.T)
	require.NotNil(t, gap.SpanS)
	assert.InDelta(t, back.T-gone.T, *gap.SpanS, 3)
	at := f.alarms("board-silent")
	require.NotEmpty(t, at)
	assert.InDelta(t, gone.T, at[0], 3)
	for _, s := range f.samples(gone.T+2, back.T-0.25) {
		require.Nil(t, s.T1, "no figure is made up at %.2f s", s.T)
	}
	credit := func(from, to float64) (last float64) {
		for _, s := range f.samples(from, to) {
			if s.Soak != nil {
				last = *s.Soak
			}
		}
		return last
	}
	kept := credit(gone.T-10, gone.T)
	assert.Greater(t, kept, 600.0)
	assert.InDelta(t, kept, credit(gone.T, back.T), 0.5, "no credit while nothing was read")
	f.wentOn(f.events("trip")[0])
	assert.Len(t, f.events("trip"), 1)
}

func TestBoardRestarts(t *testing.T) {
	t.Parallel()
	f := faulty(t, exitOK, "restart@1h", "goes-on")
	trip := f.one("trip")
	assert.Contains(t, trip.Text, "restarted")
	assert.InDelta(t, 3600, trip.T, mostBoot)
	assert.Contains(t, f.one("board").Text, "watchdog")
	f.wentOn(trip)
	f = faulty(t, exitTemporary, "restart@1h", "away")
	f.away(trip)
	f.cooled(trip.T+120, f.end(), 30)
}

// TestGarbage: three seconds of a noisy line are a doubt; it passes by itself, because no
// reading that a checksum does not prove is used, and the board goes on hearing the host.
func TestGarbage(t *testing.T) {
	t.Parallel()
	f := faulty(t, exitOK, "garbage@1h", "goes-on")
	assert.Empty(t, f.events("trip"))
	doubt, clear := f.one("doubt"), f.one("clear")
	assert.InDelta(t, 3600, doubt.T, mostBoot+1)
	assert.Less(t, clear.T-doubt.T, 10.0)
	f.noHeat(doubt.T, clear.T-0.25)
	f.heated(clear.T, clear.T+120)
	f.one("gap")
	f.done()
	f.soaks()
	last := -1.0
	for _, s := range f.samples(3500, 3700) {
		if s.T1 == nil {
			continue
		}
		if last > 0 {
			require.InDelta(t, last, *s.T1, 5, "no garbage becomes a temperature, %.2f s", s.T)
		}
		last = *s.T1
	}
}

// TestDoor: an open door is no fault of the probe or the board. The air falls, the soak's
// clock may stop, nothing trips and the soak still has its two hours in band.
func TestDoor(t *testing.T) {
	t.Parallel()
	f := faulty(t, exitOK, "door@1h", "goes-on")
	assert.Empty(t, f.events("trip"))
	f.done()
	f.soaks()
	lowest, before := 1000.0, 0.0
	for _, s := range f.samples(3600-30, 3600+60) {
		if s.T1 == nil {
			continue
		}
		if s.T < 3600-mostBoot {
			before = *s.T1
		}
		lowest = min(lowest, *s.T1)
	}
	assert.Less(t, lowest, before-5, "the probe has seen the door")
}
