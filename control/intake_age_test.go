package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
)

// TestAReadingMayCarryHeatFor1500Milliseconds and not for one nanosecond more; what the board may
// have as its own interval does not matter where it heats.
func TestAReadingMayCarryHeatFor1500Milliseconds(t *testing.T) {
	for _, by := range []time.Duration{tick, 1500 * time.Millisecond} {
		d := heats(t)
		d.link.Interval = time.Minute
		duty := d.out.Duty
		for range 1500 * time.Millisecond / by {
			d.step(by)
			require.Equal(t, duty, d.out.Duty)
		}
		require.Empty(t, d.e.Snapshot().Doubt)
		d.step(1)
		require.Zero(t, d.out.Duty)
		require.Equal(t, "no reading for 1.5s", d.e.Snapshot().Doubt)
		require.Equal(t, []string{"1 good", "1 stale"}, d.says(EvProbe))
	}
}

// TestABoardThatOnlyReadsIsStaleByItsOwnInterval: three of them, from 1.5 s to 30 s, to the
// nanosecond.
func TestABoardThatOnlyReadsIsStaleByItsOwnInterval(t *testing.T) {
	for _, c := range []struct{ interval, most time.Duration }{
		{0, 1500 * time.Millisecond}, // it is not known yet
		{250 * time.Millisecond, 1500 * time.Millisecond},
		{500 * time.Millisecond, 1500 * time.Millisecond},
		{501 * time.Millisecond, 1503 * time.Millisecond},
		{5 * time.Second, 15 * time.Second},
		{10 * time.Second, 30 * time.Second},
		{20 * time.Second, 30 * time.Second},
	} {
		d := readerDesk(t, c.interval)
		d.hold(4, 200)
		d.step(c.most)
		assert.True(t, d.e.Snapshot().HasTemp, "%v", c.interval)
		d.step(1)
		assert.False(t, d.e.Snapshot().HasTemp, "%v", c.interval)
	}
}

// TestABoardThatOnlyReadsGivesCreditByItsOwnInterval: two of them, from 2 s to 20 s.
func TestABoardThatOnlyReadsGivesCreditByItsOwnInterval(t *testing.T) {
	for _, c := range []struct{ interval, most time.Duration }{
		{0, 2 * time.Second},
		{time.Second, 2 * time.Second},
		{1001 * time.Millisecond, 2002 * time.Millisecond},
		{5 * time.Second, 10 * time.Second},
		{10 * time.Second, 20 * time.Second},
		{15 * time.Second, 20 * time.Second},
	} {
		d := readerDesk(t, c.interval)
		d.hold(4, 200)
		had := d.e.credits[0]
		d.step(c.most, hot(200))
		assert.Equal(t, c.most, d.e.credits[0]-had, "%v", c.interval)
		d.step(c.most+1, hot(200))
		assert.Equal(t, c.most, d.e.credits[0]-had, "%v", c.interval)
	}
	d := newDesk(t, nil)
	d.link.Interval = 10 * time.Second // it heats: this is not asked for
	d.hold(4, 200)
	had := d.e.credits[0]
	d.step(2*time.Second+1, hot(200))
	assert.Equal(t, had, d.e.credits[0])
}

// TestAGoOnNeedsAReadingThatIsNotTooOld: a person asks for what the last Snapshot showed, and by
// the time that the ask comes a reading may have become too old.
func TestAGoOnNeedsAReadingThatIsNotTooOld(t *testing.T) {
	for after, why := range map[time.Duration]string{
		1500 * time.Millisecond:   "",
		1500*time.Millisecond + 1: "no sound reading to go on with",
	} {
		d := heats(t)
		require.Empty(t, d.asked(tick, AskHeatOff, hot(190)))
		require.Empty(t, d.asked(tick, AskAcknowledge, hot(190)))
		require.Empty(t, d.asked(tick, AskReset, hot(190)))
		d.hold(4, 190)
		require.Equal(t, why, d.asked(after, AskGoOn, hot(190)), "%v", after)
	}
}

// TestABoardsResetIsDoneWhenItsLatchIsGoneAndNothingElseStands: the latch that goes is one of what
// is asked before a person may go on.
func TestABoardsResetIsDoneWhenItsLatchIsGoneAndNothingElseStands(t *testing.T) {
	good := []probe.Reading{hot(190)}
	for _, c := range []struct {
		name string
		link probe.Link
		came []probe.Reading
		done bool
	}{
		{"all is well", probe.Link{State: probe.LinkUp, Heats: true}, good, true},
		{"the latch stands", probe.Link{State: probe.LinkUp, Heats: true},
			[]probe.Reading{latched(hot(190), probe.LatchOpen)}, false},
		{"another one came", probe.Link{State: probe.LinkUp, Heats: true},
			[]probe.Reading{hot(190), latched(of(8, hot(60)), probe.LatchHostSilent)}, false},
		{"the cable is pulled", probe.Link{State: probe.LinkGone, Heats: true}, good, false},
		{"it takes no commands", probe.Link{State: probe.LinkUp}, good, false},
		{"the reading is bad", probe.Link{State: probe.LinkUp, Heats: true},
			[]probe.Reading{open()}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := heats(t)
			for range 4 {
				d.step(tick, latched(hot(190), probe.LatchOpen))
			}
			require.Empty(t, d.asked(tick, AskAcknowledge, latched(hot(190), probe.LatchOpen)))
			require.Empty(t, d.asked(tick, AskReset, latched(hot(190), probe.LatchOpen)))
			require.True(t, d.out.ResetBoard)
			require.Empty(t, d.says(EvReset))
			d.link = c.link
			d.step(tick, c.came...)
			require.Equal(t, c.done, len(d.says(EvReset)) == 1)
			require.Equal(t, PhaseTripped, d.e.Phase())
			require.Zero(t, d.out.Duty)
		})
	}
}
