package control

import (
	"testing"

	"github.com/stretchr/testify/require"

	"strawline/control/alarm"
	"strawline/control/guard"
)

// TestEveryDetectedFaultHasItsAlarm: what asks for more than a message stands behind one alarm of
// the table, and a message behind none.
func TestEveryDetectedFaultHasItsAlarm(t *testing.T) {
	n := 0
	for _, d := range alarm.First() {
		n += len(Detects(d.Code))
	}
	for _, r := range guard.Rows() {
		if r.Kind == guard.Message {
			require.Empty(t, alarmOf(r), r.What)
			continue
		}
		n--
		require.GreaterOrEqual(t, alarm.First().Index(alarmOf(r)), 0, r.What)
	}
	require.Zero(t, n)
	for code, what := range map[string]string{alarm.HeatAtZero: "switch stuck on",
		alarm.OverTemperature: "above the limit", alarm.BoardSilent: "board silent or hung",
		alarm.NoReading: "open or shorted to a rail", alarm.Tripped: "board restarted",
		alarm.ProbeOut: "probe fallen out", alarm.WeakHeat: "half the power"} {
		found := ""
		for _, d := range Detects(code) {
			found += d.What + "; "
		}
		require.Contains(t, found, what, code)
	}
	var trips []string
	for _, d := range Detects(alarm.Tripped) {
		trips = append(trips, d.What)
	}
	require.ElementsMatch(t, []string{"word stands still in a soak", "leads reversed",
		"board restarted", "computer slept, clock jumped"}, trips)
	require.Empty(t, Detects(alarm.LogFull))
}
