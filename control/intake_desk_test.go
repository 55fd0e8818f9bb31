package control

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/temp"
	"strawline/profiles"
)

// desk feeds an engine reading by reading: there is no oven and no filter, and the only clock is
// the test's. Its keeper's clock stands at an hour when the run begins.
type desk struct {
	t    testing.TB
	e    *Engine
	now  time.Duration // on the run's clock
	link probe.Link
	out  Output
	evs  []Event
	word uint32
	on   bool // it has stepped
}

const deskBegan = time.Hour

// newDesk has a run that soaks at 200 °C from its first step, the limit at 240 °C.
func newDesk(t testing.TB, change func(*Info)) *desk {
	t.Helper()
	info := testInfo(profiles.Profile{Name: "t", Unit: temp.Celsius, Limit: 240,
		Longest: 100 * time.Hour,
		Steps:   []profiles.Step{{Kind: profiles.Soak, To: 200, For: 50 * time.Hour, Band: 5}}})
	info.Blade = nil
	if change != nil {
		change(&info)
	}
	cfg := belief.Default()
	cfg.Tf, cfg.Window = 0, 1 // what is read is what is believed
	e, err := New(Config{Info: info, Belief: cfg})
	require.NoError(t, err)
	return &desk{t: t, e: e, link: probe.Link{State: probe.LinkUp, Heats: true}}
}

// reader makes a run of one whose heat is the person's, on a board that says what it reads once
// in an interval.
func readerDesk(t testing.TB, interval time.Duration, channels ...string) *desk {
	t.Helper()
	d := newDesk(t, func(i *Info) {
		i.Shop.NoHeater = true
		if len(channels) > 0 {
			i.Shop.Channels = channels
		}
	})
	d.link.Heats, d.link.Interval = false, interval
	return d
}

// hot is a reading of channel 1 at this moment.
func hot(c temp.C) probe.Reading { return probe.Reading{Channel: 1, Hot: c, Cold: 22, HasCold: true} }

func open() probe.Reading { return probe.Reading{Channel: 1, Fault: probe.FaultOpen} }

func of(channel int, r probe.Reading) probe.Reading { r.Channel = channel; return r }

func latched(r probe.Reading, l probe.Latch) probe.Reading { r.Latches = l; return r }

// batch is a step after dt in which this came; the first is the run's beginning. What a reading
// has as its time is how long before now it was.
func (d *desk) batch(dt time.Duration, b probe.Batch, asks ...Ask) {
	if d.on {
		d.now += dt
	}
	d.on, b.Link = true, d.link
	for i := range b.Readings {
		d.word++
		b.Readings[i].At = deskBegan + d.now - b.Readings[i].At
		b.Readings[i].Raw = d.word
	}
	d.out = d.e.Step(deskBegan+d.now, Input{Batch: b, Asks: asks})
	for _, rec := range d.out.Records {
		if rec.Event != nil {
			d.evs = append(d.evs, *rec.Event)
		}
	}
}

func (d *desk) step(dt time.Duration, rs ...probe.Reading) { d.batch(dt, probe.Batch{Readings: rs}) }

// hold has n good readings of channel 1, a tick apart.
func (d *desk) hold(n int, c temp.C) {
	for range n {
		d.step(tick, hot(c))
	}
}

// says gives the words and texts of the events of one kind so far.
func (d *desk) says(k EventKind) []string {
	var out []string
	for _, ev := range d.evs {
		if ev.Kind != k {
			continue
		}
		s := ev.Word
		if ev.Text != "" {
			s += ": " + ev.Text
		}
		if ev.Chan != nil {
			s = fmt.Sprintf("%d %s", *ev.Chan, s)
		}
		out = append(out, s)
	}
	return out
}

// asked carries one ask in a step of its own, and gives why it was refused.
func (d *desk) asked(dt time.Duration, k AskKind, rs ...probe.Reading) string {
	n := len(d.evs)
	d.batch(dt, probe.Batch{Readings: rs}, Ask{Kind: k})
	for _, ev := range d.evs[n:] {
		if ev.Kind == EvAsk {
			return ev.Text
		}
	}
	d.t.Fatal("an ask was not answered")
	return ""
}

// heats is a desk whose oven is somewhat too cold, and gets heat.
func heats(t testing.TB) *desk {
	t.Helper()
	d := newDesk(t, nil)
	d.hold(8, 190)
	require.Positive(t, d.out.Duty)
	return d
}

// TestARefusedResetSaysWhatSpeaksAgainstIt, when the board did not come round within its time.
func TestARefusedResetSaysWhatSpeaksAgainstIt(t *testing.T) {
	for want, in := range map[string]func(d *desk) probe.Reading{
		"the board's latch stands: " + probe.LatchOpen.String(): func(*desk) probe.Reading {
			return latched(hot(190), probe.LatchOpen)
		},
		"the link to the board: " + probe.LinkSilent.String(): func(d *desk) probe.Reading {
			d.link.State = probe.LinkSilent
			return hot(190)
		},
		"there is no good reading": func(*desk) probe.Reading { return open() },
		"the board does not take commands": func(d *desk) probe.Reading {
			d.link.Heats = false
			return hot(190)
		},
	} {
		d := heats(t)
		d.step(tick, latched(hot(190), probe.LatchOpen))
		require.Equal(t, PhaseTripped, d.e.phase)
		d.asked(tick, AskAcknowledge, latched(hot(190), probe.LatchOpen))
		for range 4 {
			d.step(tick, latched(hot(190), probe.LatchOpen))
		}
		require.Empty(t, d.asked(tick, AskReset, latched(hot(190), probe.LatchOpen)))
		for range int(ResetWithin/tick) + 2 {
			d.step(tick, in(d))
		}
		asks := d.says(EvAsk)
		require.Equal(t, "refused: "+want, asks[len(asks)-1])
	}
}

// TestAResetThatWaitsIsNotDoneByAnotherStart: the board that was asked to let its latch go is not
// there any more, and whoever goes on must have seen why.
func TestAResetThatWaitsIsNotDoneByAnotherStart(t *testing.T) {
	for want, now := range map[string]func(d *desk){
		"the board restarted": func(d *desk) {
			d.batch(tick, probe.Batch{Boots: []probe.Board{{Name: "straw-uno"}},
				Readings: []probe.Reading{hot(190)}})
		},
		"another board is on the port: found it": func(d *desk) {
			d.link = probe.Link{State: probe.LinkOther, Other: "found it"}
			d.step(tick)
			d.link = probe.Link{State: probe.LinkUp, Heats: true}
		},
	} {
		d := heats(t)
		for range 4 {
			d.step(tick, latched(hot(190), probe.LatchOpen))
		}
		d.asked(tick, AskAcknowledge, latched(hot(190), probe.LatchOpen))
		require.Empty(t, d.asked(tick, AskReset, latched(hot(190), probe.LatchOpen)))
		now(d)
		d.hold(8, 190)
		asks, trips := d.says(EvAsk), d.says(EvTrip)
		require.Equal(t, "refused: "+want, asks[len(asks)-1])
		require.Equal(t, ": "+want, trips[len(trips)-1])
		require.Equal(t, want, d.e.Snapshot().Why)
		require.Equal(t, "reset first", d.asked(tick, AskGoOn, hot(190)))
		require.Empty(t, d.asked(tick, AskReset, hot(190)))
		require.Empty(t, d.asked(tick, AskGoOn, hot(190)))
		d.hold(4, 190)
		require.Positive(t, d.out.Duty)
	}
}
