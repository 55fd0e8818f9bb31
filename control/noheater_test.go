package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/plant"
	"strawline/probe/temp"
	"strawline/profiles"
)

// noHeaterBench is a bench whose oven has a thermostat of its own, on a board that only reads,
// once every interval.
func noHeaterBench(t testing.TB, p profiles.Profile, interval time.Duration) (*bench, *temp.C) {
	info := testInfo(p)
	info.Shop.NoHeater = true
	info.Shop.BoardLimC, info.Shop.CeilingC = 0, 0
	e, err := New(Config{Info: info, Belief: belief.Default()})
	require.NoError(t, err)
	b := newBench(t, p)
	b.e = e
	set := new(temp.C)
	on := false
	b.watts = func(int) float64 {
		switch y := b.oven.Probe(); { // a plain thermostat, ±4 °C
		case y > set.Add(4):
			on = false
		case y < set.Add(-4):
			on = true
		}
		if on {
			return plant.A().HeaterW
		}
		return 0
	}
	b.link = func(x *probe.Batch) { x.Link.Heats, x.Link.Interval = false, interval }
	b.read = func(r *probe.Reading) bool { return b.now%interval == 0 }
	return b, set
}

func TestWithoutAHeaterThePersonIsToldWhatToSetAndTheSoakCounts(t *testing.T) {
	p, err := profiles.Temper(temp.F(400), 20*time.Minute, 2, temp.DeltaF(20), temp.Fahrenheit)
	require.NoError(t, err)
	b, set := noHeaterBench(t, *p, time.Second)
	var told []string
	for b.e.Phase() != PhaseEnded && b.now < 8*time.Hour {
		n := len(b.evs)
		b.step()
		require.Zero(t, b.out.Duty)
		for _, ev := range b.evs[n:] {
			switch {
			case ev.Kind == EvSet && ev.TempC != nil:
				*set = temp.C(*ev.TempC)
				told = append(told, "set")
			case ev.Kind == EvSet:
				*set = 0
				told = append(told, "off")
			}
		}
		if s := b.e.Snapshot(); s.Steps[s.Step].Kind == profiles.Wait && s.T-s.StepT > 2*time.Minute {
			b.asks = append(b.asks, Ask{Kind: AskConfirm})
		}
	}
	require.Equal(t, PhaseEnded, b.e.Phase())
	require.Equal(t, []string{"set", "off", "set", "off"}, told)
	require.Zero(t, b.count(EvTrip))
	require.Equal(t, 2, b.count(EvSoaked))
	require.InDelta(t, 1200, *b.last(EvSoaked).SpanS, 1.01, "credit comes a whole interval at a time")
}

func TestASlowBoardIsStaleByItsOwnInterval(t *testing.T) {
	for _, c := range []struct{ interval, dead time.Duration }{
		{250 * time.Millisecond, 1500 * time.Millisecond},
		{time.Second, 3 * time.Second},
		{5 * time.Second, 15 * time.Second},
		{20 * time.Second, 30 * time.Second},
	} {
		b, _ := noHeaterBench(t, temper(t, time.Hour), c.interval)
		b.run(3*c.interval + tick)
		require.True(t, b.e.Snapshot().HasTemp)
		b.read = func(*probe.Reading) bool { return false }
		at := b.now
		for b.e.Snapshot().HasTemp {
			b.step()
		}
		// The last reading may be up to a tick older than at.
		require.InDelta(t, c.dead.Seconds(), (b.now - at).Seconds(), 0.6, "%v", c.interval)
		b.run(time.Minute)
		require.Equal(t, PhaseRunning, b.e.Phase(), "without a heater there is nothing to trip")
	}
}

func TestAnOverheatedOvenOfThePersonsIsAnAlarmAndNoTrip(t *testing.T) {
	b, set := noHeaterBench(t, temper(t, time.Hour), time.Second)
	*set = 300
	b.until(time.Hour, "the alarm", func(s Snapshot) bool { return len(s.Alarms) > 0 && s.Alarms[0].Code == "over-temperature" })
	require.Equal(t, PhaseRunning, b.e.Phase())
	*set = 0
	b.run(20 * time.Minute)
	require.NotEmpty(t, b.ask(Ask{Kind: AskReset}), "not before it is acknowledged")
	require.Empty(t, b.ask(Ask{Kind: AskAcknowledge}))
	require.Empty(t, b.ask(Ask{Kind: AskReset}))
	for _, a := range b.e.Snapshot().Alarms {
		require.NotEqual(t, "over-temperature", a.Code)
	}
}

func TestACorrectionIsInTheFigureAndNotInTheRawWord(t *testing.T) {
	info := testInfo(temper(t, time.Hour))
	info.Shop.Corrections = []Correction{{PointsC: [][2]float64{{0, 0.5}, {100, 99}, {200, 202}},
		From: "test"}}
	e, err := New(Config{Info: info, Belief: belief.Default()})
	require.NoError(t, err)
	var out Output
	for i := range 40 {
		at := time.Duration(i) * tick
		out = e.Step(at, Input{Batch: probe.Batch{
			Link:     probe.Link{State: probe.LinkUp, Heats: true},
			Readings: []probe.Reading{{At: at, Channel: 1, Hot: 50, Raw: uint32(i)}}}})
	}
	s := out.Records[len(out.Records)-1].Sample
	require.InDelta(t, 49.75, *s.Temp[0], 0.001, "half way between +0.5 and -1")
	require.Equal(t, uint32(39), s.Raw[0])

	info.Shop.Corrections = []Correction{{OffsetC: 40}}
	_, err = New(Config{Info: info, Belief: belief.Default()})
	require.ErrorContains(t, err, "more than a correction can be")
}
