package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control/alarm"
	"strawline/control/guard"
	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/temp"
	"strawline/profiles"
)

// TestWhenEachAlarmsCauseStands puts one fact at a time into an engine and asks each phase of a
// run which causes stand. What threatens by itself (heat nobody sent, a limit, a lost record) is
// asked for in every phase; what concerns the reading or the board while a run has them, running
// or tripped; what concerns the profile, only while it runs.
func TestWhenEachAlarmsCauseStands(t *testing.T) {
	finds := func(f guard.Finding) func(e *Engine) {
		return func(e *Engine) { e.watch.found = guard.Findings(1) << f }
	}
	always := []Phase{PhaseRunning, PhaseTripped, PhaseEnded, PhaseClosed}
	under, running := always[:2], always[:1]
	type causes map[string][]Phase
	for name, c := range map[string]struct {
		fact func(e *Engine)
		want causes
	}{
		"nothing":         {func(*Engine) {}, nil},
		"above the limit": {func(e *Engine) { e.isOver = true }, causes{alarm.OverTemperature: always}},
		"heat at zero":    {finds(guard.HeatAtZero), causes{alarm.HeatAtZero: always}},
		"no heat":         {finds(guard.NoHeat), causes{alarm.NoHeat: always}},
		"a lead shorted":  {finds(guard.LeadShort), causes{alarm.ProbeOut: always}},
		"a probe out":     {finds(guard.FellOut), causes{alarm.ProbeOut: always}},
		"half the heat":   {finds(guard.WeakHeat), causes{alarm.WeakHeat: running}},
		"a warm board":    {finds(guard.BoardWarm), causes{alarm.BoardWarm: under}},
		"a door":          {finds(guard.Door), nil},
		"the mains":       {finds(guard.Mains), nil},
		"a wander":        {finds(guard.Wander), nil},
		"an open probe": {func(e *Engine) { e.lead.good, e.lead.word = false, probe.FaultOpen.String() },
			causes{alarm.NoReading: under}},
		"silence": {func(e *Engine) { e.lead.good, e.lead.word = false, belief.WhyStale },
			causes{alarm.NoReading: under, alarm.BoardSilent: under}},
		"a link lost just now": {func(e *Engine) { e.link.State = probe.LinkGone }, nil},
		"behind its plan":      {func(e *Engine) { e.lagging = true }, causes{alarm.OffPlan: running}},
		"a wait too long":      {func(e *Engine) { e.late = true }, causes{alarm.WaitTooLong: running}},
		"records lost":         {func(e *Engine) { e.logFull = true }, causes{alarm.LogFull: always}},
		"time is up": {func(e *Engine) { e.why = "the longest total time is over" },
			causes{alarm.RunOver: {PhaseEnded}}},
		"done": {func(e *Engine) { e.why = "the profile is done" }, nil},
	} {
		e := heating(t).e
		c.fact(e)
		for _, e.phase = range always {
			var want, got []string
			for _, d := range e.table {
				if e.condition(d.Code) {
					got = append(got, d.Code)
				}
				for _, p := range c.want[d.Code] {
					if p == e.phase {
						want = append(want, d.Code)
					}
				}
				if d.Code == alarm.Tripped && e.phase == PhaseTripped {
					want = append(want, d.Code)
				}
			}
			require.Equal(t, want, got, "%s, %s", name, e.phase)
		}
	}
}

// TestASoakIsOffItsBandOutsideIt: at the edge it is still inside, as the soak clock has it, and a
// soak that has not begun to count, a reading that is none, or a setpoint that a person moved is no
// ground for an alarm.
func TestASoakIsOffItsBandOutsideIt(t *testing.T) {
	for _, c := range []struct {
		at     temp.C // 200 °C ± 5 °C is meant
		change func(e *Engine)
		want   bool
	}{
		{200, nil, false}, {205, nil, false}, {195, nil, false},
		{205.01, nil, true}, {194.99, nil, true}, {22, nil, true},
		{190, func(e *Engine) { e.credits[e.step] = 0 }, false},
		{210, func(e *Engine) { e.credits[e.step] = 0 }, false},
		{190, func(e *Engine) { e.lead.good = false }, false},
		{190, func(e *Engine) { e.moved = true }, false},
	} {
		e, now := soaker(t)
		for range 20 {
			feed(e, now, tick, 200, 0)
		}
		require.Positive(t, e.credits[0])
		e.lead.value = c.at
		if c.change != nil {
			c.change(e)
		}
		require.Equal(t, c.want, e.offBand(), "%+v", c)
		require.Equal(t, c.want, e.condition(alarm.OffPlan), "%+v", c)
	}
}

// TestOnlyASoakHasCredit: what a ramp, a wait or a cooling step passes through on its way counts
// for nothing, band or not.
func TestOnlyASoakHasCredit(t *testing.T) {
	b := atSoak(t, 5*time.Minute)
	b.until(3*time.Hour, "the end of the soak", func(s Snapshot) bool { return s.Step > 2 })
	b.run(10 * time.Minute)
	for i, st := range b.e.steps {
		require.Equal(t, st.Kind == profiles.Soak, b.e.credits[i] > 0, "step %d", i)
	}
}

// TestALatchOfALaterTripWaitsForItsOwnReset: the go on of a trip releases the latches of that
// trip once. An alarm that latched later stays, acknowledged and with its cause gone, until a
// person resets.
func TestALatchOfALaterTripWaitsForItsOwnReset(t *testing.T) {
	b := atSoak(t, time.Hour)
	require.Empty(t, b.ask(Ask{Kind: AskHeatOff}))
	for _, k := range []AskKind{AskAcknowledge, AskReset, AskGoOn} {
		require.Empty(t, b.ask(Ask{Kind: k}))
	}
	require.False(t, stands(b.e.Snapshot(), alarm.Tripped), "released")
	b.run(5 * time.Second)
	b.spoilt(2*time.Second, func(r *probe.Reading) { r.Hot = b.e.limit.Add(20) })
	require.Equal(t, PhaseTripped, b.e.Phase())
	require.Empty(t, b.ask(Ask{Kind: AskAcknowledge}))
	b.run(5 * time.Second)
	require.False(t, b.e.isOver, "its cause is gone")
	require.True(t, stands(b.e.Snapshot(), alarm.OverTemperature))
	require.Empty(t, b.ask(Ask{Kind: AskReset}))
	require.Empty(t, b.ask(Ask{Kind: AskGoOn}))
	require.False(t, stands(b.e.Snapshot(), alarm.OverTemperature))
}
