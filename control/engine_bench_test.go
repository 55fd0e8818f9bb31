package control_test

import (
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/plant"
	"strawline/probe/temp"
	"strawline/profiles"
)

// benchEngine is an engine in a soak, as the keeper makes it, with so many channels.
func benchEngine(b testing.TB, channels int, change func(*control.Info),
	ovens ...*plant.Oven) (*control.Engine, func() control.Output) {
	b.Helper()
	info := control.Info{Schema: 1, Unit: "C", Start: time.Date(2026, 1, 5, 8, 0, 0, 0, time.UTC),
		Gains: control.CautiousGains(), Shop: control.Shop{LimitC: 250, BoardLimC: 260, CeilingC: 300},
		Profile: profiles.Profile{Name: "b", Unit: temp.Celsius, Limit: 240, Longest: 1 << 62,
			Steps: []profiles.Step{{Kind: profiles.Soak, To: 200, For: 1 << 61, Band: 5}}}}
	for range channels {
		info.Shop.Channels = append(info.Shop.Channels, "probe")
	}
	change(&info)
	e, err := control.New(control.Config{Info: info, Belief: belief.Default(),
		Keep: runlog.RoundOwn})
	if err != nil {
		b.Fatal(err)
	}
	now, duty := time.Duration(0), 0
	batch := probe.Batch{Link: probe.Link{State: probe.LinkUp, Heats: true}}
	return e, func() control.Output {
		now += 250 * time.Millisecond
		batch.Readings = batch.Readings[:0]
		for c := range channels {
			batch.Readings = append(batch.Readings, probe.Reading{At: now, Channel: c + 1, Cold: 22,
				Hot: temp.C(200 + 0.1*float64(now/time.Second%5)), Raw: uint32(now / time.Millisecond)})
		}
		for _, o := range ovens {
			o.Step(float64(duty) / 1000 * plant.A().HeaterW)
			batch.Readings[0].Hot = o.Probe()
		}
		out := e.Step(now, control.Input{Batch: batch})
		duty = out.Duty
		return out
	}
}

// TestAStepAllocatesNothing counts over ten minutes of steps of each kind: there is no room that is
// made anew now and then either. What makes an event takes memory for it.
func TestAStepAllocatesNothing(t *testing.T) {
	for name, change := range map[string]func(*control.Info){
		"the law":     func(*control.Info) {},
		"a model":     func(i *control.Info) { i.Model = benchModel() },
		"a blade":     func(i *control.Info) { i.Blade = benchBlade() },
		"a contactor": func(i *control.Info) { i.Shop.Contactor = &control.Contactor{DeadbandC: 20} },
		"no heater":   func(i *control.Info) { i.Shop.NoHeater = true },
	} {
		var ovens []*plant.Oven
		if name == "a model" { // the guard tells of an oven that is not like its model
			oven, _, err := plant.At(plant.A(), 200)
			require.NoError(t, err)
			ovens = append(ovens, oven)
		}
		e, step := benchEngine(t, 2, change, ovens...)
		for range 4 * 600 {
			step()
		}
		require.Zero(t, testing.AllocsPerRun(1, func() {
			for range 4 * 300 {
				step()
			}
		}), name)
		require.Equal(t, control.PhaseRunning, e.Phase())
	}
}

// TestSwingsAllocateNothing does the same while a tuning test swings reference oven A.
func TestSwingsAllocateNothing(t *testing.T) {
	e, step := benchEngine(t, 1, func(i *control.Info) {
		i.Test = &control.TestInfo{Kind: control.TestRelay, TargetC: 200, MostS: 12 * 3600}
		i.Profile.Steps[0].Band = 20 // or the soak's words change, which are events
	}, plant.New(plant.A(), 22))
	for n := 0; e.Snapshot().Test != control.TestSwinging; n++ {
		require.Less(t, n, 4*3600)
		step()
	}
	require.Zero(t, testing.AllocsPerRun(1, func() {
		for range 4 * 100 {
			step()
		}
	}))
	require.Equal(t, control.TestSwinging, e.Snapshot().Test)
}

// TestALandingAllocatesNothing goes from a cold oven to its heat and looks at each step that made no
// event: the law's fits at the end of the heat-up are among them.
func TestALandingAllocatesNothing(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	for name, model := range map[string]*control.ModelInfo{"none": nil, "known": benchModel()} {
		e, step := benchEngine(t, 1, func(i *control.Info) { i.Model, i.Blade = model, benchBlade() },
			plant.New(plant.A(), 22))
		quiet, made := 0, uint64(0)
		var before, after runtime.MemStats
		for n := range 4 * 900 {
			runtime.ReadMemStats(&before)
			out := step()
			runtime.ReadMemStats(&after)
			if len(out.Records) == 1 && n > 0 { // the sample alone
				quiet++
				made += after.Mallocs - before.Mallocs
			}
		}
		require.Greater(t, quiet, 4*890)
		require.LessOrEqual(t, made, uint64(3), "model %s: the runtime itself takes one now and then",
			name)
		require.InDelta(t, 200, float64(e.Snapshot().Temp), 2, "it has landed")
	}
}

// benchBlade has no steel: the words of its hardness, every ten seconds, take memory.
func benchBlade() *control.BladeInfo { return &control.BladeInfo{ThickMM: 4} }

func benchModel() *control.ModelInfo {
	return &control.ModelInfo{RiseC: 526, SlopeCS: 1.067, TimeS: 493, SecondS: 24, DeadS: 6,
		HoldPM: 250, HoldC: 200, NoiseC: 0.3}
}

// BenchmarkEngineStep prints the time and the allocations of one step, of which there are four
// a second, with the records that it makes for the run file.
func BenchmarkEngineStep(b *testing.B) {
	for _, c := range []struct {
		name     string
		channels int
		change   func(*control.Info)
	}{
		{"1-channel", 1, func(*control.Info) {}},
		{"2-channels", 2, func(*control.Info) {}},
		{"everything", 2, func(i *control.Info) {
			i.Model, i.Blade = benchModel(), benchBlade()
			i.Shop.Corrections = []control.Correction{{PointsC: [][2]float64{{0, 0.4}, {250, 249}}}}
		}},
		{"everything-and-a-steel", 2, func(i *control.Info) {
			i.Model, i.Blade = benchModel(), &control.BladeInfo{ThickMM: 4, Steel: "1084"}
			i.Shop.Corrections = []control.Correction{{PointsC: [][2]float64{{0, 0.4}, {250, 249}}}}
		}},
	} {
		b.Run(c.name, func(b *testing.B) {
			_, step := benchEngine(b, c.channels, c.change)
			for range 4 * 600 {
				step()
			}
			b.ReportAllocs()
			for b.Loop() {
				step()
			}
		})
	}
}

// BenchmarkEngineLanding prints the mean and the longest step from a cold oven through the landing.
func BenchmarkEngineLanding(b *testing.B) {
	var longest, sum time.Duration
	n := 0
	for b.Loop() {
		_, step := benchEngine(b, 1, func(i *control.Info) {
			i.Model, i.Blade = benchModel(), benchBlade()
		}, plant.New(plant.A(), 22))
		for range 4 * 900 {
			start := time.Now()
			step()
			took := time.Since(start)
			longest, sum, n = max(longest, took), sum+took, n+1
		}
	}
	b.ReportMetric(float64(longest.Nanoseconds())/1e3, "longest-us")
	b.ReportMetric(float64(sum.Nanoseconds())/1e3/float64(n), "mean-us")
}

// BenchmarkEngineSnapshot prints what it takes to hand a screen a Snapshot.
func BenchmarkEngineSnapshot(b *testing.B) {
	e, step := benchEngine(b, 2, func(*control.Info) {})
	for range 1000 {
		step()
	}
	b.ReportAllocs()
	for b.Loop() {
		s := e.Snapshot()
		if s.Info == nil {
			b.Fatal("no snapshot")
		}
	}
}
