package control

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe"
)

func TestAPersonsGainsAreTakenWithoutABumpRecordedAndTakenBack(t *testing.T) {
	b := atSoak(t, time.Hour)
	b.run(10 * time.Minute)
	before := b.out.Duty
	calm := Gains{Kp: 0.02, TiS: 300, TdS: 20, Weight: 0.8}
	require.Empty(t, b.ask(Ask{Kind: AskGains, Gains: &calm}))
	require.InDelta(t, before, b.out.Duty, 60, "no bump: what is left is the reading's noise")
	ev := b.last(EvGains)
	calm.From = "set by a person"
	require.Equal(t, calm, *ev.Gains)
	require.Equal(t, CautiousGains(), *ev.Was)
	s := b.e.Snapshot()
	require.Equal(t, calm, s.Gains)
	require.Equal(t, CautiousGains(), s.Info.Gains, "the head stays what it was")
	require.Equal(t, "gains", s.Undo)

	require.Empty(t, b.ask(Ask{Kind: AskUndo}))
	require.Equal(t, CautiousGains(), b.e.Snapshot().Gains)
	require.Equal(t, "undo", b.last(EvGains).Word)
	require.Empty(t, b.e.Snapshot().Undo)
}

func TestGainsOutsideTheirRangesAreRefused(t *testing.T) {
	b := atSoak(t, time.Hour)
	good := Gains{Kp: 0.02, TiS: 300, TdS: 20, Weight: 1}
	for name, change := range map[string]func(*Gains){
		"kp 0":        func(g *Gains) { g.Kp = 0 },
		"kp large":    func(g *Gains) { g.Kp = 10.1 },
		"kp NaN":      func(g *Gains) { g.Kp = math.NaN() },
		"ti short":    func(g *Gains) { g.TiS = 0.009 },
		"ti long":     func(g *Gains) { g.TiS = 100*3600 + 1 },
		"ti Inf":      func(g *Gains) { g.TiS = math.Inf(1) },
		"td below 0":  func(g *Gains) { g.TdS = -1 },
		"td long":     func(g *Gains) { g.TdS = 100*3600 + 1 },
		"weight":      func(g *Gains) { g.Weight = 1.01 },
		"weight less": func(g *Gains) { g.Weight = -0.01 },
	} {
		g := good
		change(&g)
		require.NotEmpty(t, b.ask(Ask{Kind: AskGains, Gains: &g}), name)
	}
	require.NotEmpty(t, b.ask(Ask{Kind: AskGains}))
	require.Equal(t, CautiousGains(), b.e.Snapshot().Gains)
	require.Zero(t, b.count(EvGains))
}

func TestADutyByHandLastsAtMostTenMinutesAndTheLawTakesOver(t *testing.T) {
	b := atSoak(t, 2*time.Hour)
	b.run(20 * time.Minute)
	for _, a := range []Ask{{DutyPM: 300, Seconds: 601}, {DutyPM: 300, Seconds: -1},
		{DutyPM: 300, Seconds: math.NaN()}, {DutyPM: 1001, Seconds: 60}, {DutyPM: -1, Seconds: 60}, {}} {
		a.Kind = AskDuty
		require.NotEmpty(t, b.ask(a), "%+v", a)
	}
	hold := 0
	for range 480 { // what it takes in the mean of two minutes
		b.step()
		hold += b.out.Duty
	}
	hold /= 480
	require.Empty(t, b.ask(Ask{Kind: AskDuty, DutyPM: hold, Seconds: 600}))
	start := b.now
	require.Equal(t, b.e.now+600*time.Second, b.e.Snapshot().ByHand)
	for b.e.Snapshot().ByHand != 0 {
		require.Equal(t, hold, b.out.Duty)
		b.step()
	}
	require.InDelta(t, 600, (b.now - start).Seconds(), 0.5)
	require.InDelta(t, hold, b.out.Duty, 150, "the law begins near what was")
	require.Equal(t, "its time is over", b.last(EvDuty).Text)

	// From another duty than the law's own, and with the reading away from the setpoint.
	require.Empty(t, b.ask(Ask{Kind: AskDuty, DutyPM: 100, Seconds: 60}))
	b.run(50 * time.Second)
	require.Equal(t, 100, b.out.Duty)
	require.Empty(t, b.ask(Ask{Kind: AskDuty}), "no seconds end it")
	require.InDelta(t, 100, b.out.Duty, 60, "no bump: what is left is the reading's noise")
	require.Zero(t, b.e.Snapshot().ByHand)
}

func TestADutyByHandEndsWithWhatTakesTheHeatAway(t *testing.T) {
	bad := func(b *bench) { b.read = func(r *probe.Reading) bool { r.Fault = probe.FaultOpen; return true } }
	for _, c := range []struct {
		name string
		does func(*bench)
		why  string
	}{
		{"a doubt", func(b *bench) { bad(b); b.step() }, "a doubt took the heat away"},
		{"heat off", func(b *bench) { b.ask(Ask{Kind: AskHeatOff}) }, "the run tripped"},
		{"the next step", func(b *bench) { b.ask(Ask{Kind: AskSkip}) }, "its step is over"},
		{"the end", func(b *bench) { b.ask(Ask{Kind: AskStop}) }, "the run ended"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := atSoak(t, time.Hour)
			require.Empty(t, b.ask(Ask{Kind: AskDuty, DutyPM: 500, Seconds: 300}))
			b.run(5 * time.Second)
			require.Equal(t, 500, b.out.Duty)
			c.does(b)
			require.Zero(t, b.out.Duty)
			require.Equal(t, c.why, b.last(EvDuty).Text)
			require.Nil(t, b.last(EvDuty).DutyPM)
			require.Zero(t, b.e.Snapshot().ByHand)
			require.NotEmpty(t, b.ask(Ask{Kind: AskDuty, DutyPM: 500, Seconds: 300}),
				"there is no heat to give")
		})
	}
}

func TestADutyByHandEndsWithTheHeatOfAWait(t *testing.T) {
	b := newBench(t, temper(t, time.Hour))
	b.until(time.Hour, "the wait", func(s Snapshot) bool { return s.Step == 1 })
	b.run(b.e.Snapshot().Steps[1].Most - time.Minute)
	require.Empty(t, b.ask(Ask{Kind: AskDuty, DutyPM: 200, Seconds: 300}))
	b.run(2 * time.Minute)
	require.Zero(t, b.out.Duty)
	require.Zero(t, b.e.Snapshot().ByHand)
	require.Equal(t, "the heat of this wait is over", b.last(EvDuty).Text)
}

func TestADutyByHandDoesNotHeatFarAboveTheSetpoint(t *testing.T) {
	b := atSoak(t, time.Hour)
	require.Empty(t, b.ask(Ask{Kind: AskDuty, DutyPM: 1000, Seconds: 600}))
	b.until(10*time.Minute, "the end of it", func(s Snapshot) bool { return s.ByHand == 0 })
	s := b.e.Snapshot()
	require.InDelta(t, float64(s.Set.Add(handAbove)), float64(s.Temp), 1)
	require.Contains(t, b.last(EvDuty).Text, "above the setpoint")
	require.NotEmpty(t, b.ask(Ask{Kind: AskDuty, DutyPM: 1000, Seconds: 60}))
}

func TestTheLawSaysWhatItDoes(t *testing.T) {
	b := atSoak(t, time.Hour)
	require.NotEmpty(t, b.e.Snapshot().Law)
	b.ask(Ask{Kind: AskHeatOff})
	require.Empty(t, b.e.Snapshot().Law)
	b.ask(Ask{Kind: AskAcknowledge})
	b.ask(Ask{Kind: AskReset})
	require.Empty(t, b.ask(Ask{Kind: AskGoOn}))
	b.run(2 * time.Second)
	require.NotEmpty(t, b.e.Snapshot().Law)
}

// TestTheContactorSwitchesAroundTheSetpoint holds plant A with a contactor for two hours.
func TestTheContactorSwitchesAroundTheSetpoint(t *testing.T) {
	info := testInfo(temper(t, 3*time.Hour))
	info.Shop.Contactor = &Contactor{DeadbandC: 2, MinOnS: 20, MinOffS: 40}
	b := newBenchOf(t, info)
	b.until(time.Hour, "the wait", func(s Snapshot) bool { return s.Step == 1 })
	b.ask(Ask{Kind: AskConfirm})
	on, since := b.out.Duty > 0, time.Duration(0)
	switches := 0
	for end := b.now + 2*time.Hour; b.now < end; {
		b.step()
		require.Contains(t, []int{0, 1000}, b.out.Duty)
		if now := b.out.Duty > 0; now != on {
			least := 20 * time.Second
			if !on {
				least = 40 * time.Second
			}
			if switches > 0 {
				require.GreaterOrEqual(t, b.now-since, least)
			}
			on, since = now, b.now
			switches++
		}
	}
	require.Greater(t, switches, 20)
	require.Less(t, switches, 2*7200/60+2)
	s := b.e.Snapshot()
	require.InDelta(t, float64(s.Set), float64(s.Temp), 25, "it swings by its dead time")
	require.NotEmpty(t, b.ask(Ask{Kind: AskGains, Gains: &Gains{Kp: 0.02, TiS: 300, Weight: 1}}))
	require.NotEmpty(t, b.ask(Ask{Kind: AskDuty, DutyPM: 500, Seconds: 60}))
}

func TestAContactorGoesOffAtOnceWithADoubt(t *testing.T) {
	info := testInfo(temper(t, time.Hour))
	info.Shop.Contactor = &Contactor{DeadbandC: 2, MinOnS: 600, MinOffS: 60}
	b := newBenchOf(t, info)
	b.run(59 * time.Second)
	require.Zero(t, b.out.Duty, "nobody knows what it did before the run")
	b.run(2 * time.Second)
	require.Equal(t, 1000, b.out.Duty)
	bad := true
	b.read = func(r *probe.Reading) bool {
		if bad {
			r.Fault = probe.FaultOpen
		}
		return true
	}
	b.step()
	require.Zero(t, b.out.Duty, "whatever its least time on")
	off := b.now
	bad = false
	for b.out.Duty == 0 {
		b.step()
	}
	require.InDelta(t, 60, (b.now - off).Seconds(), 0.5)
}

func TestAContactorMustMakeSense(t *testing.T) {
	for _, c := range []Contactor{{}, {DeadbandC: -1}, {DeadbandC: 51}, {DeadbandC: 1, MinOnS: -1},
		{DeadbandC: 1, MinOffS: 3601}, {DeadbandC: math.NaN()}} {
		info := testInfo(temper(t, time.Hour))
		info.Shop.Contactor = &c
		require.Error(t, Check(info), "%+v", c)
	}
}

// TestTheLawIsMadeFromTheHead: a model of one dead time or of a slope alone makes a law as well.
func TestTheLawIsMadeFromTheHead(t *testing.T) {
	for _, m := range []ModelInfo{
		{SlopeCS: 1, DeadS: 30}, {RiseC: 600, SlopeCS: 1, TimeS: 600, DeadS: 30},
		{RiseC: 600, SlopeCS: 1, TimeS: 600, SecondS: 25, DeadS: 5, HoldPM: 250, HoldC: 200, NoiseC: 0.3},
	} {
		info := testInfo(temper(t, time.Hour))
		info.Model = &m
		require.NoError(t, Check(info))
		l := m.Law()
		require.InDelta(t, m.DeadS+m.SecondS, l.Tau+l.Th, 1e-9)
		require.Positive(t, l.T)
	}
	info := testInfo(temper(t, time.Hour))
	info.Gains.TiS = 0
	require.Error(t, Check(info))
	info.Shop.NoHeater = true
	require.NoError(t, Check(info), "without a heater there is no law")
	require.Zero(t, (*ModelInfo)(nil).Law())
}

// newBenchOf is a bench on a head of its own.
func newBenchOf(t testing.TB, info Info) *bench {
	b := newBench(t, info.Profile)
	e, err := New(Config{Info: info, Belief: b.e.cfg.Belief})
	require.NoError(t, err)
	b.e = e
	return b
}
