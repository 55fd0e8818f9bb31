package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control/alarm"
)

// TestSilenceStaysWithItsOccurrence: an alarm that was silenced stays so when its cause goes, and
// is loud again when it comes anew.
func TestSilenceStaysWithItsOccurrence(t *testing.T) {
	v := NewView(testInfo(temper(t, time.Hour)))
	at := time.Duration(0)
	become := func(code, letter string) Alarm {
		at += time.Second
		v.Apply(Record{Event: &Event{T: at, Kind: EvAlarm, Code: code, Word: letter}})
		as := v.Snapshot().Alarms
		require.Len(t, as, 1)
		return as[0]
	}
	require.False(t, become(alarm.OverTemperature, "B").Silent)
	v.Apply(Record{Event: &Event{T: at, Kind: EvAlarm, Word: "silenced"}})
	require.True(t, v.Snapshot().Alarms[0].Silent)
	gone := become(alarm.OverTemperature, "E")
	require.True(t, gone.Silent)
	require.Equal(t, time.Second, gone.Since)
	again := become(alarm.OverTemperature, "B")
	require.False(t, again.Silent)
	require.Equal(t, 3*time.Second, again.Since)
}
