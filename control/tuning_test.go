package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control/tune"
	"strawline/probe"
	"strawline/probe/plant"
	"strawline/probe/temp"
	"strawline/profiles"
)

// tester is a bench whose run is a tuning test of reference oven A.
func tester(t testing.TB, kind string) *bench {
	info := testInfo(profiles.Profile{Name: "test", Title: "tuning test", Unit: temp.Celsius,
		Limit: 240, Longest: 10 * time.Hour, Steps: []profiles.Step{
			{Kind: profiles.Ramp, To: 200, Band: 10},
			{Kind: profiles.Soak, To: 200, Band: 20, For: 9 * time.Hour},
		}})
	info.Blade = nil
	info.Test = &TestInfo{Kind: kind, TargetC: 200, MostS: 3 * 3600}
	return newBenchOf(t, info)
}

// states gives what the test was said to be doing.
func (b *bench) states() (out []string) {
	for _, e := range b.evs {
		if e.Kind == EvTest && (len(out) == 0 || out[len(out)-1] != e.Word) {
			out = append(out, e.Word)
		}
	}
	return out
}

func (b *bench) toState(word string) {
	b.t.Helper()
	b.until(3*time.Hour, word, func(s Snapshot) bool { return s.Test == word })
}

// TestATuningTestSwingsTheOvenAndItsRecordCarriesAModel: what is in the records identifies
// reference oven A. Its slope is that of the reference study's 600 s step fit, 526/493 °C/s for
// the whole duty, and its lag that of the study's tangent, 29.4 s, with 2 s of the filter that
// the samples went through.
func TestATuningTestSwingsTheOvenAndItsRecordCarriesAModel(t *testing.T) {
	b := tester(t, TestRelay)
	v := NewView(*b.e.Snapshot().Info)
	var r tune.Record
	for b.e.Phase() == PhaseRunning && b.now < 3*time.Hour {
		b.step()
		for _, rec := range b.out.Records {
			v.Apply(rec)
			if s := rec.Sample; s != nil && s.Temp[0] != nil {
				r = append(r, tune.Sample{T: s.T.Seconds(), Y: *s.Temp[0], Duty: float64(s.Duty) / 1000})
			}
		}
		require.Equal(t, b.e.Snapshot().Test, v.Snapshot().Test)
	}
	require.Equal(t, []string{TestHeating, TestSteady, TestSwinging, TestDone}, b.states())
	require.Equal(t, "done", b.last(EvEnd).Word)
	require.Zero(t, b.out.Duty)
	require.Equal(t, b.e.Snapshot(), v.Snapshot())
	f, err := tune.Identify(r)
	require.NoError(t, err)
	t.Logf("%.0f s in all; %s: slope %.3f °C/s, lag %.1f s", b.now.Seconds(), f.Test,
		f.Model.Slope(), f.Model.Lag())
	require.Equal(t, "relay test", f.Test)
	require.InEpsilon(t, 526.0/493, f.Model.Slope(), 0.12)
	require.InEpsilon(t, 29.4+2, f.Model.Lag(), 0.15)
}

func TestAColdStartThatCarriesAModelNeedsNoSwings(t *testing.T) {
	b := tester(t, TestColdStart)
	b.until(time.Hour, "the end", func(s Snapshot) bool { return s.Phase == PhaseEnded })
	require.Equal(t, []string{TestHeating, TestDone}, b.states())
	require.Equal(t, "done", b.last(EvEnd).Word)
	require.Less(t, b.e.Snapshot().T, 20*time.Minute)
}

func TestWhatDisturbsATestEndsItWithTheHeatOff(t *testing.T) {
	bad := func(b *bench) {
		n := 0
		b.read = func(r *probe.Reading) bool {
			if n++; n < 3 {
				r.Fault = probe.FaultOpen
			}
			return true
		}
		b.step()
	}
	for _, c := range []struct {
		name string
		does func(*bench)
		why  string
		end  string
	}{
		{"a doubt", bad, "heat was taken away", "refused"},
		{"the door", func(b *bench) { b.oven.SetDoor(true); b.run(20 * time.Second) }, "door", "refused"},
		{"a person", func(b *bench) { b.ask(Ask{Kind: AskStop}) }, "stopped by a person", "stopped"},
		{"a heater that sticks", func(b *bench) {
			b.watts = func(int) float64 { return plant.A().HeaterW }
			b.run(2 * time.Minute)
		}, "limit", "refused"},
		{"its longest time", func(b *bench) { b.run(3 * time.Hour) }, "not done in 3h", "refused"},
		{"heat off", func(b *bench) { b.ask(Ask{Kind: AskHeatOff}) }, "tripped", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := tester(t, TestRelay)
			if c.name == "its longest time" { // swings that never end are not to be had
				b.e.test.info.MostS = 1200
				c.why = "not done in 20m"
			} else {
				b.toState(TestSwinging)
				require.NotEmpty(t, b.ask(Ask{Kind: AskSkip}), "no edits in a test")
				require.NotEmpty(t, b.ask(Ask{Kind: AskDuty, DutyPM: 500, Seconds: 60}))
				b.run(time.Minute)
			}
			c.does(b)
			require.Equal(t, TestRefused, b.states()[len(b.states())-1])
			require.Contains(t, b.last(EvTest).Text, c.why)
			require.Equal(t, c.end, b.last(EvEnd).Word)
			for range 100 {
				require.Zero(t, b.out.Duty)
				b.step()
			}
			if c.end == "" {
				b.ask(Ask{Kind: AskAcknowledge})
				b.ask(Ask{Kind: AskReset})
				require.Contains(t, b.ask(Ask{Kind: AskGoOn}), "does not go on")
			}
		})
	}
}

func TestADoubtBeforeTheSwingsDelaysThem(t *testing.T) {
	b := tester(t, TestRelay)
	b.toState(TestSteady)
	b.run(time.Minute)
	n := 0
	b.read = func(r *probe.Reading) bool {
		if n++; n < 4 {
			r.Fault = probe.FaultOpen
		}
		return true
	}
	b.toState(TestSwinging)
	require.Equal(t, 1, b.count(EvDoubt))
	require.Equal(t, PhaseRunning, b.e.Phase())
}

func TestATestMustFitItsRun(t *testing.T) {
	good := tester(t, TestRelay).e.cfg.Info
	for name, change := range map[string]func(*Info){
		"kind":       func(i *Info) { i.Test.Kind = "dance" },
		"no heater":  func(i *Info) { i.Shop.NoHeater = true },
		"contactor":  func(i *Info) { i.Shop.Contactor = &Contactor{DeadbandC: 2} },
		"no time":    func(i *Info) { i.Test.MostS = 0 },
		"long":       func(i *Info) { i.Test.MostS = 13 * 3600 },
		"other heat": func(i *Info) { i.Test.TargetC = 190 },
		"no soak":    func(i *Info) { i.Profile.Steps = i.Profile.Steps[:1] },
		"near limit": func(i *Info) { i.Profile.Limit = 209 },
	} {
		info, test := good, *good.Test
		info.Test = &test
		require.NoError(t, Check(info))
		change(&info)
		require.Error(t, Check(info), name)
	}
}

// TestAWarmOvenIsTestedByItsModelOrNotAtAll: where no heat-up shows how fast the oven answers, the
// swings are planned from what is known, and refused where nothing is.
func TestAWarmOvenIsTestedByItsModelOrNotAtAll(t *testing.T) {
	warm, err := plant.Steady(plant.A(), 0.25)
	require.NoError(t, err)
	require.Greater(t, warm.Probe(), temp.C(190))
	info := tester(t, TestRelay).e.cfg.Info
	b := newBenchOf(t, info)
	b.oven = warm
	b.until(10*time.Minute, "the end", func(s Snapshot) bool { return s.Phase == PhaseEnded })
	require.Equal(t, "refused", b.last(EvEnd).Word)
	require.Contains(t, b.last(EvTest).Text, "did not show how fast the oven answers")

	warm, err = plant.Steady(plant.A(), 0.25)
	require.NoError(t, err)
	info.Model = &ModelInfo{SlopeCS: 1.067, TimeS: 493, DeadS: 30, NoiseC: 0.3}
	b = newBenchOf(t, info)
	b.oven = warm
	b.until(3*time.Hour, "the end", func(s Snapshot) bool { return s.Phase == PhaseEnded })
	require.Equal(t, TestDone, b.states()[len(b.states())-1], b.last(EvTest).Text)
}
