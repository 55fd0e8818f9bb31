package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/profiles"
)

// TestAnotherBoardTrips: at once, with what was found, and no act of a person brings heat back
// while it is there; once the first board is back the three acts do.
func TestAnotherBoardTrips(t *testing.T) {
	const found = "found straw-two in the place of straw-uno"
	b := newBench(t, temper(t, time.Hour))
	b.run(time.Minute)
	require.Positive(t, b.out.Duty)
	b.link = func(x *probe.Batch) {
		x.Link = probe.Link{State: probe.LinkOther, Other: found}
		x.Readings = nil
	}
	b.step()
	require.Zero(t, b.out.Duty)
	require.Equal(t, PhaseTripped, b.e.Phase())
	require.Equal(t, Event{T: b.last(EvLink).T, Kind: EvLink, Word: "another board", Text: found},
		b.last(EvLink))
	trip := b.last(EvTrip)
	require.Equal(t, "another board is on the port: "+found, trip.Text)
	require.Equal(t, Unreached, trip.Word, "nobody can say that off was commanded")
	tries := func() {
		b.ask(Ask{Kind: AskAcknowledge})
		b.ask(Ask{Kind: AskReset})
		b.run(2 * time.Second)
		b.ask(Ask{Kind: AskGoOn})
	}
	for range 3 {
		tries()
		b.run(time.Minute)
		require.Equal(t, PhaseTripped, b.e.Phase())
		require.Zero(t, b.count(EvGoOn))
		require.Zero(t, b.out.Duty)
	}
	b.link = nil
	b.run(5 * time.Second)
	require.Zero(t, b.out.Duty, "the board alone brings no heat back")
	tries()
	require.Equal(t, PhaseRunning, b.e.Phase())
	b.until(time.Minute, "heat", func(Snapshot) bool { return b.out.Duty > 0 })
}

// TestAnotherBoardWithoutAHeater: there is nothing to trip, and no soak is counted meanwhile.
func TestAnotherBoardWithoutAHeater(t *testing.T) {
	p := temper(t, time.Hour)
	info := testInfo(p)
	info.Shop.NoHeater = true
	b := newBench(t, p)
	var err error
	b.e, err = New(Config{Info: info, Belief: b.e.cfg.Belief})
	require.NoError(t, err)
	b.watts = func(int) float64 { return 800 }
	b.until(2*time.Hour, "the first wait", func(s Snapshot) bool { return s.Steps[s.Step].Kind == profiles.Wait })
	b.link = func(x *probe.Batch) {
		x.Link = probe.Link{State: probe.LinkOther, Other: "found what"}
		x.Readings = nil
	}
	b.run(time.Minute)
	require.Equal(t, PhaseRunning, b.e.Phase())
	require.Zero(t, b.count(EvTrip))
	require.Equal(t, "another board", b.e.Snapshot().Link)
	require.False(t, b.e.Snapshot().HasTemp)
}
