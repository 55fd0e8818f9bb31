package port

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe"
	"strawline/probe/board"
	"strawline/probe/temp"
)

func TestDutyOnceASecondAndAtOnceWhenItFalls(t *testing.T) {
	r := newRig(t)
	r.up()
	r.run(4*time.Second, 500)
	assert.Equal(t, []int{500, 500, 500, 500}, r.b.duties())
	for _, d := range []int{510, 490, 490, 480} { // a rise waits, each fall does not
		r.run(250*ms, d)
	}
	assert.Equal(t, []int{500, 500, 500, 500, 510, 490, 480}, r.b.duties())
	r.p.Command(r.now, -5)
	r.run(time.Second, 1001)
	assert.Equal(t, []int{0, 1000}, r.b.duties()[7:], "clamped")
	assert.Equal(t, uint16(1000), r.b.duty.PerMille())
}

// Frames stop when the caller stops: only so does the board's dead man see it.
func TestNoFrameWithoutACommand(t *testing.T) {
	r := newRig(t)
	r.up()
	r.run(time.Second, 500)
	n := len(r.b.duties())
	r.run(10*time.Second, -1)
	assert.Len(t, r.b.duties(), n)
}

func TestNumbersWrap(t *testing.T) {
	r := newRig(t)
	r.p.talk.number = math.MaxUint16 - 3
	r.up()
	r.run(10*time.Second, 300)
	assert.True(t, r.p.link.Heats)
	assert.Equal(t, 1, r.b.queries())
	assert.Equal(t, uint16(300), r.b.duty.PerMille())
	assert.Less(t, r.b.numbers.Last(), uint16(20))
}

// A board that hears us but accepts no command is asked again, with duty 0.
func TestCommandsThatAreNotAccepted(t *testing.T) {
	r := newRig(t)
	r.up()
	r.run(time.Second, 300)
	r.b.deaf = true
	n := len(r.b.duties())
	r.run(5*time.Second, 300)
	after := r.b.duties()[n:]
	require.GreaterOrEqual(t, len(after), 4)
	assert.Equal(t, []int{300, 300, 300, 0}, after[:4])
	for _, d := range after[3:] {
		assert.Zero(t, d)
	}
	assert.Greater(t, r.b.queries(), 1)
	r.b.deaf = false
	r.run(2*time.Second, 300)
	assert.True(t, r.p.link.Heats)
	assert.Equal(t, uint16(300), r.b.duty.PerMille())
}

// One lost line is no reason to doubt: the next number is still in the window.
func TestOneLostCommand(t *testing.T) {
	r := newRig(t)
	r.up()
	r.run(time.Second, 300)
	r.b.deaf = true
	r.run(time.Second, 300)
	r.b.deaf = false
	r.run(3*time.Second, 300)
	assert.Equal(t, 1, r.b.queries())
	assert.True(t, r.p.link.Heats)
}

// Whatever happens, no duty above 0 leaves unless the board has answered since its start.
func TestNoHeatUnproven(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := newRig(t)
		r.b.start()
		for range rapid.IntRange(1, 40).Draw(rt, "steps") {
			switch rapid.IntRange(0, 5).Draw(rt, "what") {
			case 0:
				r.b.start()
				r.poll()
			case 1:
				r.b.deaf = !r.b.deaf
			case 2:
				r.b.mute = !r.b.mute
			case 3:
				old := r.b
				old.end, old.in = errVanished, nil
				r.poll()
				r.b = newFake()
			}
			r.run(time.Duration(rapid.IntRange(1, 40).Draw(rt, "ticks"))*50*ms,
				rapid.IntRange(0, 1000).Draw(rt, "duty"))
			if r.b.wild {
				rt.Fatalf("heat to a board that has not answered since it started")
			}
			if l := r.p.link; l.Heats && (l.State != probe.LinkUp || l.Board == nil) {
				rt.Fatalf("heats in state %v", l.State)
			}
		}
		r.fire[r.p.cfg.OffLimit] = true
		_ = r.p.Close(r.now) // a deaf board does not answer; what counts here was said above
	})
}

func TestResetLatches(t *testing.T) {
	r := newRig(t)
	r.b.about.Latches = probe.LatchHighLimit
	r.up()
	r.b.result = board.ResultStands
	r.p.ResetLatches(r.now)
	r.p.ResetLatches(r.now)
	r.run(250*ms, 0)
	r.b.result = 0
	r.run(2*time.Second, 0)
	r.p.ResetLatches(r.now)
	r.run(2*time.Second, 0)
	assert.Equal(t, []probe.Ack{
		{Of: OfReset, Why: "another request is under way"},
		{Of: OfReset, Why: "the cause still stands: high limit"},
		{Of: OfReset},
	}, r.seen.Acks)
	assert.True(t, r.p.link.Heats)
	assert.Zero(t, r.p.link.Board.Latches)
}

func TestProposeSettings(t *testing.T) {
	want := probe.Settings{Guard: 2, Limit: 200, Window: 4 * time.Second, MainsHz: 60}
	with := func(f func(*probe.Settings)) probe.Settings { s := want; f(&s); return s }
	for name, c := range map[string]struct {
		s   probe.Settings
		bad func(*rig)
		why string
	}{
		"done":       {s: want},
		"guard":      {s: with(func(s *probe.Settings) { s.Guard = 3 }), why: "1 to 2"},
		"limit":      {s: with(func(s *probe.Settings) { s.Limit = 900 }), why: "takes up to"},
		"no number":  {s: with(func(s *probe.Settings) { s.Limit = temp.C(math.NaN()) }), why: "limit"},
		"window":     {s: with(func(s *probe.Settings) { s.Window = 2500 * ms }), why: "whole seconds"},
		"mains":      {s: with(func(s *probe.Settings) { s.MainsHz = 0 }), why: "50 or 60"},
		"heating":    {s: want, bad: func(r *rig) { r.run(2*time.Second, 100) }, why: "duty must be 0"},
		"refused":    {s: want, bad: func(r *rig) { r.b.result = 'R' }, why: "out of the board's range"},
		"no answer":  {s: want, bad: func(r *rig) { r.b.deaf = true }, why: "did not answer"},
		"not stored": {s: want, bad: func(r *rig) { r.b.other = &r.b.about.Stored }, why: "instead of"},
		"restart": {s: want, bad: func(r *rig) { r.b.deaf = true; r.b.start() },
			why: "the board has started again"},
		"vanished": {s: want, bad: func(r *rig) { r.b.mute, r.b.deaf, r.b.end = true, true, errVanished },
			why: "link was lost"},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t)
			r.up()
			if c.bad != nil {
				c.bad(r)
			}
			r.p.ProposeSettings(r.now, c.s)
			if name == "vanished" {
				r.deny = errVanished
			}
			r.run(4*time.Second, 0)
			require.Len(t, r.seen.Acks, 1)
			assert.Equal(t, OfSettings, r.seen.Acks[0].Of)
			if c.why != "" {
				assert.Contains(t, r.seen.Acks[0].Why, c.why)
				return
			}
			assert.Empty(t, r.seen.Acks[0].Why)
			// 200 °C is 792 quarters: 197.94 °C on the chip's line (facts of the chip, rounded).
			got := r.p.link.Board.Settings
			assert.Equal(t, int16(792), got.LimitQ)
			assert.InDelta(t, 200.06, float64(got.Limit), 0.01)
			assert.Equal(t, []any{2, 4 * time.Second, 60}, []any{got.Guard, got.Window, got.MainsHz})
			assert.True(t, r.p.link.Heats)
		})
	}
}

func TestRequestsBeforeTheHandshake(t *testing.T) {
	r := newRig(t)
	r.p.ResetLatches(0)
	r.p.ProposeSettings(0, probe.Settings{})
	r.poll()
	require.Len(t, r.seen.Acks, 2)
	assert.Contains(t, r.seen.Acks[0].Why, "has not answered")
	assert.Contains(t, r.seen.Acks[1].Why, "has not answered")
}

func TestClose(t *testing.T) {
	for name, c := range map[string]struct {
		bad    func(*rig)
		duties []int
		why    string
	}{
		"answered": {bad: func(r *rig) { r.b.prompt = true }, duties: []int{0}},
		"old answer": {bad: func(r *rig) { r.b.say(r.b.reading(r.now, word200)) }, duties: []int{0},
			why: "did not answer"},
		"no answer": {bad: func(r *rig) { r.b.deaf = true }, duties: []int{0}, why: "did not answer"},
		"vanished": {bad: func(r *rig) { r.b.deaf, r.b.end = true, errVanished }, duties: []int{0},
			why: "vanished"},
		"off already": {bad: func(r *rig) { r.run(500*ms, 0) }, duties: []int{0}},
		"off unheard": {bad: func(r *rig) { r.b.deaf = true; r.p.Command(r.now, 0) },
			duties: []int{0, 0}, why: "did not answer"},
		"restarted": {bad: func(r *rig) { r.b.deaf = true; r.b.start(); r.poll() },
			duties: []int{}},
		"unplugged before": {bad: func(r *rig) { r.b.end = errVanished; r.poll() }, duties: []int{},
			why: "did not answer"},
		"unplugged when off": {bad: func(r *rig) { r.run(500*ms, 0); r.b.end = errVanished; r.poll() },
			duties: []int{0}},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t)
			r.up()
			r.run(2*time.Second, 400)
			n := len(r.b.duties())
			c.bad(r)
			r.fire[r.p.cfg.OffLimit] = true
			err := r.p.Close(r.now)
			if c.why == "" {
				assert.NoError(t, err)
			} else {
				assert.ErrorContains(t, err, c.why)
			}
			assert.Equal(t, c.duties, r.b.duties()[n:])
			r.b.isClosed(t)
			r.now += time.Minute
			assert.Equal(t, probe.LinkClosed, r.poll().State)
			assert.Equal(t, 1, r.opens, "it stays closed")
		})
	}
}
