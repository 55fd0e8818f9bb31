package alarm

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestChatterNeverRaises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Declaration{Code: "x", NeedsAck: true, OnDelay: 30 * time.Second}
		s, now := make([]State, 1), time.Duration(0)
		for range rapid.IntRange(1, 50).Draw(t, "spells") {
			on := time.Duration(rapid.IntRange(1, 119).Draw(t, "on")) * 250 * time.Millisecond
			for end := now + on; now < end; now += 250 * time.Millisecond {
				require.Empty(t, Step(Table{d}, s, now, []bool{true}))
			}
			require.Empty(t, Step(Table{d}, s, now, []bool{false}))
			now += 250 * time.Millisecond
		}
		require.Equal(t, A, s[0].Letter)
	})
}

func TestDelaysToTheSample(t *testing.T) {
	d := Declaration{Code: "x", NeedsAck: true, OnDelay: 30 * time.Second, OffDelay: 10 * time.Second}
	s := make([]State, 1)
	at := func(now time.Duration, cond bool) Letter {
		Step(Table{d}, s, now, []bool{cond})
		return s[0].Letter
	}
	assert.Equal(t, A, at(100*time.Second, true))
	assert.Equal(t, A, at(129750*time.Millisecond, true))
	assert.Equal(t, B, at(130*time.Second, true))
	assert.Equal(t, 130*time.Second, s[0].Since)
	assert.Equal(t, B, at(140*time.Second, false))
	assert.Equal(t, B, at(149750*time.Millisecond, false))
	assert.Equal(t, D, at(150*time.Second, false))
}

// A latch through its whole life, with the words of the people around it.
func TestLatchLife(t *testing.T) {
	table := Table{First()[0]}
	s := make([]State, 1)
	step := func(now time.Duration, cond bool) []Change {
		return Step(table, s, now, []bool{cond})
	}
	require.Equal(t, []Change{{OverTemperature, A, B}}, step(1, true))
	require.True(t, Sounding(s))
	Silence(s)
	require.False(t, Sounding(s))
	require.Equal(t, B, s[0].Letter)
	require.Empty(t, Reset(table, s, []bool{true}))
	require.Equal(t, []Change{{OverTemperature, B, E}}, step(2, false))
	require.Equal(t, []Change{{OverTemperature, E, B}}, step(3, true))
	require.True(t, Sounding(s), "a new occurrence sounds again")
	require.Equal(t, []Change{{OverTemperature, B, C}}, Acknowledge(table, s))
	require.Empty(t, Acknowledge(table, s))
	require.Empty(t, Reset(table, s, []bool{false}), "its condition has not been seen to go")
	require.Equal(t, []Change{{OverTemperature, C, F}}, step(4, false))
	require.Empty(t, Reset(table, s, []bool{true}), "the condition is back")
	require.Equal(t, []Change{{OverTemperature, F, A}}, Reset(table, s, []bool{false}))
	require.Empty(t, step(5, false))
}

// A dead link hides what it would cause, leaves alone what already stands, and gives the
// hidden alarm its whole delay when it is back.
func TestDependsOn(t *testing.T) {
	table := Table{
		{Code: "link", NeedsAck: true},
		{Code: "reading", NeedsAck: true, OnDelay: 2 * tick, DependsOn: []string{"link"}},
		{Code: "limit", NeedsAck: true, Latching: true, DependsOn: []string{"link"}},
	}
	s := make([]State, 3)
	now := time.Duration(0)
	step := func(link, reading, limit bool) []Change {
		now += tick
		return Step(table, s, now, []bool{link, reading, limit})
	}
	require.Empty(t, step(false, true, false))
	require.Equal(t, []Change{{"link", A, B}}, step(true, true, false))
	for range 10 {
		require.Empty(t, step(true, true, false), "the dead link hides the missing reading")
	}
	require.Equal(t, []Change{{"limit", A, B}}, step(true, true, true), "a latch is never hidden")
	require.Equal(t, []Change{{"link", B, D}}, step(false, true, true))
	require.Empty(t, step(false, true, true))
	require.Equal(t, []Change{{"reading", A, B}}, step(false, true, true))
	require.Equal(t, []Change{{"link", D, B}}, step(true, false, true))
	for range 10 {
		require.Empty(t, step(true, false, true), "not known to be gone while the link is dead")
	}
	require.Equal(t, []Change{{"link", B, D}, {"reading", B, D}}, step(false, false, true))
}

func TestHidingAndBack(t *testing.T) {
	table := First()
	s := make([]State, len(table))
	i := table.Index(OffPlan)
	_, err := Shelve(table, s, "none", 0, tick, "why")
	require.ErrorIs(t, err, ErrUnknown)
	_, err = Shelve(table, s, OffPlan, tick, tick, "why")
	require.ErrorIs(t, err, ErrUntil)
	_, err = Shelve(table, s, OffPlan, 0, MostShelf+1, "why")
	require.ErrorIs(t, err, ErrUntil)
	_, err = Shelve(table, s, OffPlan, 0, tick, " ")
	require.ErrorIs(t, err, ErrReason)
	_, err = Remove(table, s, OffPlan, "")
	require.ErrorIs(t, err, ErrReason)
	_, err = Unshelve(table, s, OffPlan, 0)
	require.ErrorIs(t, err, ErrNotNow)
	_, err = Shelve(table, s, OverTemperature, 0, tick, "why")
	require.ErrorIs(t, err, ErrNotHidable)
	require.Equal(t, make([]State, len(table)), s, "a refusal changed something")

	c, err := Shelve(table, s, OffPlan, 0, MostShelf, "the door stands open")
	require.NoError(t, err)
	require.Equal(t, Change{OffPlan, A, G}, c)
	require.Equal(t, "the door stands open", s[i].Reason)
	conds := make([]bool, len(table))
	conds[i] = true
	for now := tick; now < MostShelf; now += tick {
		require.Empty(t, Step(table, s, now, conds))
	}
	require.Equal(t, []Change{{OffPlan, G, B}}, Step(table, s, MostShelf, conds),
		"what stands behind a shelf comes back when its time is up")
	require.Empty(t, s[i].Reason)
}

func TestRealarm(t *testing.T) {
	table := First()
	i := table.Index(LogFull)
	s, conds := make([]State, len(table)), make([]bool, len(table))
	conds[i] = true
	require.Equal(t, []Change{{LogFull, A, B}}, Step(table, s, 5*time.Second, conds))
	Acknowledge(table, s)
	seen := 60 * time.Second // the Step that first sees the acknowledgement starts the time
	require.Empty(t, Step(table, s, seen, conds))
	require.Empty(t, Step(table, s, seen+30*time.Minute-1, conds))
	require.Equal(t, []Change{{LogFull, C, B}}, Step(table, s, seen+30*time.Minute, conds))
	require.Equal(t, 5*time.Second, s[i].Since)
	Acknowledge(table, s)
	again := seen + 31*time.Minute
	require.Empty(t, Step(table, s, again, conds), "a second acknowledgement has its own time")
	require.Empty(t, Step(table, s, again+30*time.Minute-1, conds))
	require.Equal(t, []Change{{LogFull, C, B}}, Step(table, s, again+30*time.Minute, conds))
}

func TestLetters(t *testing.T) {
	for l := range letters {
		assert.Equal(t, string(rune('A'+l)), l.String())
		assert.Equal(t, l >= B && l <= F, l.Stands())
	}
	assert.Equal(t, "?", letters.String())
}

func TestStepAllocatesNothing(t *testing.T) {
	table, s, conds := steady()
	now := time.Hour
	require.Zero(t, testing.AllocsPerRun(1000, func() {
		now += 250 * time.Millisecond
		Step(table, s, now, conds)
	}))
}

// steady has one alarm standing acknowledged and one waiting out its delay, nothing changing.
func steady() (Table, []State, []bool) {
	table := First()
	s, conds := make([]State, len(table)), make([]bool, len(table))
	conds[table.Index(WaitTooLong)] = true
	Step(table, s, 0, conds)
	Acknowledge(table, s)
	return table, s, conds
}

func BenchmarkStep(b *testing.B) {
	table, s, conds := steady()
	now := time.Hour
	b.ReportAllocs()
	for b.Loop() {
		now += 250 * time.Millisecond
		if len(Step(table, s, now, conds)) > 0 {
			b.Fatal("the state was not steady")
		}
	}
}

func BenchmarkFirst(b *testing.B) {
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		n += len(First())
	}
	if n == 0 {
		b.Fatal("no alarms")
	}
}
