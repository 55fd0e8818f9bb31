package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control/alarm"
	"strawline/probe/plant"
	"strawline/probe/temp"
	"strawline/profiles"
)

// stands tells whether an alarm of this code is on the screen and not gone.
func stands(s Snapshot, code string) bool {
	for _, a := range s.Alarms {
		if a.Code == code && a.State != "D" {
			return true
		}
	}
	return false
}

func TestTheLongestTotalTimeEndsTheRunWithTheHeatOff(t *testing.T) {
	p := temper(t, time.Hour)
	p.Longest = 40 * time.Minute
	b := newBench(t, p)
	b.until(30*time.Minute, "the wait", func(s Snapshot) bool { return s.Steps[s.Step].Kind == profiles.Wait })
	require.Empty(t, b.ask(Ask{Kind: AskConfirm}))
	b.run(p.Longest - b.now - time.Second)
	require.Equal(t, PhaseRunning, b.e.Phase())
	b.run(3 * time.Second)
	require.Equal(t, PhaseEnded, b.e.Phase())
	require.Zero(t, b.out.Duty)
	require.Equal(t, "late", b.last(EvEnd).Word)
	require.True(t, stands(b.e.Snapshot(), alarm.RunOver))
}

func TestASetpointStaysUnderTheLimitWithItsBand(t *testing.T) {
	b := atSoak(t, time.Hour) // 400 °F ± 10 °F
	limit := b.e.Snapshot().Info.Profile.Limit
	ask := func(c temp.C) string { return b.ask(Ask{Kind: AskSet, TempC: float64(c)}) }
	require.Contains(t, ask(limit.Add(-temp.DeltaF(10)+0.1)), "above the limit")
	require.InDelta(t, float64(temp.F(400)), float64(b.e.Snapshot().Set), 0.01)
	require.Empty(t, ask(limit.Add(-temp.DeltaF(10)-0.1)))
}

func TestAStayOrMoreThanTwelveHoursIsRefused(t *testing.T) {
	b := atSoak(t, time.Hour)
	for _, s := range []float64{12*3600 + 1, -1, 1e300} {
		require.NotEmpty(t, b.ask(Ask{Kind: AskStay, Seconds: s}), "stay %v", s)
		require.NotEmpty(t, b.ask(Ask{Kind: AskMore, Seconds: s}), "more %v", s)
	}
	require.Zero(t, b.e.Snapshot().Stay)
	require.Equal(t, time.Hour, b.e.Snapshot().Steps[2].For)
}

// TestAResetNeedsTheTemperatureWellBelowTheLimit: a degree below it is not gone.
func TestAResetNeedsTheTemperatureWellBelowTheLimit(t *testing.T) {
	b := atSoak(t, time.Hour)
	b.watts = func(int) float64 { return plant.A().HeaterW }
	b.until(10*time.Minute, "the trip", func(s Snapshot) bool { return s.Phase == PhaseTripped })
	b.watts = func(int) float64 { return 0 }
	require.Empty(t, b.ask(Ask{Kind: AskAcknowledge}))
	limit := b.e.Snapshot().Info.Profile.Limit
	b.until(time.Hour, "cooling", func(s Snapshot) bool { return s.Temp < limit.Add(-2) })
	require.Equal(t, "still above the limit", b.ask(Ask{Kind: AskReset}))
	b.until(time.Hour, "cooling", func(s Snapshot) bool { return s.Temp < limit.Add(-7) })
	require.Empty(t, b.ask(Ask{Kind: AskReset}))
}

// TestAProgramThatStoodStillDoubts leaves 3 s between two steps and hands over what came
// meanwhile: heat comes back behind three more readings, and it is in the run file.
func TestAProgramThatStoodStillDoubts(t *testing.T) {
	b := atSoak(t, time.Hour)
	b.until(time.Minute, "heat", func(s Snapshot) bool { return s.Duty > 0 })
	b.now += 3 * time.Second
	b.step()
	require.Zero(t, b.out.Duty)
	require.Equal(t, "the program stood still", b.last(EvDoubt).Text)
	b.step()
	require.Zero(t, b.out.Duty)
}

func TestAWaitThatLastsTooLongAndALogThatIsFullAreAlarms(t *testing.T) {
	b := newBench(t, temper(t, time.Hour))
	b.until(time.Hour, "the wait", func(s Snapshot) bool { return s.Steps[s.Step].Kind == profiles.Wait })
	require.False(t, stands(b.e.Snapshot(), alarm.WaitTooLong))
	b.run(b.e.Snapshot().Steps[1].Most + time.Second)
	require.True(t, stands(b.e.Snapshot(), alarm.WaitTooLong))
	require.False(t, stands(b.e.Snapshot(), alarm.LogFull))
	b.full = true
	b.step()
	require.True(t, stands(b.e.Snapshot(), alarm.LogFull))
}
