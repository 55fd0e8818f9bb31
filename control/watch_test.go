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
)

// knownBench is oven A with the model that a cold start found of it, in its soak or at its start.
func knownBench(t *testing.T, soak bool) *bench { return slopeBench(t, 0.966, soak) }

// slopeBench has a model of that slope, °C/s.
func slopeBench(t *testing.T, slope float64, soak bool) *bench {
	info := testInfo(temper(t, 2*time.Hour))
	info.Model = &ModelInfo{SlopeCS: slope, DeadS: 29.2, HoldPM: 257, HoldC: 200, NoiseC: 0.15,
		From: "test"}
	b := newBenchOf(t, info)
	if soak {
		b.until(time.Hour, "the wait", func(s Snapshot) bool { return s.Step == 1 })
		b.ask(Ask{Kind: AskConfirm})
		b.run(40 * time.Minute)
	}
	return b
}

// TestWhatTheGuardFindsTakesTheHeatAway has the faults that only a comparison of heats shows.
func TestWhatTheGuardFindsTakesTheHeatAway(t *testing.T) {
	for name, c := range map[string]struct {
		soak bool
		by   time.Duration
		code string
		find guard.Finding
		do   func(*bench)
	}{
		"no heat": {false, 120 * time.Second, alarm.NoHeat, guard.NoHeat, func(b *bench) {
			b.watts = func(int) float64 { return 0 }
		}},
		"stuck on": {true, 150 * time.Second, alarm.HeatAtZero, guard.HeatAtZero, func(b *bench) {
			b.watts = func(int) float64 { return plant.A().HeaterW }
		}},
		"lead shorted": {true, 10 * time.Second, alarm.ProbeOut, guard.LeadShort, func(b *bench) {
			b.read = func(r *probe.Reading) bool { r.Hot = 24; return true }
		}},
		"fallen out": {true, 180 * time.Second, alarm.ProbeOut, guard.FellOut, func(b *bench) {
			v := float64(b.oven.Probe())
			b.read = func(r *probe.Reading) bool {
				v += (22 - v) * 0.25 / 20
				r.Hot = temp.C(v)
				return true
			}
		}},
	} {
		t.Run(name, func(t *testing.T) {
			b := knownBench(t, c.soak)
			require.Equal(t, PhaseRunning, b.e.Phase())
			c.do(b)
			b.until(c.by, "the trip", func(s Snapshot) bool { return s.Phase == PhaseTripped })
			require.Equal(t, c.find.String(), b.e.Snapshot().Why)
			require.Zero(t, b.out.Duty)
			require.True(t, stands(b.e.Snapshot(), c.code))
		})
	}
}

// TestAnAlarmOfTheGuardDoesNotChatter: a lead that breaks the circuit now and then as well makes
// every other reading a bad one, at which what was found is not known for a moment.
func TestAnAlarmOfTheGuardDoesNotChatter(t *testing.T) {
	for code, broken := range map[string]func(*bench, *probe.Reading){
		alarm.ProbeOut:   func(_ *bench, r *probe.Reading) { r.Hot = 24 },
		alarm.HeatAtZero: func(b *bench, _ *probe.Reading) { b.watts = func(int) float64 { return 2000 } },
		alarm.NoHeat:     func(b *bench, _ *probe.Reading) { b.watts = func(int) float64 { return 0 } },
	} {
		b := knownBench(t, true)
		n := 0
		b.read = func(r *probe.Reading) bool {
			broken(b, r)
			if n++; b.e.found(guard.LeadShort, guard.HeatAtZero, guard.NoHeat) && n%7 == 0 {
				r.Fault = probe.FaultOpen
			}
			return true
		}
		b.until(150*time.Second, code, func(s Snapshot) bool { return stands(s, code) })
		b.run(time.Minute)
		raised := 0
		for _, e := range b.evs {
			if e.Kind == EvAlarm && e.Code == code && e.Word == "B" {
				raised++
			}
		}
		require.Equal(t, 1, raised, code)
	}
}

// TestAMessageIsNoAlarm opens the door, and then lets the mains sag.
func TestAMessageIsNoAlarm(t *testing.T) {
	b := knownBench(t, true)
	before := b.count(EvOven)
	b.oven.SetDoor(true)
	b.run(15 * time.Second)
	require.Equal(t, before+1, b.count(EvOven))
	require.Equal(t, guard.Door.String(), b.last(EvOven).Text)
	b.oven.SetDoor(false)
	b.run(30 * time.Minute)
	b.watts = func(duty int) float64 { return 0.81 * float64(duty) / 1000 * plant.A().HeaterW }
	b.run(10 * time.Minute)
	require.Equal(t, guard.Mains.String(), b.last(EvOven).Text)
	require.Equal(t, PhaseRunning, b.e.Phase())
	for _, ev := range b.evs {
		require.False(t, ev.Kind == EvAlarm && ev.Code != alarm.OffPlan, "%+v", ev)
	}
}

// TestAMessageIsToldOnce: also where a reading now and then is a bad one.
func TestAMessageIsToldOnce(t *testing.T) {
	b := knownBench(t, true)
	before, n := b.count(EvOven), 0
	b.read = func(r *probe.Reading) bool {
		if n++; n%9 == 0 && b.e.found(guard.Door) {
			r.Fault = probe.FaultOpen
		}
		return true
	}
	b.oven.SetDoor(true)
	b.run(20 * time.Second)
	require.Positive(t, b.e.Snapshot().Doubts)
	require.Equal(t, before+1, b.count(EvOven))
}

// TestHalfTheHeatIsAnAlarm and no more.
func TestHalfTheHeatIsAnAlarm(t *testing.T) {
	b := knownBench(t, true)
	b.watts = func(duty int) float64 { return 0.5 * float64(duty) / 1000 * plant.A().HeaterW }
	b.until(20*time.Minute, "the alarm", func(s Snapshot) bool { return stands(s, alarm.WeakHeat) })
	require.Equal(t, PhaseRunning, b.e.Phase())
}

// TestAWarmBoardIsAnAlarm before it becomes a doubt.
func TestAWarmBoardIsAnAlarm(t *testing.T) {
	b := knownBench(t, false)
	b.run(time.Minute)
	b.read = func(r *probe.Reading) bool { r.Cold = 46; return true }
	b.until(10*time.Second, "the alarm", func(s Snapshot) bool { return stands(s, alarm.BoardWarm) })
	require.Equal(t, PhaseRunning, b.e.Phase())
}

// TestTheGuardKeepsTheModel: a switch that is stuck on is found though the law has said for long
// that the oven is unlike its model.
func TestTheGuardKeepsTheModel(t *testing.T) {
	b := slopeBench(t, 2.2*0.966, true)
	require.NotEmpty(t, b.e.Snapshot().Unlike)
	b.run(20 * time.Minute)
	b.watts = func(int) float64 { return plant.A().HeaterW }
	b.until(150*time.Second, "the trip", func(s Snapshot) bool { return s.Phase == PhaseTripped })
	require.Contains(t, b.e.Snapshot().Why, guard.HeatAtZero.String())
	b.e.cfg.Info.Model = nil
	require.Zero(t, b.e.guardConfig())
	require.Zero(t, (*ModelInfo)(nil).guardModel())
}

// TestAfterGoOnTheGuardBeginsAnew: what was put right is not found again.
func TestAfterGoOnTheGuardBeginsAnew(t *testing.T) {
	b := knownBench(t, true)
	b.read = func(r *probe.Reading) bool { r.Hot = 24; return true }
	b.until(10*time.Second, "the trip", func(s Snapshot) bool { return s.Phase == PhaseTripped })
	b.read = nil
	b.run(5 * time.Second)
	b.ask(Ask{Kind: AskAcknowledge})
	require.Empty(t, b.ask(Ask{Kind: AskReset}))
	require.Empty(t, b.ask(Ask{Kind: AskGoOn}))
	b.run(10 * time.Minute)
	require.Equal(t, PhaseRunning, b.e.Phase())
}

// TestAStuckChipIsNamedBesideNoHeat: where its word has stood for a while.
func TestAStuckChipIsNamedBesideNoHeat(t *testing.T) {
	w := watch{moved: time.Minute}
	at := time.Minute + standsFrom
	require.Equal(t, guard.NoHeat.String(), w.why(guard.NoHeat, at-tick))
	require.Contains(t, w.why(guard.NoHeat, at), "the same word for 30 s")
	require.Equal(t, guard.FellOut.String(), w.why(guard.FellOut, at))
	b := knownBench(t, false)
	b.run(time.Minute)
	require.Less(t, b.now-b.e.watch.moved, 10*time.Second, "a chip that works changes its word")
}
