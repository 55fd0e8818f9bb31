package control

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/plant"
	"strawline/probe/temp"
	"strawline/profiles"
)

// bench is an engine on reference oven A with ideal readings, no port and no chip between.
type bench struct {
	t    testing.TB
	e    *Engine
	oven *plant.Oven
	now  time.Duration
	out  Output
	evs  []Event
	rnd  *rand.Rand
	seq  uint16

	watts func(duty int) float64    // the switch; nil for a sound one
	read  func(*probe.Reading) bool // changes a reading; false drops it
	link  func(*probe.Batch)        // changes what the port says
	asks  []Ask
	full  bool
	noise float64
}

const tick = 250 * time.Millisecond

func testInfo(p profiles.Profile) Info {
	return Info{Schema: 1, Run: "t", Unit: "F", Profile: p, Start: time.Date(2026, 1, 5, 8, 0, 0, 0, time.UTC),
		Gains: CautiousGains(),
		Shop:  Shop{Oven: "A", LimitC: 250, BoardLimC: 260, CeilingC: 300, Channels: []string{"oven air"}},
		Blade: &BladeInfo{ThickMM: 4}}
}

func newBench(t testing.TB, p profiles.Profile) *bench {
	e, err := New(Config{Info: testInfo(p), Belief: belief.Default()})
	require.NoError(t, err)
	return &bench{t: t, e: e, oven: plant.New(plant.A(), 22), rnd: rand.New(rand.NewPCG(1, 2)), noise: 0.25}
}

// step is one 250 ms of the shop.
func (b *bench) step() {
	w := float64(b.out.Duty) / 1000 * plant.A().HeaterW
	if b.watts != nil {
		w = b.watts(b.out.Duty)
	}
	b.oven.Step(w)
	b.now += tick
	b.seq++
	y := b.oven.Probe().Add(temp.Delta((b.rnd.Float64()*2 - 1) * b.noise))
	r := probe.Reading{At: b.now, Channel: 1, Hot: y, Cold: 22, HasCold: true, Raw: b.rnd.Uint32(), Seq: b.seq}
	batch := probe.Batch{Link: probe.Link{State: probe.LinkUp, Heats: true}}
	if b.read == nil || b.read(&r) {
		batch.Readings = append(batch.Readings, r)
	}
	if b.link != nil {
		b.link(&batch)
	}
	b.out = b.e.Step(b.now, Input{Batch: batch, Asks: b.asks, LogFull: b.full})
	b.asks = nil
	for _, rec := range b.out.Records {
		if rec.Event != nil {
			b.evs = append(b.evs, *rec.Event)
		}
	}
}

func (b *bench) run(d time.Duration) {
	for end := b.now + d; b.now < end; {
		b.step()
	}
}

func (b *bench) until(limit time.Duration, what string, f func(Snapshot) bool) {
	b.t.Helper()
	for end := b.now + limit; b.now < end; {
		b.step()
		if f(b.e.Snapshot()) {
			return
		}
	}
	b.t.Fatalf("%s did not come within %v; now %+v", what, limit, b.e.Snapshot().Phase)
}

func (b *bench) ask(a Ask) string {
	b.asks = append(b.asks, a)
	b.step()
	for i := len(b.evs) - 1; i >= 0; i-- {
		if b.evs[i].Kind == EvAsk {
			return b.evs[i].Text
		}
	}
	b.t.Fatal("an ask was not answered")
	return ""
}

func (b *bench) count(k EventKind) (n int) {
	for _, e := range b.evs {
		if e.Kind == k {
			n++
		}
	}
	return n
}

func (b *bench) last(k EventKind) Event {
	for i := len(b.evs) - 1; i >= 0; i-- {
		if b.evs[i].Kind == k {
			return b.evs[i]
		}
	}
	return Event{}
}

func temper(t testing.TB, span time.Duration) profiles.Profile {
	p, err := profiles.Temper(temp.F(400), span, 1, temp.DeltaF(10), temp.Fahrenheit)
	require.NoError(t, err)
	return *p
}

// atSoak brings a bench into its counting soak, the blade confirmed in.
func atSoak(t testing.TB, span time.Duration) *bench {
	b := newBench(t, temper(t, span))
	b.until(time.Hour, "the first wait", func(s Snapshot) bool { return s.Steps[s.Step].Kind == profiles.Wait })
	require.Empty(t, b.ask(Ask{Kind: AskConfirm}))
	b.until(2*time.Hour, "counting", func(s Snapshot) bool { return s.Soak == SoakCounting })
	return b
}

func TestAColdStartHeatsAndSoaksItsTime(t *testing.T) {
	b := atSoak(t, 30*time.Minute)
	require.Greater(t, b.e.Snapshot().Blade, temp.C(198.8), "the soak counts on the blade in the band")
	start := b.now
	b.until(time.Hour, "the end of the soak", func(s Snapshot) bool { return s.Step > 2 || s.Phase != PhaseRunning })
	require.InDelta(t, 1800, (b.now - start).Seconds(), 1)
	ev := b.last(EvSoaked)
	require.InDelta(t, 1800, *ev.SpanS, 0.3)
	require.Zero(t, b.count(EvDoubt))
	require.Zero(t, b.count(EvTrip))
}

func TestTheBladeLagsTheAirAsTabled(t *testing.T) {
	// Lumped blade from 22 °C in air of 200 °C, h_c 8, emissivity 0.6: the time at which it
	// passes 195 °C. Computed independently (radiation integrated, scipy), 3 % asked for.
	for _, c := range []struct{ mm, s float64 }{{3, 1036}, {4, 1381}, {5, 1726}, {6, 2072}} {
		blade, at := temp.C(22), 0.0
		for blade < 195 {
			blade = (&BladeInfo{ThickMM: c.mm}).lag(blade, 200, tick)
			at += tick.Seconds()
		}
		require.InEpsilon(t, c.s, at, 0.03, "%v mm", c.mm)
	}
}

func TestLimitsMustBeInOrder(t *testing.T) {
	for _, c := range []struct {
		name                          string
		profile, oven, board, ceiling float64
		want                          string
	}{
		{"profile above oven", 260, 250, 260, 300, "above the oven's limit"},
		{"oven above board", 230, 261, 260, 300, "above the board's stored limit"},
		{"board above ceiling", 230, 250, 310, 300, "compiled ceiling"},
		{"in order", 230, 250, 260, 300, ""},
		{"all equal", 250, 250, 250, 250, ""},
	} {
		info := testInfo(temper(t, time.Hour))
		info.Profile.Limit = temp.C(c.profile)
		info.Shop.LimitC, info.Shop.BoardLimC, info.Shop.CeilingC = c.oven, c.board, c.ceiling
		_, err := New(Config{Info: info, Belief: belief.Default()})
		if c.want == "" {
			require.NoError(t, err, c.name)
		} else {
			require.ErrorContains(t, err, c.want, c.name)
		}
	}
}

// A setpoint that only a trip ends is none, with a heater and without.
func TestNoStepGoesAboveTheProfilesOwnLimit(t *testing.T) {
	for _, noHeater := range []bool{false, true} {
		info := testInfo(temper(t, time.Hour))
		info.Shop.NoHeater = noHeater
		info.Profile.Limit = info.Profile.Peak()
		_, err := New(Config{Info: info, Belief: belief.Default()})
		require.NoError(t, err)
		info.Profile.Limit = info.Profile.Peak().Add(-0.1)
		_, err = New(Config{Info: info, Belief: belief.Default()})
		require.ErrorContains(t, err, "lower its peak")
	}
}

func TestAFaultTakesTheHeatAwayAtOnceAndThreeGoodReadingsGiveItBack(t *testing.T) {
	b := atSoak(t, time.Hour)
	b.until(time.Minute, "heat", func(s Snapshot) bool { return s.Duty > 0 })
	bad := true
	b.read = func(r *probe.Reading) bool {
		if bad {
			r.Fault = probe.FaultOpen
		}
		return true
	}
	b.step()
	require.Zero(t, b.out.Duty, "in the same step")
	require.Equal(t, "open", b.e.Snapshot().Doubt)
	b.run(5 * time.Second)
	require.Zero(t, b.out.Duty)
	bad = false
	b.step()
	b.step()
	require.Zero(t, b.out.Duty, "two good readings are not enough")
	require.NotEmpty(t, b.e.Snapshot().Doubt)
	b.step()
	require.Empty(t, b.e.Snapshot().Doubt)
	b.run(10 * time.Second)
	require.Equal(t, PhaseRunning, b.e.Phase())
	require.Equal(t, 1, b.e.Snapshot().Doubts)
	require.Equal(t, 1, b.count(EvGap))
	require.InDelta(t, 5.5, *b.last(EvGap).SpanS, 1)
}

func TestTenSecondsOfDoubtAreATripAndOnlyAPersonEndsIt(t *testing.T) {
	b := atSoak(t, time.Hour)
	b.read = func(r *probe.Reading) bool { r.Fault = probe.FaultOpen; return true }
	b.run(9750 * time.Millisecond)
	require.Equal(t, PhaseRunning, b.e.Phase())
	b.run(500 * time.Millisecond)
	require.Equal(t, PhaseTripped, b.e.Phase())
	require.Equal(t, "acknowledge first", b.ask(Ask{Kind: AskReset}))
	require.Equal(t, "acknowledge first, then reset", b.ask(Ask{Kind: AskGoOn}))
	require.Empty(t, b.ask(Ask{Kind: AskAcknowledge}))
	require.Contains(t, b.ask(Ask{Kind: AskReset}), "no good reading", "the cause stands")
	b.read = nil
	done := b.e.Snapshot().SoakDone
	b.run(30 * time.Second)
	require.Equal(t, PhaseTripped, b.e.Phase(), "a good reading gives nothing back")
	require.Zero(t, b.out.Duty)
	require.Equal(t, "reset first", b.ask(Ask{Kind: AskGoOn}))
	require.Empty(t, b.ask(Ask{Kind: AskReset}))
	require.Zero(t, b.out.Duty)
	require.Empty(t, b.ask(Ask{Kind: AskGoOn}))
	b.run(time.Minute)
	s := b.e.Snapshot()
	require.Equal(t, PhaseRunning, s.Phase)
	require.GreaterOrEqual(t, s.SoakDone, done, "the credit is kept")
	for _, a := range s.Alarms {
		require.Equal(t, "off-plan", a.Code, "the trip's own alarms are gone")
	}
}

func TestSixDoubtsInTenMinutesAreATrip(t *testing.T) {
	b := atSoak(t, time.Hour)
	n := 0
	b.read = func(r *probe.Reading) bool {
		if n++; n%240 == 0 { // one bad reading a minute
			r.Fault = probe.FaultOpen
		}
		return true
	}
	b.until(20*time.Minute, "the trip", func(s Snapshot) bool { return s.Phase == PhaseTripped })
	require.Equal(t, 6, b.count(EvDoubt))
	require.Contains(t, b.e.Snapshot().Why, "more than 5 doubts")
}

func TestOneDoubtEveryTwoMinutesIsNoTrip(t *testing.T) {
	b := atSoak(t, 2*time.Hour)
	n := 0
	b.read = func(r *probe.Reading) bool {
		if n++; n%500 == 0 {
			r.Fault = probe.FaultOpen
		}
		return true
	}
	b.run(time.Hour)
	require.Equal(t, PhaseRunning, b.e.Phase())
	require.Greater(t, b.e.Snapshot().Doubts, 20)
}

func TestSilenceOfTheLinkLatchesAndRestart(t *testing.T) {
	for _, c := range []struct {
		name   string
		break_ func(*bench)
		within time.Duration
		why    string
	}{
		{"no readings", func(b *bench) { b.read = func(*probe.Reading) bool { return false } }, 11750 * time.Millisecond, "no reading"},
		{"link gone", func(b *bench) { b.link = func(x *probe.Batch) { x.Link.State = probe.LinkGone; x.Readings = nil } }, 10250 * time.Millisecond, "link gone"},
		{"a latch of the board", func(b *bench) {
			b.read = func(r *probe.Reading) bool { r.Latches = probe.LatchHostSilent; return true }
		}, tick, "host silent"},
		{"the board restarts", func(b *bench) {
			once := true
			b.link = func(x *probe.Batch) {
				if once {
					x.Boots = append(x.Boots, probe.Board{Name: "b", Boot: 2, Cause: "watchdog"})
				}
				once = false
			}
		}, tick, "restarted"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := atSoak(t, time.Hour)
			at := b.now
			c.break_(b)
			b.until(c.within, "the trip", func(s Snapshot) bool { return s.Phase == PhaseTripped })
			require.LessOrEqual(t, b.now-at, c.within)
			require.Contains(t, b.e.Snapshot().Why, c.why)
			b.run(10 * time.Second)
			require.Zero(t, b.out.Duty)
		})
	}
}

func TestAShortedSwitchTripsOnTheLimitAndOnHeatWithoutDuty(t *testing.T) {
	b := atSoak(t, time.Hour)
	b.watts = func(int) float64 { return plant.A().HeaterW }
	b.until(10*time.Minute, "the trip", func(s Snapshot) bool { return s.Phase == PhaseTripped })
	s := b.e.Snapshot()
	require.Contains(t, s.Why, "above the limit")
	require.Less(t, float64(s.Temp), float64(s.Info.Profile.Limit)+3, "seen within a second or so")
	b.ask(Ask{Kind: AskAcknowledge})
	require.Equal(t, "still above the limit", b.ask(Ask{Kind: AskReset}))

	// Far below the limit the rise at duty 0 itself is seen.
	b = newBench(t, temper(t, time.Hour))
	b.run(30 * time.Second)
	b.ask(Ask{Kind: AskSkip}) // into the wait
	b.ask(Ask{Kind: AskHeatOff})
	b.ask(Ask{Kind: AskAcknowledge})
	b.ask(Ask{Kind: AskReset})
	require.Empty(t, b.ask(Ask{Kind: AskGoOn}))
	b.ask(Ask{Kind: AskStay, Seconds: 0})
	b.e.hasSet = false // a wait without heat
	b.watts = func(int) float64 { return 0.5 * plant.A().HeaterW }
	b.until(5*time.Minute, "the trip", func(s Snapshot) bool { return s.Phase == PhaseTripped })
	require.Contains(t, b.e.Snapshot().Why, "though the duty is 0")
}

func TestADoorWithTheHeatOffIsNoTrip(t *testing.T) {
	b := atSoak(t, time.Hour)
	b.ask(Ask{Kind: AskSkip}) // "cooled to the hand": heat off
	require.False(t, b.e.Snapshot().HasSet)
	for range 4 {
		b.run(3 * time.Minute)
		b.oven.SetDoor(true)
		b.run(20 * time.Second)
		b.oven.SetDoor(false)
	}
	b.run(3 * time.Minute)
	require.Zero(t, b.count(EvTrip))
}

func TestAsksOfTheVeryStepThatTripsDoNotEndTheTrip(t *testing.T) {
	b := atSoak(t, time.Hour)
	once := true
	b.link = func(x *probe.Batch) {
		if once {
			x.Boots = append(x.Boots, probe.Board{Name: "b", Boot: 2, Cause: "watchdog"})
		}
		once = false
	}
	b.asks = []Ask{{Kind: AskAcknowledge}, {Kind: AskReset}, {Kind: AskGoOn}}
	b.step()
	require.Equal(t, PhaseTripped, b.e.Phase())
	require.Equal(t, "acknowledge first, then reset", b.ask(Ask{Kind: AskGoOn}))
}

func TestHeatAfterTheEndIsAnAlarm(t *testing.T) {
	b := atSoak(t, time.Hour)
	b.asks = append(b.asks, Ask{Kind: AskSkip}, Ask{Kind: AskSkip})
	b.step()
	require.Equal(t, PhaseEnded, b.e.Phase())
	require.Equal(t, "the profile is done, but 1 of its soaks not whole", b.last(EvEnd).Text)
	b.run(5 * time.Minute)
	require.Empty(t, b.e.Snapshot().Alarms)
	b.watts = func(int) float64 { return 0.5 * plant.A().HeaterW }
	b.until(5*time.Minute, "the alarm", func(s Snapshot) bool {
		return len(s.Alarms) > 0 && s.Alarms[0].Code == "still-heats"
	})
	require.Equal(t, PhaseEnded, b.e.Phase())
}

func TestTheGuardChannelMustBeTheOneThatLeads(t *testing.T) {
	info := testInfo(temper(t, time.Hour))
	info.Shop.Guard = 2
	require.ErrorContains(t, Check(info), "would judge another probe")
	info.Shop.Guard = 1
	require.NoError(t, Check(info))
}

func TestATripWithoutALinkDoesNotSayThatOffWasCommanded(t *testing.T) {
	b := atSoak(t, time.Hour)
	b.link = func(x *probe.Batch) { x.Link.State = probe.LinkGone; x.Readings = nil }
	b.until(15*time.Second, "the trip", func(s Snapshot) bool { return s.Phase == PhaseTripped })
	require.Equal(t, Unreached, b.last(EvTrip).Word)
}
