package control

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/temp"
	"strawline/profiles"
)

// TestTheFirstReadingsOfARunEndNoDoubtThatWasSaid: nothing was lost, and none is counted; a later
// one is said when it begins and when it ends.
func TestTheFirstReadingsOfARunEndNoDoubtThatWasSaid(t *testing.T) {
	d := newDesk(t, nil)
	d.hold(2, 190)
	require.Zero(t, d.out.Duty, "it stands for three readings")
	d.hold(6, 190)
	require.Positive(t, d.out.Duty)
	require.Empty(t, d.says(EvDoubt))
	require.Empty(t, d.says(EvClear))
	d.step(tick, open())
	d.hold(3, 190)
	require.Equal(t, []string{": open"}, d.says(EvDoubt))
	require.Equal(t, []string{": open"}, d.says(EvClear))
	require.Equal(t, 1, d.e.Snapshot().Doubts)
}

// TestADoubtIsATripAtTenSecondsAndNotBefore by its first cause, whatever comes behind it.
func TestADoubtIsATripAtTenSecondsAndNotBefore(t *testing.T) {
	d := heats(t)
	d.step(tick, open())
	began := d.now
	d.link.State = probe.LinkGone
	for d.now < began+9*time.Second {
		d.step(time.Second)
	}
	d.step(time.Second - 1)
	require.Equal(t, PhaseRunning, d.e.Phase())
	d.step(1)
	require.Equal(t, PhaseTripped, d.e.Phase())
	require.Equal(t, "open for 10 s", d.e.Snapshot().Why)
	require.Equal(t, []string{": open"}, d.says(EvDoubt))
	require.Empty(t, d.says(EvClear))
	d.step(tick, open())
	require.Equal(t, 1, d.e.Snapshot().Doubts, "in a trip there is no heat to take away")
}

// TestWithoutAHeaterADoubtOfAnyLengthEnds: the person holds the heat, nothing trips, and with the
// readings the run comes back and goes on along its profile.
func TestWithoutAHeaterADoubtOfAnyLengthEnds(t *testing.T) {
	d := newDesk(t, func(i *Info) {
		i.Shop.NoHeater = true
		i.Profile.Steps = []profiles.Step{
			{Kind: profiles.Soak, To: 200, For: 3 * time.Second, Band: 5}, {Kind: profiles.Wait}}
	})
	d.link.Heats, d.link.Interval = false, time.Second
	seconds := func(n int, rs ...probe.Reading) {
		for range n {
			d.step(time.Second, slices.Clone(rs)...)
		}
	}
	seconds(3, hot(200))
	seconds(60)
	require.Equal(t, "no reading for 3s", d.e.Snapshot().Doubt)
	seconds(3, hot(200))
	require.Empty(t, d.e.Snapshot().Doubt)
	require.Equal(t, []string{": no reading for 3s"}, d.says(EvClear))
	d.step(time.Second, hot(200))
	require.Equal(t, 1, d.e.Snapshot().Step)
}

// TestABoardThatReadsSlowlyComesToItsRun: its first three readings take longer than what is a
// trip where a board heats.
func TestABoardThatReadsSlowlyComesToItsRun(t *testing.T) {
	for _, every := range []time.Duration{time.Second, 5 * time.Second, 20 * time.Second} {
		b, set := noHeaterBench(t, temper(t, time.Hour), every)
		*set = 204
		b.until(time.Hour, "the wait", func(s Snapshot) bool { return s.Step == 1 })
		require.Zero(t, b.count(EvDoubt), "%v: the oven's own heat-up is no jump", every)
	}
}

// TestAJumpIsMoreThanADoorCanDoBetweenTwoReadings: 5 °C where they come four times a second or
// the board heats, and 4.4 °C in each second of the interval of a board that reads slowly.
func TestAJumpIsMoreThanADoorCanDoBetweenTwoReadings(t *testing.T) {
	for _, c := range []struct {
		heater   bool
		interval time.Duration
		most     temp.C
	}{{true, 10 * time.Second, 5}, {false, 0, 5}, {false, time.Second, 5},
		{false, 2 * time.Second, 8.8}, {false, 10 * time.Second, 44}} {
		d := readerDesk(t, c.interval)
		if c.heater {
			d = newDesk(t, nil)
			d.link.Interval = c.interval
		}
		d.hold(4, 100)
		d.step(tick, hot(100+c.most+0.01))
		require.False(t, d.e.Snapshot().HasTemp, "%+v", c)
		d.step(tick, hot(100-c.most+0.01))
		require.True(t, d.e.Snapshot().HasTemp, "%+v", c)
	}
}

// TestADoubtThatEndsInItsOwnStepTookTheHeatAway: a port that was looked at late has the bad
// reading and those that end the doubt in one batch, and the law begins anew behind it.
func TestADoubtThatEndsInItsOwnStepTookTheHeatAway(t *testing.T) {
	d := heats(t)
	was := len(d.says(EvLaw))
	d.step(tick, hot(190), open(), hot(190), hot(190), hot(190))
	require.Equal(t, []string{": open"}, d.says(EvDoubt))
	require.Equal(t, []string{": open"}, d.says(EvClear))
	require.Zero(t, d.out.Duty)
	d.hold(2, 190)
	require.Positive(t, d.out.Duty)
	require.Len(t, d.says(EvLaw), was+1)
}

// TestMoreThanFiveDoubtsInTenMinutesAreATrip: six of which the first is just ten minutes old are,
// with a second more they are not, and one that has become too old is forgotten alone.
func TestMoreThanFiveDoubtsInTenMinutesAreATrip(t *testing.T) {
	for _, c := range []struct {
		at    []int // s
		trips bool
	}{
		{[]int{60, 180, 300, 420, 540, 660}, true},
		{[]int{60, 180, 300, 420, 540, 661}, false},
		{[]int{60, 180, 300, 420, 540, 661, 781}, false},
		{[]int{60, 180, 300, 420, 540, 661, 780}, true},
		{[]int{60, 70, 80, 90, 100}, false},
		{[]int{60, 70, 80, 90, 100, 110}, true},
	} {
		d := newDesk(t, nil)
		d.step(0, hot(200))
		for _, s := range c.at {
			for d.now < time.Duration(s-1)*time.Second {
				d.step(time.Second, hot(200))
			}
			require.Equal(t, PhaseRunning, d.e.Phase(), "%v before %d", c.at, s)
			d.step(time.Second, open())
		}
		if !c.trips {
			require.Equal(t, PhaseRunning, d.e.Phase(), "%v", c.at)
			continue
		}
		require.Equal(t, PhaseTripped, d.e.Phase(), "%v", c.at)
		require.Equal(t, "more than 5 doubts in 10 minutes, the last: open", d.e.Snapshot().Why)
	}
}

// TestABadLinkIsADoubtByItsName at once, and while the board takes no commands too.
func TestABadLinkIsADoubtByItsName(t *testing.T) {
	for want, link := range map[string]probe.Link{
		"link silent":                      {State: probe.LinkSilent, Heats: true},
		"link gone":                        {State: probe.LinkGone, Heats: true},
		"the board does not take commands": {State: probe.LinkUp},
	} {
		d := heats(t)
		d.link = link
		d.step(tick, hot(190))
		assert.Zero(t, d.out.Duty)
		assert.Equal(t, []string{": " + want}, d.says(EvDoubt))
	}
}

// TestThreeReadingsAboveTheLimitAreATrip: at the limit is not above it, one in between begins the
// count anew, and a fault neither counts nor begins it anew.
func TestThreeReadingsAboveTheLimitAreATrip(t *testing.T) {
	const limit, above = 240, 240.25
	d := newDesk(t, nil)
	d.hold(4, 238)
	d.hold(4, limit)
	d.hold(2, above)
	d.hold(1, limit)
	d.hold(2, above)
	d.hold(1, limit)
	d.hold(1, above)
	d.step(tick, open())
	d.hold(1, above)
	require.Equal(t, PhaseRunning, d.e.Phase())
	d.hold(1, above)
	require.Equal(t, PhaseTripped, d.e.Phase())
	require.Equal(t, "above the limit of 464 °F", d.e.Snapshot().Why)
}

// TestItIsAboveTheLimitUntilItIsFiveDegreesBelow: so long a trip is not reset.
func TestItIsAboveTheLimitUntilItIsFiveDegreesBelow(t *testing.T) {
	d := newDesk(t, nil)
	d.hold(6, 240.25)
	require.Equal(t, PhaseTripped, d.e.Phase())
	d.hold(4, 237)
	require.Empty(t, d.asked(tick, AskAcknowledge, hot(237)))
	d.hold(4, 235.25)
	require.Equal(t, "still above the limit", d.asked(tick, AskReset, hot(235)))
	require.Empty(t, d.asked(tick, AskReset, hot(235)))
	d.hold(1, 237)
	d.hold(2, 240.25)
	require.Empty(t, d.asked(tick, AskGoOn, hot(237)), "it was not above a second time")
	require.Equal(t, PhaseRunning, d.e.Phase())
}

// TestAReadingAboveTheLimitNeedsNoBelief: it counts though it jumped, since waiting for what a
// jump becomes would be late.
func TestAReadingAboveTheLimitNeedsNoBelief(t *testing.T) {
	d := newDesk(t, nil)
	d.hold(8, 200)
	for _, y := range []probe.Reading{hot(300), hot(500), hot(400)} {
		d.step(tick, y)
	}
	require.False(t, d.e.Snapshot().HasTemp)
	require.Equal(t, PhaseTripped, d.e.Phase())
	require.Equal(t, "above the limit of 464 °F", d.e.Snapshot().Why)
}
