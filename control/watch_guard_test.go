package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control/alarm"
	"strawline/control/guard"
	"strawline/probe"
	"strawline/probe/plant"
	"strawline/probe/temp"
	"strawline/profiles"
)

// TestTheGuardTakesTheModel as it was found: both lags of it are its dead time, and a holding duty
// per mille is a share of the whole.
func TestTheGuardTakesTheModel(t *testing.T) {
	m := &ModelInfo{SlopeCS: 1.067, DeadS: 6, SecondS: 24, TimeS: 493, HoldPM: 250, HoldC: 200,
		NoiseC: 0.3}
	require.Equal(t, guard.Model{Slope: 1.067, Dead: 30, Time: 493, Hold: 0.25, HoldAt: 200},
		m.guardModel())
	b := knownBench(t, false)
	b.e.cfg.Info.Model = m
	require.Equal(t, guard.Config{Model: m.guardModel(), Sigma: 0.3}, b.e.guardConfig())
}

// TestTheGuardSeesEachReadingWithItsDuty runs a guard of its own beside the engine's, on what is
// known outside of it: the reading, the duty that was commanded until then, the setpoint.
func TestTheGuardSeesEachReadingWithItsDuty(t *testing.T) {
	b := knownBench(t, false)
	var own guard.State
	var found guard.Findings
	duty, set := 0.0, 0.0
	var last probe.Reading
	b.read = func(r *probe.Reading) bool { last = *r; return true }
	for range 4 * 180 {
		b.step()
		last.At = b.e.lead.at // on the run's clock
		found = guard.Step(b.e.guardConfig(), &own, guard.Input{At: last.At, Good: true,
			Hot: float64(b.e.lead.clean), Read: float64(last.Hot), Raw: last.Raw, Cold: 22,
			HasCold: true, Duty: duty, Set: set, HasSet: set > 0, Room: 22})
		require.Equal(t, found, b.e.watch.found)
		duty, set = float64(b.out.Duty)/1000, float64(b.e.set)
	}
	require.Positive(t, duty)
	require.Equal(t, own, b.e.watch.state)
}

// TestAWordThatStoodForHalfAMinuteIsNamed, not before, and only beside heat that does not come.
func TestAWordThatStoodForHalfAMinuteIsNamed(t *testing.T) {
	w := watch{moved: time.Minute}
	for stood, named := range map[time.Duration]bool{0: false, 30*time.Second - 1: false,
		30 * time.Second: true, 95 * time.Second: true} {
		require.Equal(t, !named, w.why(guard.NoHeat, time.Minute+stood) == guard.NoHeat.String(), stood)
		require.Equal(t, guard.HeatAtZero.String(), w.why(guard.HeatAtZero, time.Minute+stood))
	}
	require.Contains(t, w.why(guard.NoHeat, time.Minute+95*time.Second), "the same word for 95 s")
}

// TestWhenTheWordMoved: with the reading that brings another, by the run's own clock.
func TestWhenTheWordMoved(t *testing.T) {
	b := knownBench(t, false)
	b.run(10 * time.Second)
	b.read = func(r *probe.Reading) bool { r.Raw = 77; return true }
	b.step()
	at := b.e.lead.at
	require.Equal(t, at, b.e.watch.moved)
	b.run(20 * time.Second)
	require.Equal(t, at, b.e.watch.moved)
	b.read = func(r *probe.Reading) bool { r.Raw = 78; return true }
	b.step()
	require.Equal(t, b.e.lead.at, b.e.watch.moved)
	require.Equal(t, at+20*time.Second+tick, b.e.watch.moved)
}

// TestAChipThatIsStuckInAHeatUpIsNamed in the trip that takes the heat away.
func TestAChipThatIsStuckInAHeatUpIsNamed(t *testing.T) {
	b := knownBench(t, false)
	b.run(time.Minute)
	hot := b.oven.Probe()
	b.read = func(r *probe.Reading) bool { r.Raw, r.Hot = 77, hot; return true }
	b.until(2*time.Minute, "the trip", func(s Snapshot) bool { return s.Phase == PhaseTripped })
	require.Contains(t, b.e.Snapshot().Why, "the chip has said the same word for")
}

// TestAWordThatStandsInASoakIsADoubt: ten minutes of the same word at a duty too small for the
// belief to suspect it, and the heat is back once it moves again.
func TestAWordThatStandsInASoakIsADoubt(t *testing.T) {
	info := testInfo(profiles.Profile{Name: "low", Title: "low", Unit: temp.Celsius, Limit: 240,
		Longest: 10 * time.Hour, Steps: []profiles.Step{{Kind: profiles.Soak, To: 110, Band: 10,
			For: 9 * time.Hour}}})
	info.Model = &ModelInfo{SlopeCS: 0.966, DeadS: 29.2, HoldPM: 257, HoldC: 200, NoiseC: 0.15}
	b := newBenchOf(t, info)
	b.run(40 * time.Minute)
	require.Zero(t, b.count(EvDoubt))
	hot, was := b.oven.Probe(), b.now
	b.read = func(r *probe.Reading) bool { r.Raw, r.Hot = 77, hot; return true }
	b.until(11*time.Minute, "the doubt", func(s Snapshot) bool { return s.Doubt != "" })
	require.InDelta(t, 600, (b.now - was).Seconds(), 15)
	require.Equal(t, guard.Frozen.String(), b.e.Snapshot().Doubt)
	require.Zero(t, b.out.Duty)
	b.run(5 * time.Second)
	require.Zero(t, b.out.Duty, "for as long as it stands")
	require.Equal(t, PhaseRunning, b.e.Phase())
	b.read = nil
	b.until(2*time.Second, "the end of it", func(s Snapshot) bool { return s.Doubt == "" })
}

// TestHeatThatNobodySentTakesAResetBack: a reset that waited for the board does not stand beside
// heat at duty 0, which trips for as long as it comes.
func TestHeatThatNobodySentTakesAResetBack(t *testing.T) {
	b := knownBench(t, true)
	require.Empty(t, b.ask(Ask{Kind: AskHeatOff}))
	latch := probe.LatchHighLimit
	b.read = func(r *probe.Reading) bool { r.Latches = latch; return true }
	b.watts = func(int) float64 { return plant.A().HeaterW }
	b.until(150*time.Second, "the finding", func(Snapshot) bool { return b.e.found(guard.HeatAtZero) })
	require.Empty(t, b.ask(Ask{Kind: AskAcknowledge}))
	require.NotEmpty(t, b.ask(Ask{Kind: AskReset}))
	b.e.trip.asked = b.e.now // as if it was asked just before
	latch = 0
	b.step()
	require.Equal(t, 1, b.count(EvReset), "the board has cleared its latch")
	require.Equal(t, guard.HeatAtZero.String(), b.ask(Ask{Kind: AskGoOn}), "in the very next step")
	require.Equal(t, "reset first", b.ask(Ask{Kind: AskGoOn}))
	require.Equal(t, guard.HeatAtZero.String(), b.e.Snapshot().Why)
	require.Equal(t, PhaseTripped, b.e.Phase())
}

// TestWhatAPersonPutRightIsForgotten: a finding that has tripped once does not take back his reset
// though the reading has not moved yet; with the go on it is gone, and its alarm with it.
func TestWhatAPersonPutRightIsForgotten(t *testing.T) {
	b := knownBench(t, true)
	b.read = func(r *probe.Reading) bool { r.Hot, r.Raw = 24, 77; return true }
	b.until(10*time.Second, "the trip", func(s Snapshot) bool { return s.Phase == PhaseTripped })
	b.run(2 * time.Second)
	require.True(t, b.e.found(guard.LeadShort))
	require.True(t, stands(b.e.Snapshot(), alarm.ProbeOut))
	moved := b.e.watch.moved
	require.Empty(t, b.ask(Ask{Kind: AskAcknowledge}))
	require.Empty(t, b.ask(Ask{Kind: AskReset}))
	b.run(2 * time.Second)
	require.True(t, b.e.found(guard.LeadShort))
	require.Empty(t, b.ask(Ask{Kind: AskGoOn}))
	require.Equal(t, PhaseRunning, b.e.Phase())
	require.Zero(t, b.e.watch.found)
	require.Equal(t, moved, b.e.watch.moved, "when the chip's word last moved is no finding")
	require.Equal(t, uint32(77), b.e.watch.word)
	b.run(3 * time.Second) // its off-delay
	require.False(t, stands(b.e.Snapshot(), alarm.ProbeOut))
}

// TestWhereThePersonHoldsTheHeatNothingIsCompared: his duty is not known.
func TestWhereThePersonHoldsTheHeatNothingIsCompared(t *testing.T) {
	b, set := noHeaterBench(t, temper(t, time.Hour), time.Second)
	b.e.cfg.Info.Model = &ModelInfo{SlopeCS: 0.966, DeadS: 29.2, HoldPM: 257, HoldC: 200}
	*set = temp.F(400)
	b.run(20 * time.Minute)
	require.Greater(t, b.e.Snapshot().Temp, temp.C(150), "it heats, at a duty of 0")
	require.Zero(t, b.e.watch)
	require.Zero(t, b.count(EvTrip))
}
