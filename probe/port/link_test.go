package port

import (
	"errors"
	"fmt"
	"io/fs"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/board"
)

const ms = time.Millisecond

func TestOpeningStates(t *testing.T) {
	for _, c := range []struct {
		err  error
		want probe.LinkState
	}{
		{&OpenError{State: probe.LinkMissing}, probe.LinkMissing},
		{fmt.Errorf("wrapped: %w", &OpenError{State: probe.LinkBusy}), probe.LinkBusy},
		{&OpenError{State: probe.LinkDenied}, probe.LinkDenied},
		{&OpenError{State: probe.LinkNotPort}, probe.LinkNotPort},
		{fs.ErrNotExist, probe.LinkMissing},
		{fs.ErrPermission, probe.LinkDenied},
		{errors.New("anything"), probe.LinkNotPort},
	} {
		r := newRig(t)
		r.deny = c.err
		r.run(5*time.Second, -1)
		require.Len(t, r.links, 1, "told once: %v", r.states())
		assert.Equal(t, c.want, r.links[0].State)
		assert.Equal(t, 50*ms, r.links[0].Since)
		assert.Equal(t, 10, r.opens, "a try each 0.5 s")
		assert.Same(t, c.err, r.p.Err())
	}
}

func TestPanicOfTheOpener(t *testing.T) {
	p := New(Config{}, func() (Stream, error) { panic("boom") })
	assert.Equal(t, probe.LinkNotPort, p.Poll(0).Link.State)
	assert.ErrorContains(t, p.Err(), "boom")
}

// A port that is plugged in late, falls silent, speaks again, vanishes and comes back: each
// state is told once, with the time at which it began.
func TestLifeOfALink(t *testing.T) {
	r := newRig(t)
	r.deny = &OpenError{State: probe.LinkMissing}
	r.run(time.Second, -1) // tried at 0.05, 0.55, 1.05 s
	r.deny = nil
	r.b.mute = true
	r.run(time.Second, -1) // open at 1.05 s
	r.b.start()
	r.b.mute = false
	r.run(2*time.Second, -1) // up at 2.05 s, last reading at 4.00 s
	r.b.mute = true
	r.run(3*time.Second, -1) // silent at 5.50 s
	r.b.mute = false
	r.run(time.Second, -1) // up at 7.25 s
	old := r.b
	r.b.end = errVanished
	r.b.mute = true
	r.deny = &OpenError{State: probe.LinkMissing}
	r.run(time.Second, -1) // gone at 8.05 s, missing at 8.55 s
	r.deny, r.b = nil, newFake()
	r.b.about.Boot = 8
	r.b.start()
	r.run(time.Second, -1) // open and up at 9.05 s
	type at struct {
		State probe.LinkState
		Since time.Duration
	}
	var got []at
	for _, l := range r.links {
		got = append(got, at{l.State, l.Since})
	}
	assert.Equal(t, []at{
		{probe.LinkMissing, 50 * ms}, {probe.LinkWaiting, 1050 * ms}, {probe.LinkUp, 2050 * ms},
		{probe.LinkSilent, 5500 * ms}, {probe.LinkUp, 7250 * ms}, {probe.LinkGone, 8050 * ms},
		{probe.LinkMissing, 8550 * ms}, {probe.LinkWaiting, 9050 * ms}, {probe.LinkUp, 9050 * ms},
	}, got)
	old.isClosed(t)
	require.Len(t, r.seen.Boots, 2)
	assert.Equal(t, uint16(8), r.seen.Boots[1].Boot)
}

// Reopening resets most boards: a mute port is given 5, 10, 20, 40 and then 40 s.
func TestPatienceDoubles(t *testing.T) {
	r := newRig(t)
	r.b.mute = true
	var opened []time.Duration
	for range 20 * 170 {
		before := r.opens
		r.now += 50 * ms
		r.poll()
		if r.opens > before {
			opened = append(opened, r.now-50*ms)
			if len(opened) > 1 {
				r.b.isClosed(t)
			}
			r.b.closed = make(chan struct{})
		}
	}
	assert.Equal(t, []time.Duration{0, 5 * time.Second, 15 * time.Second, 35 * time.Second,
		75 * time.Second, 115 * time.Second, 155 * time.Second}, opened)
	assert.Equal(t, []probe.LinkState{probe.LinkWaiting}, r.states())
}

func TestSilenceIsNotReopenedBeforePatience(t *testing.T) {
	r := newRig(t)
	r.up()
	r.b.mute = true
	r.run(6400*ms, -1) // the last reading was at 0.5 s: silent at 2.0 s
	assert.Equal(t, 1, r.opens)
	assert.Equal(t, probe.LinkSilent, r.p.link.State)
	r.b.closed = make(chan struct{})
	r.run(100*ms, -1)
	assert.Equal(t, 2, r.opens)
	assert.Equal(t, probe.LinkWaiting, r.p.link.State)
	assert.Nil(t, r.p.link.Board)
}

func TestWritesThatFail(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*rig)
		want  error
	}{
		"short": {func(r *rig) { r.b.short = true }, errShort},
		"stuck": {func(r *rig) {
			r.b.stuck = make(chan struct{})
			t.Cleanup(func() { close(r.b.stuck) })
			r.fire[r.p.cfg.WriteLimit] = true
		}, errStuck},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t)
			r.up()
			c.spoil(r)
			r.p.Command(r.now, 300)
			r.deny = &OpenError{State: probe.LinkMissing}
			link := r.poll()
			assert.Equal(t, probe.LinkGone, link.State)
			assert.False(t, link.Heats)
			assert.ErrorIs(t, r.p.Err(), c.want)
			r.b.isClosed(t)
			r.p.Command(r.now, 300)
			assert.Empty(t, r.b.duties(), "nothing goes to a closed stream")
		})
	}
}

func TestPanicOfTheLibraryInRead(t *testing.T) {
	r := newRig(t)
	r.up()
	r.b.crash = true
	r.deny = &OpenError{State: probe.LinkMissing}
	assert.Equal(t, probe.LinkGone, r.poll().State)
	assert.ErrorContains(t, r.p.Err(), "index out of range")
}

// A Close that hangs neither stalls the port nor lets it meet its own lock.
func TestHangingClose(t *testing.T) {
	r := newRig(t)
	r.up()
	r.b.hang = make(chan struct{})
	r.fire[r.p.cfg.CloseLimit] = true
	r.b.end = errVanished
	r.poll()
	r.run(3*time.Second, -1)
	assert.Equal(t, 1, r.opens)
	assert.Equal(t, probe.LinkGone, r.p.link.State)
	close(r.b.hang)
	<-r.p.closing
	r.b = newFake()
	r.run(time.Second, -1)
	assert.Equal(t, 2, r.opens)
	assert.Equal(t, probe.LinkUp, r.p.link.State)
}

func TestHalfLinesAndGarbage(t *testing.T) {
	r := newRig(t)
	boot := board.Append(nil, board.Boot{About: r.b.about})
	read := board.Append(nil, r.b.reading(time.Second, word200))
	open := board.Append(nil, r.b.reading(time.Second, wordOpen))
	r.b.deaf, r.b.mute = true, true
	r.b.in = [][]byte{
		read[5:],             // the tail of a line: passed over, not bad
		boot[:20], boot[20:], // a whole line in two pieces
		{0, 0xFF, '\n'},          // bad
		read[:9], []byte("\r\n"), // bad: half a line ended by an empty one
		append(open[:0:0], open...),     // good
		[]byte("T1=204.5\r\n"),          // bad: another kind of board
		board.Append(nil, board.Duty{}), // bad: an echo
		read[:len(read)-1], {'\n'},      // good
	}
	r.poll()
	link := r.poll()
	assert.Equal(t, uint64(4), link.Bad)
	require.Len(t, r.seen.Readings, 2)
	assert.Equal(t, probe.FaultOpen, r.seen.Readings[0].Fault)
	good := r.seen.Readings[1]
	assert.Equal(t, probe.FaultNone, good.Fault)
	assert.InDelta(t, 200.06, float64(good.Hot), 0.01)
	assert.InDelta(t, 25, float64(good.Cold), 1e-9)
	assert.Equal(t, uint32(word200), good.Raw)
}

// The first line may have waited in an adapter since before the opening.
func TestFirstLineIsDropped(t *testing.T) {
	r := newRig(t)
	r.b.mute = true
	r.b.say(r.b.reading(0, word200))
	assert.Equal(t, probe.LinkWaiting, r.poll().State)
	assert.Equal(t, probe.LinkWaiting, r.poll().State)
	r.b.say(r.b.reading(0, word200))
	assert.Equal(t, probe.LinkUp, r.poll().State)
	assert.Zero(t, r.p.link.Bad)
}

func TestCollect(t *testing.T) {
	r := newRig(t)
	b, err := r.p.Collect(0, 999) // opens; the count belongs to no opening
	require.NoError(t, err)
	assert.Equal(t, probe.LinkWaiting, b.Link.State)
	assert.Equal(t, uint64(2), r.p.Sent(), "the empty line that ends half a line")
	r.b.start()
	r.b.mute = true
	said := uint64(2 + len(board.Append(nil, board.Boot{About: r.b.about})))
	b, err = r.p.Collect(250*ms, said)
	require.NoError(t, err)
	assert.Equal(t, said, r.p.Got())
	assert.Equal(t, uint64(r.b.wrote), r.p.Sent())
	require.Len(t, b.Boots, 1)
	r.fire[r.p.cfg.CollectLimit] = true
	_, err = r.p.Collect(500*ms, said+10_000)
	assert.ErrorContains(t, err, "came within 5s")
	_, err = r.p.Collect(750*ms, 1)
	assert.ErrorContains(t, err, "where 1 were said")
	r.b.end = errVanished
	b, err = r.p.Collect(time.Second, said+10_000)
	require.NoError(t, err, "the stream has ended")
	assert.Equal(t, probe.LinkGone, b.Link.State)
}
