package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/temp"
	"strawline/profiles"
)

// TestWhatBecomesOfAChannelIsSaidOnce for each channel by its number; only the oven's air takes
// the heat away.
func TestWhatBecomesOfAChannelIsSaidOnce(t *testing.T) {
	d := newDesk(t, func(i *Info) { i.Shop.Channels = []string{"oven air", "case"} })
	both := func(n int, case_ probe.Reading) {
		for range n {
			d.step(tick, hot(190), of(2, case_))
		}
	}
	both(4, hot(30))
	both(3, open())
	both(2, hot(30))
	require.Positive(t, d.out.Duty)
	d.hold(7, 190) // the other one is silent for longer than a reading may be old
	require.Positive(t, d.out.Duty)
	assert.Empty(t, d.says(EvDoubt))
	s := d.e.Snapshot()
	assert.Equal(t, "stale", s.Channels[1].Fault)
	assert.True(t, s.Channels[0].Good)
	d.step(tick, open(), of(2, hot(30)))
	assert.Zero(t, d.out.Duty)
	assert.Equal(t, []string{"1 good", "2 good", "2 open", "2 good", "2 stale", "1 open", "2 good"},
		d.says(EvProbe))
	assert.Equal(t, []string{": open"}, d.says(EvDoubt))
}

// TestAWarmColdJunctionIsSaidWhenItBeginsAndWhenItEnds. It is warm from the third reading above
// 45 °C on, and not below 43; a fault in between says nothing of it.
func TestAWarmColdJunctionIsSaidWhenItBeginsAndWhenItEnds(t *testing.T) {
	d := newDesk(t, nil)
	at := func(cold temp.C, n int) {
		for range n {
			r := hot(190)
			r.Cold = cold
			d.step(tick, r)
		}
	}
	at(44, 3)
	at(45.5, 2)
	assert.Equal(t, []string{"1 good"}, d.says(EvProbe))
	at(45.5, 4)
	d.step(tick, open())
	at(44, 3)
	at(43, 3)
	assert.Equal(t, []string{"1 good", "1 good: cold junction warm", "1 open", "1 good", "1 good"},
		d.says(EvProbe))
}

// TestAChipThatIsStuckWhileHeatedIsSeenWhetherOrNotItSaysItsColdJunction: within 60 s of its last
// new word, where heat is on.
func TestAChipThatIsStuckWhileHeatedIsSeenWhetherOrNotItSaysItsColdJunction(t *testing.T) {
	for name, said := range map[string]bool{"said": true, "not said": false} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, temper(t, time.Hour))
			var stuck *probe.Reading
			b.read = func(r *probe.Reading) bool {
				r.Raw = uint32(r.Hot / 0.25)
				r.Cold, r.HasCold = 25, said
				if b.now > 2*time.Minute {
					if stuck == nil {
						stuck = ptr(*r)
					}
					r.Hot, r.Raw = stuck.Hot, stuck.Raw
				}
				return true
			}
			b.run(2 * time.Minute)
			require.Positive(t, b.out.Duty)
			b.until(60*time.Second+tick, "the doubt", func(s Snapshot) bool { return s.Doubt != "" })
			require.Equal(t, belief.WhyFrozen, b.last(EvDoubt).Text)
			require.Zero(t, b.out.Duty)
		})
	}
}

// TestLeadsTheWrongWayRoundAreATripAndNoDoubt: it does not pass by itself. By 60 s of heating.
func TestLeadsTheWrongWayRoundAreATripAndNoDoubt(t *testing.T) {
	b := newBench(t, temper(t, time.Hour))
	b.noise = 0
	b.read = func(r *probe.Reading) bool { r.Hot = 2*r.Cold - r.Hot; return true }
	b.until(62*time.Second, "the trip", func(s Snapshot) bool { return s.Phase == PhaseTripped })
	require.Equal(t, "the reading falls when heated: are the leads reversed?", b.e.Snapshot().Why)
	require.Zero(t, b.count(EvDoubt))
}

// TestTheUseOfAProbeIsWhatWasSeenBetweenGoodReadings: nothing before the first one.
func TestTheUseOfAProbeIsWhatWasSeenBetweenGoodReadings(t *testing.T) {
	d := newDesk(t, nil)
	d.step(0, open())
	d.step(20*time.Second, hot(190))
	assert.Equal(t, belief.Wear{}, d.e.Wear(1))
	d.step(time.Second, hot(191))
	d.step(time.Second, open())
	d.step(2*time.Second, hot(190))
	assert.Equal(t, belief.Wear{Warm: 4 * time.Second, Peak: 191, Seen: true}, d.e.Wear(1))
}

// TestAGapIsSaidWithItsLengthWhenItEnds, from the last good reading to the next, and only where
// there was a good one.
func TestAGapIsSaidWithItsLengthWhenItEnds(t *testing.T) {
	d := newDesk(t, nil)
	d.step(0, open())
	d.step(tick, open())
	d.hold(4, 190)
	assert.Empty(t, d.says(EvGap), "there was no reading to miss yet")
	for range 8 {
		d.step(tick, open())
	}
	d.hold(4, 190)
	d.step(time.Second) // silent, but none is missing yet
	d.step(tick, hot(190))
	d.step(1500 * time.Millisecond)
	d.step(time.Second)
	d.hold(4, 190)
	var spans []float64
	for _, ev := range d.evs {
		if ev.Kind == EvGap {
			spans = append(spans, *ev.SpanS)
		}
	}
	assert.Equal(t, []float64{2.25, 2.75}, spans)
	s := d.e.Snapshot()
	assert.Equal(t, 2, s.Gaps)
	assert.Equal(t, 5*time.Second, s.Gap)
}

// TestTheModelledBladeFollowsTheAirBetweenTwoReadings: by their mean; over what was not seen by
// the reading that ends it, and by 10 s of it at most.
func TestTheModelledBladeFollowsTheAirBetweenTwoReadings(t *testing.T) {
	blade := &BladeInfo{ThickMM: 4}
	d := newDesk(t, func(i *Info) {
		i.Shop.NoHeater, i.Blade = true, blade
		i.Profile.Steps = []profiles.Step{{Kind: profiles.Wait, Load: profiles.LoadIn},
			{Kind: profiles.Soak, To: 200, For: time.Hour, Band: 5}}
	})
	d.step(0, hot(100)) // the cold junction says 22 °C: that is the room
	d.hold(3, 100)
	require.Empty(t, d.asked(tick, AskConfirm))
	want := temp.C(22)
	require.Equal(t, want, d.e.blade)
	d.step(tick, hot(101)) // 0.5 s after the last reading
	want = blade.lag(want, 100.5, 2*tick)
	require.Equal(t, want, d.e.blade)
	d.step(time.Second, hot(105))
	want = blade.lag(want, 103, time.Second)
	require.Equal(t, want, d.e.blade)
	d.step(time.Second, open())
	require.Equal(t, want, d.e.blade)
	d.step(time.Second, hot(109))
	want = blade.lag(want, 109, 2*time.Second)
	require.Equal(t, want, d.e.blade)
	d.step(tick, open())
	d.step(time.Minute, hot(112))
	want = blade.lag(want, 112, 10*time.Second)
	require.Equal(t, want, d.e.blade)
	s := d.e.Snapshot()
	require.True(t, s.HasBlade)
	require.InDelta(t, float64(want), float64(s.Blade), 0.006)
}
