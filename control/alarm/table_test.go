package alarm

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What testdata/alarm/transitions.csv must hold: a row that goes missing or changes is seen.
const (
	rowCount = 25
	rowHash  = "21d928756bcbbc3ab5b153e4c117283aeceff16b3dc4f034fda05b96f87ccbb0"
)

var eventNames = [events]string{"cond_true", "cond_false", "ack", "reset", "realarm", "shelve",
	"unshelve", "shelve_expired", "suppress", "unsuppress", "remove", "return"}

// row is one row of the file.
type row struct {
	from  string // letters
	ev    event
	guard string
	to    Letter
}

func (r row) String() string {
	return fmt.Sprintf("%s %s [%s] %s", r.from, eventNames[r.ev], r.guard, r.to)
}

func readRows(t testing.TB) []row {
	t.Helper()
	text, err := os.ReadFile("../../testdata/alarm/transitions.csv")
	require.NoError(t, err)
	var body []string
	for l := range strings.Lines(string(text)) {
		if !strings.HasPrefix(l, "#") {
			body = append(body, l)
		}
	}
	require.Equal(t, "from,event,guard,to,source\n", body[0])
	sum := sha256.Sum256([]byte(strings.Join(body[1:], "")))
	require.Equal(t, rowHash, hex.EncodeToString(sum[:]), "the rows are not those we know")
	file := csv.NewReader(strings.NewReader(strings.Join(body, "")))
	all, err := file.ReadAll()
	require.NoError(t, err)
	var rows []row
	for _, f := range all[1:] {
		ev := slices.Index(eventNames[:], f[1])
		require.GreaterOrEqual(t, ev, 0, "no such event: %s", f[1])
		require.NotEmpty(t, f[4], "a row without its source")
		to := strings.Index("ABCDEFGHI", f[3])
		require.GreaterOrEqual(t, to, 0)
		rows = append(rows, row{from: f[0], ev: event(ev), guard: f[2], to: Letter(to)})
	}
	require.Len(t, rows, rowCount)
	return rows
}

// holds reads a guard of the file for a declaration and a condition.
func holds(t testing.TB, guard string, d Declaration, cond bool) bool {
	t.Helper()
	name, not := strings.CutPrefix(guard, "!")
	is := false
	switch name {
	case "":
		is = true
	case "ack_required":
		is = d.NeedsAck
	case "latching":
		is = d.Latching
	case "hidable":
		is = d.Hidable && !d.Latching && !d.High
	case "cond":
		is = cond
	default:
		t.Fatalf("no such guard: %s", guard)
	}
	return is != not
}

// situations calls yield with every letter, event, set of attributes and condition.
func situations(yield func(d Declaration, l Letter, ev event, cond bool)) {
	for bits := range 32 {
		d := Declaration{NeedsAck: bits&1 != 0, Latching: bits&2 != 0, Hidable: bits&4 != 0,
			High: bits&8 != 0}
		for l := range letters {
			for ev := range events {
				yield(d, l, ev, bits&16 != 0)
			}
		}
	}
}

// disagreements counts the situations in which the machine does what the rows do not say, or
// does not what they say. An event without a row must leave the state.
func disagreements(t testing.TB, rows []row) int {
	t.Helper()
	n := 0
	situations(func(d Declaration, l Letter, ev event, cond bool) {
		want, found := l, 0
		for _, r := range rows {
			if r.ev == ev && strings.Contains(r.from, l.String()) && holds(t, r.guard, d, cond) {
				want = r.to
				found++
			}
		}
		require.LessOrEqual(t, found, 1, "two rows hold at once: %s %s", l, eventNames[ev])
		if d.next(l, ev, cond) != want {
			n++
		}
	})
	return n
}

func TestMachineIsTheTable(t *testing.T) {
	rows := readRows(t)
	require.Zero(t, disagreements(t, rows))
	for i, r := range rows {
		without := slices.Delete(slices.Clone(rows), i, i+1)
		assert.Positive(t, disagreements(t, without), "nothing would miss the row %s", r)
		other := slices.Clone(rows)
		other[i].to = (r.to + 1) % letters
		assert.Positive(t, disagreements(t, other), "nothing would see the row %s changed", r)
	}
}

// Each row happens with its guard, from each of its letters, and does not without it.
func TestEachRow(t *testing.T) {
	for _, r := range readRows(t) {
		t.Run(r.String(), func(t *testing.T) {
			with, without := 0, 0
			situations(func(d Declaration, l Letter, ev event, cond bool) {
				if ev != r.ev || !strings.Contains(r.from, l.String()) {
					return
				}
				got := d.next(l, ev, cond)
				if holds(t, r.guard, d, cond) {
					require.Equal(t, r.to, got, "%s with %+v", l, d)
					with++
				} else {
					require.NotEqual(t, r.to, got, "%s with %+v", l, d)
					without++
				}
			})
			require.Positive(t, with)
			require.Equal(t, r.guard != "", without > 0)
		})
	}
}

func TestFirstTable(t *testing.T) {
	table := First()
	require.NoError(t, table.Check())
	codes := []string{OverTemperature, Tripped, BoardSilent, NoReading, OffPlan, WaitTooLong,
		RunOver, LogFull, HeatAtZero, NoHeat, ProbeOut, WeakHeat, BoardWarm}
	require.Len(t, table, len(codes))
	for _, code := range codes {
		require.GreaterOrEqual(t, table.Index(code), 0, code)
	}
	for _, code := range []string{OverTemperature, Tripped, HeatAtZero} {
		assert.True(t, table[table.Index(code)].Latching, code)
	}
	for _, code := range []string{OverTemperature, Tripped, BoardSilent, NoReading, HeatAtZero, NoHeat,
		ProbeOut} {
		assert.True(t, table[table.Index(code)].High, code)
		assert.False(t, table[table.Index(code)].Hidable, code)
	}
	words := map[string]bool{}
	for _, d := range table {
		assert.False(t, words[d.Word], "two alarms say %s", d.Word)
		words[d.Word] = true
	}
	table[0].Code = "spoilt"
	require.Equal(t, OverTemperature, First()[0].Code, "what one caller does reaches another")
}

func TestCheckFinds(t *testing.T) {
	rows := map[string]func(t Table) Table{
		"alarms, where":             func(t Table) Table { return nil },
		"17 alarms, where":          func(t Table) Table { return append(t, t[:4]...) },
		"lower case and dashes":     func(t Table) Table { t[0].Code = "Over"; return t },
		"there twice":               func(t Table) Table { t[4].Code = t[0].Code; return t },
		"short and upper case":      func(t Table) Table { t[0].Word = "FAR TOO LONG A WORD"; return t },
		"cause must be one line":    func(t Table) Table { t[0].Cause = ""; return t },
		"consequence must be one":   func(t Table) Table { t[0].Consequence = "a\nb"; return t },
		"what to do must be one":    func(t Table) Table { t[0].Do = " "; return t },
		"delay is below zero":       func(t Table) Table { t[0].OnDelay = -1; return t },
		"announces again without":   func(t Table) Table { t[7].NeedsAck = false; return t },
		"latches without needing":   func(t Table) Table { t[0].NeedsAck = false; return t },
		"lose the latch":            func(t Table) Table { t[0].Hidable = true; return t },
		"priority and can be":       func(t Table) Table { t[4].High = true; return t },
		"latches and rests":         func(t Table) Table { return depend(t, 1, OverTemperature) },
		"run-over, which is not":    func(t Table) Table { return depend(t, 3, RunOver) },
		"none, which is not":        func(t Table) Table { return depend(t, 3, "none") },
		"off-plan, which can be hi": func(t Table) Table { return depend(t, 6, OffPlan) },
	}
	for want, spoil := range rows {
		require.ErrorContains(t, spoil(First()).Check(), want)
	}
}

func depend(t Table, i int, on string) Table {
	t[i].DependsOn = []string{on}
	return t
}
