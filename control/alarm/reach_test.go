package alarm

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// tableStates is how many states the alarms of First can be in, all added up; it changes when a
// row comes, goes, or gets another attribute.
const tableStates = 3*5 + 7*4 + 3*7

// lettersOf gives the states that a row's attributes allow, from the transition table's words.
func lettersOf(d Declaration) map[Letter]bool {
	want := map[Letter]bool{A: true, B: true, C: true}
	if d.Latching {
		want[E], want[F] = true, true
	} else {
		want[D] = true
	}
	if d.Hidable {
		want[G], want[H], want[I] = true, true, true
	}
	return want
}

// TestEveryStateOfTheTable walks each row of the table of a run through everything that can happen
// to it. The explorer holds each step to testdata/alarm/transitions.csv and finds deadlocks.
func TestEveryStateOfTheTable(t *testing.T) {
	rows, n := readRows(t), 0
	for _, d := range First() {
		short := d
		short.Code, short.DependsOn = "x", nil
		short.OnDelay, short.OffDelay = min(d.OnDelay, 2*tick), min(d.OffDelay, tick)
		short.Realarm = min(d.Realarm, 2*tick)
		x := &explorer{t: t, d: short, rows: rows, hit: map[string]bool{}}
		x.walk()
		reached := map[Letter]bool{}
		for node := range x.seen {
			reached[node.s.Letter] = true
		}
		require.Equal(t, lettersOf(d), reached, d.Code)
		n += len(reached)
	}
	require.Equal(t, tableStates, n)
}

// TestAnAcknowledgedAlarmStaysQuiet: without a time to announce again it does not.
func TestAnAcknowledgedAlarmStaysQuiet(t *testing.T) {
	table := Table{{Code: "x", NeedsAck: true}, {Code: "y", NeedsAck: true, Realarm: 1}}
	s, conds := make([]State, 2), []bool{true, true}
	Step(table, s, tick, conds)
	Acknowledge(table, s)
	Step(table, s, 2*tick, conds)
	require.Equal(t, C, s[1].Letter, "the first look begins the time")
	for i := range 100 {
		for _, c := range Step(table, s, time.Duration(3+i)*tick, conds) {
			require.Equal(t, "y", c.Code)
		}
		require.Equal(t, C, s[0].Letter)
	}
	require.Equal(t, B, s[1].Letter)
}

// TestAShelfLastsHalfAnHourAtMost has the figure that people are told.
func TestAShelfLastsHalfAnHourAtMost(t *testing.T) {
	table := Table{{Code: "x", NeedsAck: true, Hidable: true}}
	s := make([]State, 1)
	_, err := Shelve(table, s, "x", 0, 30*time.Minute+1, "why")
	require.ErrorIs(t, err, ErrUntil)
	_, err = Shelve(table, s, "x", 0, 30*time.Minute, "why")
	require.NoError(t, err)
}

// TestTheMeasureOfARow has the lengths that fit a screen, each just so and one more.
func TestTheMeasureOfARow(t *testing.T) {
	row := func(i, code, word, text int) Declaration {
		return Declaration{Code: strings.Repeat("a", code-2) + string(rune('a'+i/5)) +
			string(rune('a'+i%5)), Word: strings.Repeat("W", word), Cause: strings.Repeat("c", text),
			Consequence: strings.Repeat("c", text), Do: strings.Repeat("c", text)}
	}
	var table Table
	for i := range 16 {
		table = append(table, row(i, 40, 12, 100))
	}
	require.NoError(t, table.Check())
	require.Error(t, append(table, row(16, 40, 12, 100)).Check())
	require.Error(t, Table{row(0, 41, 12, 100)}.Check())
	require.Error(t, Table{row(0, 40, 13, 100)}.Check())
	require.Error(t, Table{row(0, 40, 12, 101)}.Check())
	require.NoError(t, Table{row(0, 40, 12, 100)}.Check(), "one alarm is enough")
}

// TestSinceIsWhenItWasRaised also for an alarm that nobody must acknowledge.
func TestSinceIsWhenItWasRaised(t *testing.T) {
	s := make([]State, 1)
	Step(Table{{Code: "x"}}, s, 5*tick, []bool{true})
	require.Equal(t, State{Letter: C, Since: 5 * tick, Active: true}, State{Letter: s[0].Letter,
		Since: s[0].Since, Active: s[0].Active})
}

// TestCheckAtItsEdges has the least that is wrong, and the most that is right.
func TestCheckAtItsEdges(t *testing.T) {
	row := func(code string, on ...string) Declaration {
		return Declaration{Code: code, Word: "X", Cause: "c", Consequence: "c", Do: "d", DependsOn: on}
	}
	require.NoError(t, Table{row("a"), row("b", "a")}.Check())
	require.ErrorContains(t, Table{row("a", "a")}.Check(), "not further up")
	first := row("a")
	first.Hidable = true
	require.ErrorContains(t, Table{first, row("b", "a")}.Check(), "can be hidden")
	for i := range 3 {
		d := row("a")
		*[]*time.Duration{&d.OnDelay, &d.OffDelay, &d.Realarm}[i] = -1
		require.ErrorContains(t, Table{d}.Check(), "below zero")
	}
	d := row("a")
	d.Realarm = 1
	require.ErrorContains(t, Table{d}.Check(), "without needing")
}
