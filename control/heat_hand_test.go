package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
)

// TestADutyByHandIsSaid on the screen, until the law has it again.
func TestADutyByHandIsSaid(t *testing.T) {
	b := atSoak(t, time.Hour)
	require.Empty(t, b.ask(Ask{Kind: AskDuty, DutyPM: 300, Seconds: 5}))
	require.Equal(t, "by hand", b.e.Snapshot().Law)
	b.run(6 * time.Second)
	require.NotEqual(t, "by hand", b.e.Snapshot().Law)
	require.NotEmpty(t, b.e.Snapshot().Law)
}

// TestTheLawHoldsTheOvenAgainAfterADutyByHand: it begins from the duty of the person and does not
// stay there.
func TestTheLawHoldsTheOvenAgainAfterADutyByHand(t *testing.T) {
	for _, duty := range []int{0, 500} {
		b := atSoak(t, 3*time.Hour)
		b.run(20 * time.Minute)
		require.Empty(t, b.ask(Ask{Kind: AskDuty, DutyPM: duty, Seconds: 20}))
		b.run(30 * time.Minute)
		for range 4 * 600 {
			b.step()
			require.InDelta(t, float64(temp.F(400)), float64(b.oven.Probe()), 1, "%d", duty)
		}
	}
}

// TestAContactorByHand: off is at once, whatever its least time on; on waits for its least time
// off; and on while it is on changes nothing.
func TestAContactorByHand(t *testing.T) {
	info := testInfo(temper(t, time.Hour))
	info.Shop.Contactor = &Contactor{DeadbandC: 2, MinOnS: 30, MinOffS: 40}
	b := newBenchOf(t, info)
	b.run(50 * time.Second)
	require.Equal(t, 1000, b.out.Duty, "on since 40 s")
	hand := func(duty int) {
		require.Empty(t, b.ask(Ask{Kind: AskDuty, DutyPM: duty, Seconds: 300}))
	}
	hand(1000)
	require.Equal(t, 1000, b.out.Duty)
	hand(0)
	require.Zero(t, b.out.Duty, "at once, 10 s after it came on")
	off := b.now
	hand(1000)
	for b.out.Duty == 0 {
		require.Equal(t, "by hand", b.e.Snapshot().Law)
		b.step()
	}
	require.Equal(t, 1000, b.out.Duty)
	require.Equal(t, 40*time.Second, b.now-off, "its least time off")
	b.run(time.Minute)
	require.Equal(t, 1000, b.out.Duty)
	hand(0)
	require.Zero(t, b.out.Duty)
	require.Empty(t, b.ask(Ask{Kind: AskDuty}), "back to the law, which wants heat")
	for b.out.Duty == 0 {
		b.step()
	}
	require.Equal(t, "switching", b.e.Snapshot().Law)
}
