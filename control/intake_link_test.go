package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/temp"
)

// TestTheStateOfTheLinkIsSaidWhenItBegins and not again while it lasts.
func TestTheStateOfTheLinkIsSaidWhenItBegins(t *testing.T) {
	d := newDesk(t, nil)
	for _, s := range []probe.LinkState{probe.LinkWaiting, probe.LinkWaiting, probe.LinkUp,
		probe.LinkUp, probe.LinkUp, probe.LinkGone, probe.LinkGone, probe.LinkUp} {
		d.link.State = s
		d.step(tick)
		assert.Equal(t, s.String(), d.e.Snapshot().Link)
	}
	assert.Equal(t, []string{"waiting", "up", "gone", "up"}, d.says(EvLink))
}

// TestEachStartOfTheBoardIsSaid with its number and cause, and is a trip.
func TestEachStartOfTheBoardIsSaid(t *testing.T) {
	d := heats(t)
	d.batch(tick, probe.Batch{Boots: []probe.Board{{Name: "kiln-2", Boot: 7, Cause: "watchdog"},
		{Name: "kiln-2", Boot: 8, Cause: "power"}}})
	assert.Equal(t, []string{": kiln-2 started (start 7, cause watchdog)",
		": kiln-2 started (start 8, cause power)"}, d.says(EvBoard))
	assert.Equal(t, []string{": the board restarted"}, d.says(EvTrip))
	assert.Zero(t, d.out.Duty)
}

// TestALatchIsSaidWhenItComesAndWhenItGoes, once each, and trips by its name.
func TestALatchIsSaidWhenItComesAndWhenItGoes(t *testing.T) {
	d := heats(t)
	for _, l := range []probe.Latch{probe.LatchHighLimit, probe.LatchHighLimit,
		probe.LatchHighLimit | probe.LatchHostSilent, 0, 0} {
		d.step(tick, latched(hot(190), l))
		assert.Equal(t, l.Words(), d.e.Snapshot().Latches)
		assert.Zero(t, d.out.Duty)
	}
	assert.Equal(t, []string{"high limit", "high limit, host silent", "none"}, d.says(EvLatch))
	assert.Equal(t, []string{": the board's latch: high limit"}, d.says(EvTrip))
}

// TestALatchOfABoardThatDoesNotHeatIsSaidAndNoMore: there is no heat of ours to hold off.
func TestALatchOfABoardThatDoesNotHeatIsSaidAndNoMore(t *testing.T) {
	d := readerDesk(t, tick)
	d.hold(8, 200)
	had := d.e.credits[0]
	for range 4 {
		d.step(tick, latched(hot(200), probe.LatchConfig))
	}
	assert.Equal(t, []string{"configuration"}, d.says(EvLatch))
	assert.Equal(t, PhaseRunning, d.e.Phase())
	assert.Empty(t, d.says(EvDoubt))
	assert.Equal(t, had+4*tick, d.e.credits[0])
}

// TestAReadingFromBeforeTheRunCountsAsOfItsBeginning, not as one of the future and not as older.
func TestAReadingFromBeforeTheRunCountsAsOfItsBeginning(t *testing.T) {
	d := newDesk(t, nil)
	early := hot(190)
	early.At = 20 * time.Minute
	d.step(0, early)
	d.step(MaxAge)
	assert.True(t, d.e.Snapshot().HasTemp)
	d.step(1)
	assert.False(t, d.e.Snapshot().HasTemp)
}

// TestWhatNoChannelOfTheRunReadMovesNone: a board says more channels than the run has.
func TestWhatNoChannelOfTheRunReadMovesNone(t *testing.T) {
	d := newDesk(t, func(i *Info) { i.Shop.Channels = []string{"oven air", "case"} })
	d.step(tick, of(0, hot(50)), of(3, hot(60)), of(8, hot(70)))
	for _, c := range d.e.Snapshot().Channels {
		assert.False(t, c.Good)
	}
	d.step(tick, of(1, hot(190)), of(2, hot(31)), of(3, hot(60)))
	s := d.e.Snapshot()
	assert.EqualValues(t, 190, s.Channels[0].Temp)
	assert.EqualValues(t, 31, s.Channels[1].Temp)
	d.step(tick, latched(of(8, hot(60)), probe.LatchOpen))
	assert.Equal(t, PhaseTripped, d.e.Phase(), "the board's latch is the board's on any channel")
}

// TestEachChannelIsJudgedByTheDutyItIsUnder: the air's probe and the blade's are in the oven,
// and what stands elsewhere is not heated. The verdicts are compared with those of probe/belief
// for the duty that was commanded.
func TestEachChannelIsJudgedByTheDutyItIsUnder(t *testing.T) {
	d := newDesk(t, func(i *Info) { i.Shop.Channels = []string{"oven air", RoleBlade, "case", ""} })
	want := make([]belief.State, len(d.e.chans))
	heated := 0
	for i := range 200 {
		was := d.out.Duty
		var rs []probe.Reading
		for ch := range want {
			rs = append(rs, of(ch+1, hot(190)))
		}
		rs[0].Hot = rs[0].Hot.Add(0.25 * temp.Delta(i%2))
		d.step(tick, rs...)
		for ch, r := range rs {
			r.At -= deskBegan
			duty := float64(was) / 1000
			if ch > 1 {
				duty = 0
			}
			want[ch], _ = belief.Step(d.e.cfg.Belief, want[ch], belief.Input{Reading: r, Duty: duty})
			require.Equal(t, want[ch], d.e.chans[ch].state, "channel %d, reading %d", ch+1, i)
		}
		if was > 0 {
			heated++
		}
	}
	require.Greater(t, heated, 150)
}
