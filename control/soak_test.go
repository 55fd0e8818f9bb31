package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/control/alarm"
	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/temp"
	"strawline/profiles"
)

// soaker is an engine in a soak without a blade, fed by readings that need no filter's delay.
func soaker(t require.TestingT) (*Engine, *time.Duration) {
	p := profiles.Profile{Name: "t", Unit: temp.Celsius, Limit: 240, Longest: 100 * time.Hour,
		Steps: []profiles.Step{{Kind: profiles.Soak, To: 200, For: 50 * time.Hour, Band: 5}}}
	info := testInfo(p)
	info.Blade = nil
	e, err := New(Config{Info: info, Belief: belief.Default()})
	require.NoError(t, err)
	now := time.Duration(0)
	return e, &now
}

func feed(e *Engine, now *time.Duration, dt time.Duration, y float64, f probe.Fault) Output {
	*now += dt
	b := probe.Batch{Link: probe.Link{State: probe.LinkUp, Heats: true}}
	b.Readings = []probe.Reading{{At: *now, Channel: 1, Hot: temp.C(y), Raw: uint32(*now / time.Millisecond), Fault: f}}
	return e.Step(*now, Input{Batch: b})
}

func TestTheSoakClockAddsOnlyBetweenTwoGoodReadingsInTheBand(t *testing.T) {
	e, now := soaker(t)
	for range 100 {
		feed(e, now, tick, 200, 0)
	}
	require.Equal(t, 99*tick, e.credits[0], "a hundred readings have 99 spans between them")

	feed(e, now, 2*time.Second, 200, 0)
	require.Equal(t, 99*tick+2*time.Second, e.credits[0], "two seconds apart still count")
	feed(e, now, 2100*time.Millisecond, 200, 0)
	require.Equal(t, 99*tick+2*time.Second, e.credits[0], "more than two do not")

	had := e.credits[0]
	feed(e, now, tick, 200, probe.FaultOpen)
	feed(e, now, tick, 200, 0)
	require.Equal(t, had, e.credits[0], "nor does a span with a bad reading at one end")
	feed(e, now, tick, 200, 0)
	require.Equal(t, had+tick, e.credits[0])
}

func TestTimeAboveTheBandIsOverAndNotCredited(t *testing.T) {
	e, now := soaker(t)
	for range 200 {
		feed(e, now, tick, 200, 0)
	}
	for i := range 60 { // up to 212 °C by at most 0.2 °C a reading
		feed(e, now, tick, 200+0.2*float64(i), 0)
	}
	had := e.credits[0]
	for range 40 {
		feed(e, now, tick, 212, 0)
	}
	s := e.Snapshot()
	require.Equal(t, had, e.credits[0])
	require.Equal(t, SoakOver, s.Soak)
	require.InDelta(t, 10, s.SoakOver.Seconds(), 8, "ten seconds at 212 and some on the way")
}

func TestPausedWaitsTenSecondsButTheClockDoesNot(t *testing.T) {
	e, now := soaker(t)
	for range 200 {
		feed(e, now, tick, 200, 0)
	}
	had := e.credits[0]
	for i := range 60 {
		was := e.credits[0]
		feed(e, now, tick, 200-0.2*float64(i), 0)
		if had = e.credits[0]; had == was && i > 5 {
			break // the first reading outside the band
		}
	}
	left := *now
	for e.Snapshot().Soak != SoakPaused {
		require.Equal(t, SoakCounting, e.Snapshot().Soak)
		feed(e, now, tick, 188, 0)
		require.Less(t, *now-left, 12*time.Second)
	}
	require.InDelta(t, 10, (*now - left).Seconds(), 0.5)
	require.Equal(t, had, e.credits[0])
}

// TestCreditNeverExceedsTheTimeInTheBand compares with a sum of our own over random runs.
func TestCreditNeverExceedsTheTimeInTheBand(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e, now := soaker(t)
		y, most := 200.0, time.Duration(0)
		prevIn := false
		for range rapid.IntRange(10, 300).Draw(t, "n") {
			dt := rapid.SampledFrom([]time.Duration{tick, tick, tick, time.Second, 2 * time.Second, 3 * time.Second}).Draw(t, "dt")
			y += rapid.Float64Range(-2, 2).Draw(t, "dy")
			f := probe.FaultNone
			if rapid.IntRange(0, 9).Draw(t, "bad") == 0 {
				f = probe.FaultOpen
			}
			feed(e, now, dt, y, f)
			in := f == 0
			if in && prevIn && dt <= 2*time.Second {
				most += dt
			}
			prevIn = in
			if e.credits[0] > most {
				t.Fatalf("credited %v of at most %v", e.credits[0], most)
			}
		}
	})
}

func TestAProbeAtTheBladeIsWhatTheSoakIsJudgedBy(t *testing.T) {
	p := profiles.Profile{Name: "t", Unit: temp.Celsius, Limit: 240, Longest: 100 * time.Hour,
		Steps: []profiles.Step{{Kind: profiles.Soak, To: 200, For: 50 * time.Hour, Band: 5}}}
	info := testInfo(p)
	info.Shop.Channels = []string{RoleBlade, "oven air"}
	info.Shop.Lead = 2
	e, err := New(Config{Info: info, Belief: belief.Default()})
	require.NoError(t, err)
	step := func(now time.Duration, blade, air float64) {
		e.Step(now, Input{Batch: probe.Batch{Link: probe.Link{State: probe.LinkUp, Heats: true},
			Readings: []probe.Reading{
				{At: now, Channel: 1, Hot: temp.C(blade), Raw: uint32(now)},
				{At: now, Channel: 2, Hot: temp.C(air), Raw: uint32(now)}}}})
	}
	now := time.Duration(0)
	for range 200 { // the air is in the band, the blade far below it
		step(now, 150, 200)
		now += tick
	}
	require.Zero(t, e.credits[0])
	require.Equal(t, temp.C(200), e.Snapshot().Temp, "the air leads and is shown large")
	for i := range 800 {
		step(now, min(198, 150+0.1*float64(i)), 200)
		now += tick
	}
	// It passes 195 °C at reading 450; the filter adds some seconds.
	require.InDelta(t, 350*tick.Seconds(), e.credits[0].Seconds(), 5)
}

// TestAPersonWhoMovesTheSetpointIsNotToldThatItIsOffPlan: not until it was reached, and then as
// before. A change taken back is one too.
func TestAPersonWhoMovesTheSetpointIsNotToldThatItIsOffPlan(t *testing.T) {
	e, now := soaker(t)
	span := func(y float64, n int) {
		for range n {
			feed(e, now, tick, y, 0)
		}
	}
	off := func() bool { return stands(e.Snapshot(), alarm.OffPlan) }
	span(200, 100)
	e.Step(*now, Input{Asks: []Ask{{Kind: AskSet, TempC: 220}}})
	span(200, 400)
	require.False(t, off())
	span(218, 100)
	e.Step(*now, Input{Asks: []Ask{{Kind: AskUndo}}})
	span(218, 400)
	require.False(t, off())
	span(201, 100)
	span(190, 119)
	require.False(t, off(), "half a minute")
	span(190, 5)
	require.True(t, off())
	// An oven that never follows is off the plan all the same.
	e, now = soaker(t)
	span(200, 100)
	e.Step(*now, Input{Asks: []Ask{{Kind: AskSet, TempC: 220}}})
	for range int(movedMost/tick) / 200 {
		span(200, 100) // a word that stands still is not believed
		span(200.25, 100)
	}
	require.False(t, off())
	span(200, 200)
	require.True(t, off())
}
