package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/plant"
)

// TestAResetIsRefusedWhileHeatWithoutDutyStands switches the heat off by hand and leaves the
// switch shorted: while the temperature rises at duty 0 the trip's cause is not gone.
func TestAResetIsRefusedWhileHeatWithoutDutyStands(t *testing.T) {
	b := newBench(t, temper(t, time.Hour))
	b.run(30 * time.Second)
	b.watts = func(int) float64 { return 0.3 * plant.A().HeaterW }
	require.Empty(t, b.ask(Ask{Kind: AskHeatOff}))
	require.Empty(t, b.ask(Ask{Kind: AskAcknowledge}))
	b.run(5 * time.Minute)
	require.Less(t, b.e.Snapshot().Temp, b.e.Snapshot().Info.Profile.Limit)
	require.Contains(t, b.ask(Ask{Kind: AskReset}), "though the duty is 0")
	b.watts = func(int) float64 { return 0 } // unplugged
	b.run(5 * time.Minute)
	require.Empty(t, b.ask(Ask{Kind: AskReset}))
}

// TestACauseBetweenResetAndGoOnNeedsAnotherReset restarts the board after the reset of a trip.
func TestACauseBetweenResetAndGoOnNeedsAnotherReset(t *testing.T) {
	b := atSoak(t, time.Hour)
	require.Empty(t, b.ask(Ask{Kind: AskHeatOff}))
	require.Empty(t, b.ask(Ask{Kind: AskAcknowledge}))
	require.Empty(t, b.ask(Ask{Kind: AskReset}))
	b.link = func(x *probe.Batch) {
		x.Boots = append(x.Boots, probe.Board{Name: "b", Boot: 2, Cause: "watchdog"})
	}
	b.step()
	b.link = nil
	b.run(10 * time.Second)
	require.Equal(t, "reset first", b.ask(Ask{Kind: AskGoOn}))
	require.Contains(t, b.e.Snapshot().Why, "restarted")
	require.Empty(t, b.ask(Ask{Kind: AskReset}))
	require.Empty(t, b.ask(Ask{Kind: AskGoOn}))
	require.Equal(t, PhaseRunning, b.e.Phase())
}
