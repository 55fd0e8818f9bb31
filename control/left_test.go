package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control/alarm"
	"strawline/probe/temp"
	"strawline/profiles"
)

// TestALoadLeftBehind: a run that ends with a blade confirmed in and not out says so in its end, in
// what is to be done next and in each reminder, until somebody answers; it claims no more.
func TestALoadLeftBehind(t *testing.T) {
	p := temper(t, time.Hour)
	p.Longest = 70 * time.Minute
	b := newBench(t, p)
	b.until(time.Hour, "the first wait", func(s Snapshot) bool { return s.Steps[s.Step].Kind == profiles.Wait })
	require.False(t, b.e.Snapshot().BladeIn, "nobody has said so yet")
	require.Empty(t, b.ask(Ask{Kind: AskConfirm}))
	require.True(t, b.e.Snapshot().BladeIn)
	s := b.e.Snapshot()
	require.Empty(t, s.Left(temp.Celsius), "the run goes on")
	b.until(2*time.Hour, "the end", func(s Snapshot) bool { return s.Phase == PhaseEnded })
	end := b.last(EvEnd)
	require.Equal(t, "late", end.Word)
	require.Equal(t, LoadIn, end.Load)
	require.InDelta(t, 204.4, *end.TempC, 3)
	require.Contains(t, end.Left(temp.Fahrenheit), "as far as is known; the oven still reads 40")
	s = b.e.Snapshot()
	require.Equal(t, end.Left(temp.Celsius), s.Left(temp.Celsius))
	require.Equal(t, "take the blade out, in as far as is known; then answer", s.Next)

	b.run(RemindEvery + time.Second)
	require.Contains(t, b.last(EvReminder).Text, "heat off commanded; the blade is still in the oven, "+
		"as far as is known; the oven still reads ")
	b.run(2 * time.Hour) // it has cooled
	s = b.e.Snapshot()
	require.Equal(t, "the blade is still in the oven, as far as is known", s.Left(temp.Celsius))
	require.Less(t, s.Temp, StillHot)
	n := b.count(EvReminder)
	require.Empty(t, b.ask(Ask{Kind: AskAnswer}))
	require.Equal(t, PhaseClosed, b.e.Phase())
	require.Equal(t, n, b.count(EvReminder))
	s = b.e.Snapshot()
	require.Equal(t, "take the blade out, in as far as is known", s.Next, "answered is not taken out")
}

// TestWhatSaysThatTheBladeIsOut: the answer to a wait that takes it out, and nothing else.
func TestWhatSaysThatTheBladeIsOut(t *testing.T) {
	ends := func(b *bench) Event {
		require.Empty(t, b.ask(Ask{Kind: AskStop}))
		return b.last(EvEnd)
	}
	require.Equal(t, LoadIn, ends(atSoak(t, time.Hour)).Load, "stopped in the soak")

	out := func(answer AskKind) *bench {
		b := atSoak(t, time.Minute)
		b.until(time.Hour, "the last wait", func(s Snapshot) bool { return s.Step == 3 })
		require.Empty(t, b.ask(Ask{Kind: answer}))
		require.Equal(t, PhaseEnded, b.e.Phase())
		return b
	}
	b := out(AskConfirm)
	end := b.last(EvEnd)
	require.Empty(t, end.Load)
	require.Contains(t, end.Left(temp.Celsius), "the oven still reads ", "and nothing of a blade")
	require.Equal(t, "the run has ended: answer", b.e.Snapshot().Next)
	require.Equal(t, LoadIn, out(AskSkip).last(EvEnd).Load, "skipped is not taken out")

	b = newBench(t, temper(t, time.Hour)) // nobody said that a blade went in
	b.until(time.Hour, "the first wait", func(s Snapshot) bool { return s.Step == 1 })
	require.Empty(t, b.ask(Ask{Kind: AskSkip}))
	require.Empty(t, ends(b).Load)
	require.Empty(t, (&Event{Kind: EvTrip, Load: LoadIn}).Left(temp.Celsius))
}

// TestAWaitThatIsSkippedSaysNothingOfTheBlade: of two cycles, whichever of their four waits are
// skipped; the last one that was answered counts, and without any nothing is known to be in.
func TestAWaitThatIsSkippedSaysNothingOfTheBlade(t *testing.T) {
	for _, c := range []struct{ waits, load string }{ // c confirms, k skips: in, out, in, out
		{"cccc", ""}, {"ccck", LoadIn}, {"cckk", ""}, {"ckkk", LoadIn}, {"kkkk", ""},
		{"ckkc", ""}, {"ckck", LoadIn}, {"ckcc", ""}, {"kkck", LoadIn}, {"kcck", LoadIn},
	} {
		p, err := profiles.Temper(temp.F(400), time.Minute, 2, temp.DeltaF(10), temp.Fahrenheit)
		require.NoError(t, err)
		b := newBench(t, *p)
		for _, w := range c.waits {
			for b.e.Snapshot().Steps[b.e.Snapshot().Step].Kind != profiles.Wait {
				require.Empty(t, b.ask(Ask{Kind: AskSkip}))
			}
			kind := AskConfirm
			if w == 'k' {
				kind = AskSkip
			}
			require.Empty(t, b.ask(Ask{Kind: kind}))
		}
		require.Equal(t, PhaseEnded, b.e.Phase(), c.waits)
		require.Equal(t, c.load, b.last(EvEnd).Load, c.waits)
		require.Equal(t, c.load == LoadIn, b.e.Snapshot().BladeIn, c.waits)
	}
}

// TestAWaitThatSaysNothingOfTheBlade changes nothing of what is known.
func TestAWaitThatSaysNothingOfTheBlade(t *testing.T) {
	for _, c := range []struct {
		in   bool
		load profiles.Load
		want bool
	}{
		{false, profiles.LoadSame, false}, {true, profiles.LoadSame, true},
		{false, profiles.LoadIn, true}, {true, profiles.LoadIn, true},
		{false, profiles.LoadOut, false}, {true, profiles.LoadOut, false},
	} {
		require.Equal(t, c.want, inAfter(c.in, c.load), "%+v", c)
	}
}

// TestTheLoadIsKnownAfterACut: the keeper that takes a run up knows it from the run file.
func TestTheLoadIsKnownAfterACut(t *testing.T) {
	b, rs := recorded(t)
	n := cut(t, b, rs, 5*time.Minute)
	n.step()
	require.True(t, n.e.Snapshot().BladeIn)
	require.Empty(t, n.ask(Ask{Kind: AskStop}))
	require.Equal(t, LoadIn, n.last(EvEnd).Load)
}

// TestAnAlarmComesBeforeTheBlade: of a run that ended with heat that nothing commanded, or with a
// probe that fell out, nobody is sent to the oven's door.
func TestAnAlarmComesBeforeTheBlade(t *testing.T) {
	b := atSoak(t, time.Hour)
	v := b.e.View()
	at := v.Snapshot().T
	apply := func(e Event) string {
		at += time.Second
		e.T = at
		v.Apply(Record{Event: &e})
		return v.Snapshot().Next
	}
	apply(Event{Kind: EvAlarm, Code: alarm.Tripped, Word: "E"})
	require.Contains(t, apply(Event{Kind: EvEnd, Word: "tripped", Load: LoadIn}), "take the blade out")
	for _, code := range []string{alarm.HeatAtZero, alarm.ProbeOut} {
		for _, state := range []string{"B", "C"} {
			next := apply(Event{Kind: EvAlarm, Code: code, Word: state})
			require.Equal(t, "see the alarm first; the blade is in as far as is known; then answer", next)
		}
		require.Contains(t, apply(Event{Kind: EvAlarm, Code: code, Word: "A"}), "take the blade out")
	}
	require.Contains(t, apply(Event{Kind: EvAlarm, Code: alarm.BoardWarm, Word: "B"}), "take the blade out")
}
