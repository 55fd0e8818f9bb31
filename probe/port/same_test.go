package port

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/board"
)

// swap unplugs the board of a rig at full heat and gives what comes back under the name.
func swap(t *testing.T) (r *rig, next *fake) {
	r = newRig(t)
	r.up()
	r.run(2*time.Second, 600)
	require.Equal(t, uint16(600), r.b.duty.PerMille())
	r.b.end = errVanished
	r.poll()
	require.Equal(t, probe.LinkGone, r.p.link.State)
	next = newFake()
	next.about.Boot = 8
	r.b, r.seen = next, probe.Batch{}
	return r, next
}

// others are boards that cannot be the one of newFake, which was at its start 7.
var others = map[string]struct {
	is  func(*board.About)
	say string
}{
	"name":     {func(a *board.About) { a.Name = "straw-two" }, "straw-two (MAX31855K, channels 2, "},
	"chip":     {func(a *board.About) { a.Chip = "MAX6675" }, "straw-uno (MAX6675, channels 2, "},
	"channels": {func(a *board.About) { a.Channels = 1 }, "(MAX31855K, channels 1, "},
	// 1267 quarters of the chip's straight line are 320 °C (probe/firmware/config.h).
	"ceiling":   {func(a *board.About) { a.CeilingQ = 1267 }, "ceiling 320 °C, start 8) in the place "},
	"its count": {func(a *board.About) { a.Boot = 6 }, "start 6) in the place of straw-uno ("},
	"count at the wrap": {func(a *board.About) { a.Boot = 65535 },
		"start 65535) in the place of straw-uno ("},
}

// TestAnotherBoardUnderTheName gets no heat and gives no reading, be its start seen or not; when
// the first board is back it is proved again.
func TestAnotherBoardUnderTheName(t *testing.T) {
	for name, o := range others {
		for _, boots := range []bool{true, false} {
			r, b := swap(t)
			o.is(&b.about)
			if boots {
				b.start()
			}
			r.run(5*time.Second, 600)
			link := r.p.link
			require.Equal(t, probe.LinkOther, link.State, "%s %v", name, boots)
			assert.Contains(t, link.Other, "found "+b.about.Name)
			assert.Contains(t, link.Other, o.say, name)
			assert.Contains(t, link.Other, ", start 7)", name)
			assert.NotContains(t, link.Other, "\n")
			assert.EqualError(t, r.p.Err(), "reading /dev/ttyUSB7: "+link.Other+
				" (not what was there first)")
			assert.False(t, link.Heats)
			assert.Nil(t, link.Board)
			assert.Empty(t, r.seen.Readings, "of another oven")
			assert.Empty(t, r.seen.Boots)
			assert.Empty(t, b.duties(), "it is left alone")
			n, opens := len(b.heard), r.opens
			r.run(2*time.Minute, 600)
			assert.Len(t, b.heard, n)
			assert.Equal(t, opens, r.opens, "opening it again would start it each time")
			r.p.ResetLatches(r.now)
			r.poll()
			require.Len(t, r.seen.Acks, 1)
			assert.NotEmpty(t, r.seen.Acks[0].Why, "nor are its latches reset")
			assert.Len(t, b.heard, n)

			b.end = errVanished
			r.poll()
			require.Equal(t, probe.LinkGone, r.p.link.State)
			assert.Empty(t, r.p.link.Other)
			r.b = newFake()
			r.b.about.Boot = 9
			r.b.start()
			r.run(2*time.Second, 600)
			assert.Equal(t, probe.LinkUp, r.p.link.State, "%s %v", name, boots)
			assert.True(t, r.p.link.Heats)
			assert.Len(t, r.seen.Boots, 1)
			assert.Equal(t, uint16(600), r.b.duty.PerMille())
		}
	}
}

// TestAnotherBoardIsNotTheOneToAnswerForTheHeat: what became of the first board's last duty stays
// unknown, whatever the other one shows.
func TestAnotherBoardIsNotTheOneToAnswerForTheHeat(t *testing.T) {
	for _, boots := range []bool{true, false} {
		r, b := swap(t)
		b.about.Name = "straw-two"
		if boots {
			b.start()
		}
		b.say(b.reading(10*ms, word200), b.reading(260*ms, word200)) // its clock is behind
		r.b.mute = true
		r.run(3*time.Second, 600)
		require.Equal(t, probe.LinkOther, r.p.link.State)
		require.ErrorIs(t, r.p.Close(r.now), errNoOff)
		assert.Empty(t, b.duties())
	}
}

// TestTheSameBoardIsBack: the count of its starts has gone on, by however many; or it ran on.
func TestTheSameBoardIsBack(t *testing.T) {
	for _, start := range []uint16{8, 9, 700, 7} {
		r, b := swap(t)
		b.about.Boot = start
		if start != 7 {
			b.start()
		}
		r.run(2*time.Second, 600)
		assert.True(t, r.p.link.Heats, start)
		assert.Equal(t, uint16(600), b.duty.PerMille())
		assert.Equal(t, start != 7, len(r.seen.Boots) == 1, start)
	}
	r, b := swap(t) // 65,535 starts, and one more
	r.p.talk.boot, b.about.Boot = 65535, 0
	b.start()
	r.run(time.Second, 600)
	assert.True(t, r.p.link.Heats)
}

// TestAClockThatWentBackIsAStart although the board counts none: its memory is worn, or it is a
// board that was started as often.
func TestAClockThatWentBackIsAStart(t *testing.T) {
	r, b := swap(t)
	b.about.Boot = 7
	b.mute = true
	r.run(time.Second, 600)
	for at := time.Duration(0); at < time.Second; at += 250 * ms { // its clock was at 2.5 s
		b.say(b.reading(at, word200))
		r.run(250*ms, 600)
	}
	require.Len(t, r.seen.Boots, 1)
	assert.Equal(t, uint16(7), r.seen.Boots[0].Boot)

	r = newRig(t) // the same without an unplugged cable
	r.up()
	r.run(3*time.Second, 600)
	require.Len(t, r.seen.Boots, 1)
	r.b.duty.Off()
	r.b.say(r.b.reading(10*ms, word200))
	r.b.mute = true
	r.run(time.Second, 600)
	require.Len(t, r.seen.Boots, 2)
}

// TestABoardSwappedBehindItsAdapter: the port stays open through it. The heat goes at once, and
// the first board's start brings it back.
func TestABoardSwappedBehindItsAdapter(t *testing.T) {
	r := newRig(t)
	r.up()
	r.run(2*time.Second, 600)
	r.b.about.Name = "straw-two"
	r.b.say(board.Info{About: r.b.about})
	r.poll()
	require.Equal(t, probe.LinkOther, r.p.link.State)
	assert.False(t, r.p.link.Heats)
	assert.Equal(t, 0, r.b.duties()[len(r.b.duties())-1], "off goes to whatever took the heat")
	n := len(r.b.heard)
	r.b.start()
	r.run(10*time.Second, 600)
	assert.Equal(t, probe.LinkOther, r.p.link.State)
	assert.Len(t, r.b.heard, n)
	r.b.about.Name, r.b.about.Boot = "straw-uno", 8
	r.b.start()
	r.run(2*time.Second, 600)
	assert.Equal(t, 1, r.opens)
	assert.Equal(t, probe.LinkUp, r.p.link.State)
	assert.Empty(t, r.p.link.Other)
	assert.Equal(t, uint16(600), r.b.duty.PerMille())
}

// TestAnotherAdapterIsNotOpened: a name that another adapter has taken is refused unopened, and
// taken again when the first is back. Where it is not known what was first, nothing is refused.
func TestAnotherAdapterIsNotOpened(t *testing.T) {
	path := filepath.Join(t.TempDir(), "port")
	here := func() { require.NoError(t, os.WriteFile(path, nil, 0o600)) }
	var is string
	opens := 0
	var deny error
	open := sameDevice(path, func(string) string { return is }, func() (Stream, error) {
		opens++
		return nil, deny
	})
	refused := func(say string) {
		t.Helper()
		was := opens
		_, err := open()
		var oe *OpenError
		require.ErrorAs(t, err, &oe)
		assert.Equal(t, probe.LinkOther, oe.State)
		assert.Equal(t, say+" in the place of B (2)", oe.Help)
		assert.Equal(t, was, opens)
	}
	taken := func() {
		t.Helper()
		was := opens
		_, err := open()
		assert.Equal(t, deny, err)
		assert.Equal(t, was+1, opens)
	}
	here()
	deny = errors.New("busy")
	is = "A (1)"
	taken() // it was never open: it is not the first one
	deny, is = nil, "B (2)"
	taken()
	is = "A (1)"
	refused("found A (1)")
	is = ""
	refused("found what is no USB adapter")
	require.NoError(t, os.Remove(path))
	deny = &OpenError{State: probe.LinkMissing}
	taken() // and is missing
	here()
	deny, is = nil, "B (2)"
	taken()
	is = "A (1)"
	refused("found A (1)")

	open = sameDevice(path, func(string) string { return is }, func() (Stream, error) {
		opens++
		return nil, nil
	})
	is = ""
	taken()
	is = "A (1)"
	taken()
}

// TestAClockThatWentBackBeforeAnyName is no start of a board that is met behind it: its next
// introduction is none either, and what was asked of it is not broken off.
func TestAClockThatWentBackBeforeAnyName(t *testing.T) {
	r := newRig(t)
	r.b.mute, r.b.deaf = true, true
	r.poll()
	for _, at := range []time.Duration{9000, 9250, 9500, 10, 260} { // its boot line is lost
		r.b.say(r.b.reading(at*ms, word200))
		r.run(250*ms, -1)
	}
	r.b.mute, r.b.deaf = false, false
	r.run(2*time.Second, -1)
	require.True(t, r.p.link.Heats)
	r.p.ProposeSettings(r.now, r.p.link.Board.Settings)
	r.run(2*time.Second, -1)
	require.Equal(t, []probe.Ack{{Of: OfSettings}}, r.seen.Acks)
	require.Empty(t, r.seen.Boots)
	require.True(t, r.p.link.Heats)
}

// TestABoardSwappedBehindASilentAdapter: whose lines come after a silence is not known before they
// say it, so that no reading is taken until then, and the first board's last duty stays unanswered.
func TestABoardSwappedBehindASilentAdapter(t *testing.T) {
	for _, clock := range []time.Duration{10 * ms, time.Hour} { // behind the first one's, or ahead
		r := newRig(t)
		r.up()
		r.run(2*time.Second, 600)
		r.b.mute, r.b.deaf = true, true
		r.run(2*time.Second, 600)
		require.Equal(t, probe.LinkSilent, r.p.link.State)
		r.seen = probe.Batch{}
		r.b.about.Name, r.b.deaf = "straw-two", false
		for range 8 {
			r.b.say(r.b.reading(clock, word200))
			r.run(250*ms, 600)
			clock += 250 * ms
		}
		require.Equal(t, probe.LinkOther, r.p.link.State)
		require.Empty(t, r.seen.Readings, "of another oven")
		require.ErrorIs(t, r.p.Close(r.now), errNoOff)
	}
}
