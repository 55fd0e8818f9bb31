package alarm

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// tick is the time between two Steps of the exploration; delays are a few of them.
const tick = time.Second

// node is a state of one alarm with what the properties need to know of its past. Times are
// relative to now, so that the same situation later is the same node.
type node struct {
	s     State
	acked bool // acknowledged since it last announced itself
	clear bool // the plain condition at the last Step was false
	runs  int  // Steps in a row with the same plain condition, cut at a few
	shelf int  // ticks since it was shelved
}

// act is one thing that can happen, and the event of the table that it stands for.
type act struct {
	name string
	ev   event
	do   func(t Table, s []State, conds []bool) []Change
}

func single(c Change, err error) []Change {
	if err != nil {
		return nil
	}
	return []Change{c}
}

func acts() []act {
	const code = "x"
	return []act{
		{"ack", ack, func(t Table, s []State, _ []bool) []Change { return Acknowledge(t, s) }},
		{"reset", reset, func(t Table, s []State, c []bool) []Change { return Reset(t, s, c) }},
		{"silence", events, func(_ Table, s []State, _ []bool) []Change { Silence(s); return nil }},
		{"shelve", shelve, func(t Table, s []State, _ []bool) []Change {
			return single(Shelve(t, s, code, 0, 2*tick, "why"))
		}},
		{"unshelve", unshelve, func(t Table, s []State, _ []bool) []Change {
			return single(Unshelve(t, s, code, 0))
		}},
		{"suppress", suppress, func(t Table, s []State, _ []bool) []Change {
			return single(Suppress(t, s, code))
		}},
		{"unsuppress", unsuppress, func(t Table, s []State, _ []bool) []Change {
			return single(Unsuppress(t, s, code, 0))
		}},
		{"remove", remove, func(t Table, s []State, _ []bool) []Change {
			return single(Remove(t, s, code, "why"))
		}},
		{"return", giveBack, func(t Table, s []State, _ []bool) []Change {
			return single(Return(t, s, code, 0))
		}},
	}
}

// explorer walks every state of one declaration.
type explorer struct {
	t     *testing.T
	d     Declaration
	rows  []row
	hit   map[string]bool // rows seen to happen
	seen  map[node]bool
	edges map[node][]node
	todo  []node
}

func (x *explorer) walk() {
	first := node{clear: true}
	x.seen, x.edges, x.todo = map[node]bool{first: true}, map[node][]node{}, []node{first}
	for len(x.todo) > 0 {
		n := x.todo[0]
		x.todo = x.todo[1:]
		for _, a := range acts() {
			x.act(n, a)
		}
		x.step(n, false)
		x.step(n, true)
	}
	x.canRest()
}

// act lets a person do something.
func (x *explorer) act(n node, a act) {
	s := []State{n.s}
	changes := a.do(Table{x.d}, s, []bool{!n.clear})
	next := n
	next.s = s[0]
	if a.name == "silence" {
		require.Equal(x.t, n.s.Letter, next.s.Letter, "silence is not acknowledgement")
		require.Equal(x.t, n.s.Letter == B, next.s.Silenced && next.s.Letter == B)
	}
	if a.ev == shelve && len(changes) > 0 {
		next.shelf = 0
	}
	x.judge(n, &next, changes, []event{a.ev}, a.name)
}

// step lets a tick go by, with the condition as it then is.
func (x *explorer) step(n node, cond bool) {
	s := []State{n.s}
	changes := Step(Table{x.d}, s, tick, []bool{cond})
	next := n
	next.s = later(s[0], tick, max(x.d.OnDelay, x.d.OffDelay, x.d.Realarm)+tick)
	if cond == n.clear {
		next.runs = 0
	}
	next.clear, next.runs = !cond, min(next.runs+1, 6)
	next.shelf = min(n.shelf+1, 3)
	if n.s.Letter == G {
		require.Equal(x.t, next.shelf >= 2, next.s.Letter != G, "the shelf ends in time")
	}
	// What has stood for longer than its delay is taken notice of, and not before.
	ran := time.Duration(next.runs-1) * tick
	if cond && ran >= x.d.OnDelay {
		require.True(x.t, next.s.Active, "%+v", next)
	}
	if !cond && ran >= x.d.OffDelay {
		require.False(x.t, next.s.Active, "%+v", next)
	}
	if next.s.Active != n.s.Active && cond {
		require.GreaterOrEqual(x.t, ran, x.d.OnDelay, "raised within the on-delay")
	}
	if next.s.Active != n.s.Active && !cond {
		require.GreaterOrEqual(x.t, ran, x.d.OffDelay, "gone within the off-delay")
	}
	x.judge(n, &next, changes, []event{condTrue, condFalse, shelfExpired, realarm}, "step")
}

// later shifts the times of a state to a new now and cuts ages that no longer matter.
func later(s State, by, most time.Duration) State {
	old := func(at time.Duration, is bool) time.Duration {
		if !is {
			return 0
		}
		return max(at-by, -most)
	}
	s.Since = 0
	s.turnedAt, s.stoodAt = old(s.turnedAt, s.turning), old(s.stoodAt, s.stood)
	if s.Letter == G {
		s.Until -= by
	}
	return s
}

// judge checks one step of the walk and takes it.
func (x *explorer) judge(n node, next *node, changes []Change, evs []event, name string) {
	t := x.t
	at := n.s.Letter
	for _, c := range changes {
		require.Equal(t, at, c.From)
		require.True(t, x.inTable(c, evs, next.s.Active), "%s: %v is not in the table", name, c)
		if c.To == B {
			next.acked = false
		}
		if name == "ack" {
			next.acked = true
		}
		if x.d.Latching && c.To == A {
			require.Equal(t, "reset", name, "a latch was left by %s", name)
			require.True(t, n.acked, "a latch was left without an acknowledgement")
			require.True(t, n.clear && !n.s.Active, "a latch was left with the condition standing")
		}
		if x.d.NeedsAck && c.To == A && (c.From < G) {
			require.True(t, next.acked, "%s brought it to normal without an acknowledgement", name)
		}
		at = c.To
	}
	require.Equal(t, at, next.s.Letter, "a change was not told")
	switch next.s.Letter {
	case A, D, E, F:
		require.False(t, next.s.Active, "an active alarm is not shown: %+v", next.s)
	case B, C:
		require.True(t, next.s.Active)
	default:
		require.True(t, x.d.Hidable && !x.d.Latching && !x.d.High, "it was hidden: %+v", next.s)
	}
	require.Equal(t, next.s.Letter == G, next.s.Until != 0)
	require.Equal(t, next.s.Letter == G || next.s.Letter == I, next.s.Reason != "")
	next.s.Since = 0
	x.edges[n] = append(x.edges[n], *next)
	if !x.seen[*next] {
		x.seen[*next] = true
		x.todo = append(x.todo, *next)
	}
}

// inTable finds the row that a change stands for and marks it as seen.
func (x *explorer) inTable(c Change, evs []event, cond bool) bool {
	for _, r := range x.rows {
		for _, ev := range evs {
			if r.ev == ev && r.to == c.To && strings.Contains(r.from, c.From.String()) &&
				holds(x.t, r.guard, x.d, cond) {
				x.hit[r.String()+c.From.String()] = true
				return true
			}
		}
	}
	return false
}

// canRest checks that every node has a way back to normal.
func (x *explorer) canRest() {
	came := map[node][]node{}
	for from, to := range x.edges {
		for _, n := range to {
			came[n] = append(came[n], from)
		}
	}
	rests, todo := map[node]bool{}, []node{}
	for n := range x.seen {
		if n.s.Letter == A {
			rests[n] = true
			todo = append(todo, n)
		}
	}
	for ; len(todo) > 0; todo = todo[1:] {
		for _, n := range came[todo[0]] {
			if !rests[n] {
				rests[n] = true
				todo = append(todo, n)
			}
		}
	}
	for n := range x.seen {
		require.True(x.t, rests[n], "no way back to normal from %+v", n)
	}
}

// Every reachable state of every set of attributes, with and without delays, some of those that
// Check refuses among them.
func TestExploreEverything(t *testing.T) {
	rows := readRows(t)
	hit := map[string]bool{}
	nodes, changes := 0, 0
	for bits := range 64 {
		d := Declaration{Code: "x", NeedsAck: bits&1 != 0, Latching: bits&2 != 0,
			Hidable: bits&4 != 0, High: bits&8 != 0}
		if d.Latching && !d.NeedsAck {
			continue // Check refuses it: the file's rows would let a latch go unacknowledged
		}
		if bits&16 != 0 {
			d.OnDelay, d.OffDelay = 2*tick, tick
		}
		if bits&32 != 0 {
			d.Realarm = 2 * tick
		}
		x := &explorer{t: t, d: d, rows: rows, hit: hit}
		x.walk()
		nodes += len(x.seen)
		for _, e := range x.edges {
			changes += len(e)
		}
	}
	for _, r := range rows {
		for _, from := range r.from {
			can := true
			switch fmt.Sprint(string(from), eventNames[r.ev]) {
			case "Eshelve", "Fshelve", "Esuppress", "Fsuppress", "Eremove", "Fremove":
				can = false // only a latching alarm is in E or F, and that is never hidable
			}
			require.Equal(t, can, hit[r.String()+string(from)], "%s from %s", r, string(from))
		}
	}
	t.Logf("%d situations, %d ways between them", nodes, changes)
}

// The hole that a plain table has: hiding a latched alarm and bringing it back would lose the
// latch. Even a table that Check would refuse does not have it here.
func TestLatchCannotBeHidden(t *testing.T) {
	table := Table{{Code: "x", NeedsAck: true, Latching: true, Hidable: true}}
	for l := range letters {
		s := []State{{Letter: l}}
		_, err := Shelve(table, s, "x", 0, tick, "why")
		require.ErrorIs(t, err, ErrNotHidable)
		_, err = Suppress(table, s, "x")
		require.ErrorIs(t, err, ErrNotHidable)
		_, err = Remove(table, s, "x", "why")
		require.ErrorIs(t, err, ErrNotHidable)
		require.Equal(t, []State{{Letter: l}}, s)
	}
}
