package tui

import (
	"io"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/charmbracelet/x/vt"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/control"
	"strawline/probe/temp"
)

// callBench is a caller with a clock.
type callBench struct {
	*testing.T
	c   caller
	now time.Time
}

func newCallBench(t *testing.T, how Call) *callBench {
	return &callBench{T: t, c: caller{how: how}, now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)}
}

// rings looks at a Snapshot so much later and says whether the bell rang.
func (b *callBench) rings(after time.Duration, s control.Snapshot) bool {
	b.now = b.now.Add(after)
	out := b.c.look(s, Look{Unit: temp.Fahrenheit}, b.now)
	require.Contains(b, []string{"", "\a"}, out, "the bell and nothing else")
	return out != ""
}

const beat = 250 * time.Millisecond

// TestBellForAlarms: at once for a new one, each minute while it stands, and not once it was
// silenced or acknowledged; a new occurrence rings again.
func TestBellForAlarms(t *testing.T) {
	b := newCallBench(t, Call{Bell: true})
	assert.False(t, b.rings(0, soaking().s))
	alarmed := func(state string, silent bool, since float64) control.Snapshot {
		s := tripped().s
		s.Alarms = []control.Alarm{{Code: "over", Word: "over limit", State: state, Silent: silent,
			High: true, Since: minutes(since)}}
		return s
	}
	count := func(span time.Duration, s control.Snapshot) (n int) {
		for range int(span / beat) {
			if b.rings(beat, s) {
				n++
			}
		}
		return n
	}
	assert.True(t, b.rings(beat, alarmed("B", false, 75)), "at once")
	assert.Equal(t, 3, count(3*time.Minute, alarmed("B", false, 75)), "each minute")
	assert.Equal(t, 2, count(2*time.Minute, alarmed("E", false, 75)), "latched, its cause gone")
	assert.Zero(t, count(10*time.Minute, alarmed("B", true, 75)), "silenced")
	assert.Zero(t, count(10*time.Minute, alarmed("E", false, 75)), "silenced before it latched")
	assert.Zero(t, count(10*time.Minute, alarmed("F", false, 75)), "acknowledged, latched")
	assert.True(t, b.rings(beat, alarmed("B", false, 120)), "it comes again")
	assert.Zero(t, count(10*time.Minute, alarmed("C", true, 120)), "acknowledged")
	assert.True(t, b.rings(beat, alarmed("B", false, 150)), "announced again by its table")
	assert.Zero(t, count(10*time.Minute, alarmed("D", false, 150)), "gone: the list has it")

	b = newCallBench(t, Call{Bell: true})
	assert.False(t, b.rings(beat, alarmed("B", true, 75)), "silenced before this screen came")
	assert.False(t, b.rings(beat, alarmed("G", false, 75)), "shelved")
	s := alarmed("D", false, 80)
	assert.True(t, b.rings(beat, s), "come and gone between two looks")
	s.Alarms = append(s.Alarms, alarmed("B", false, 81).Alarms...)
	assert.True(t, b.rings(beat, s), "another one beside it")
}

// TestBellForWaitsAndTheEnd: once for each wait, at the end, and with each reminder until somebody
// answers.
func TestBellForWaitsAndTheEnd(t *testing.T) {
	b := newCallBench(t, Call{Bell: true})
	wait := bladeIn().s
	assert.True(t, b.rings(0, wait))
	assert.False(t, b.rings(30*time.Minute, wait), "once")
	next := wait
	next.Step, next.StepT = 3, minutes(140)
	assert.True(t, b.rings(beat, next), "the next one")
	trip := next
	trip.Phase = control.PhaseTripped
	assert.False(t, b.rings(beat, trip))
	assert.False(t, b.rings(beat, next), "the same after a trip")
	over := ended().s
	assert.True(t, b.rings(beat, over))
	assert.False(t, b.rings(control.RemindEvery-beat, over))
	assert.True(t, b.rings(beat, over), "a reminder")
	over.Phase = control.PhaseClosed
	assert.False(t, b.rings(time.Hour, over), "answered")

	b = newCallBench(t, Call{Bell: true})
	over.Alarms = tripped().s.Alarms
	assert.True(t, b.rings(beat, over), "ended and answered between two looks")
	assert.False(t, b.rings(time.Hour, over), "nobody can take an ask any more")
}

// TestNoNewsCalls: a run that has fallen silent rings once each time.
func TestNoNewsCalls(t *testing.T) {
	b := newBench(t, Options{Call: Call{Bell: true, Notify: true}}, soaking().s)
	for range 20 {
		b.now = b.now.Add(time.Second)
		b.m.Update(tickMsg{})
	}
	require.Len(t, b.said, 1)
	assert.Equal(t, "\x1b]9;Strawline SIMULATED, small-knife: no news from the run\x1b\\\a", b.said[0])
	b.news(soaking().s)
	b.now = b.now.Add(quietFrom)
	b.m.Update(tickMsg{})
	assert.Len(t, b.said, 2)
}

// TestNobodyIsCalledUnasked: neither by default nor in a replay.
func TestNobodyIsCalledUnasked(t *testing.T) {
	all := Call{Bell: true, Title: true, Notify: true}
	for _, o := range []Options{{}, {Call: all, Replay: NewPlayer(*scene().Info, nil, nil)}} {
		b := newBench(t, o, soaking().s)
		for _, st := range scenes() {
			b.now = b.now.Add(time.Minute)
			b.news(st.s)
		}
		assert.Empty(t, b.said)
	}
	b := newBench(t, Options{Call: all}, soaking().s)
	b.news(tripped().s)
	assert.NotEmpty(t, b.said, "the same looks, asked for")
}

func TestTitles(t *testing.T) {
	for _, c := range []struct {
		st    staged
		quiet time.Duration
		want  string
	}{
		{heating(), 0, "SIMULATED · 279 °F · ramp to 400 °F · small-knife"},
		{bladeIn(), 0, "SIMULATED · YOUR TURN · 401 °F · put the blade in · small-knife"},
		{soaking(), 0, "SIMULATED · 399 °F · soak 1 h 13 min left · small-knife"},
		{tripped(), 0, "SIMULATED · OVER LIMIT! 487 °F · small-knife"},
		{open(), 0, "SIMULATED · NO READING! · soak 1 h 13 min left · small-knife"},
		{ended(), 0, "SIMULATED · ENDED · 388 °F · small-knife"},
		{soaking(), time.Minute, "SIMULATED · NO NEWS! · small-knife"},
	} {
		assert.Equal(t, c.want, titleText(c.st.s, c.quiet, temp.Fahrenheit), c.st.name)
	}
	real := soaking().s
	info := *real.Info
	info.Simulated, real.Info = false, &info
	assert.Equal(t, "204 °C · soak 1 h 13 min left · small-knife", titleText(real, 0, temp.Celsius))
}

// TestTitleOnlyOnChange: and at most once a second; the newest comes in the end.
func TestTitleOnlyOnChange(t *testing.T) {
	c := caller{how: Call{Title: true}}
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	var got []string
	for i := range 41 { // ten seconds in which each look has another reading
		if out := c.look(at(soaking().s, minutes(68), float64(380+i)), Look{}, now); out != "" {
			got = append(got, out)
		}
		now = now.Add(beat)
	}
	require.Len(t, got, 11)
	assert.Contains(t, got[0], "\x1b]2;SIMULATED · 193 °C")
	for range 40 {
		if out := c.look(at(soaking().s, minutes(68), 430), Look{}, now); out != "" {
			got = append(got, out)
		}
		now = now.Add(beat)
	}
	require.Len(t, got, 12, "nothing new")
	assert.Contains(t, got[11], "221 °C")
}

// TestNotifications: what is new, with its cause; several at once are one.
func TestNotifications(t *testing.T) {
	c := caller{how: Call{Notify: true}}
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	note := func(text string) string {
		return "\x1b]9;Strawline SIMULATED, small-knife: " + text + "\x1b\\"
	}
	assert.Equal(t, note("OVER LIMIT, 487 °F, the limit is 482 °F; 1 more"),
		c.look(tripped().s, Look{}, now))
	assert.Empty(t, c.look(tripped().s, Look{}, now.Add(time.Hour)), "once")
	assert.Equal(t, note("YOUR TURN, put the blade in"), c.look(bladeIn().s, Look{}, now))
	assert.Equal(t, note("the run has ended, heat off commanded; the oven still reads 198 °C: done"),
		c.look(ended().s, Look{}, now))
}

// TestHarmless: by hand, from the code charts.
func TestHarmless(t *testing.T) {
	for _, c := range []struct {
		text string
		most int
		want string
	}{
		{"398 °F · soak", 80, "398 °F · soak"}, {"Müller", 80, "Müller"},
		{"Übel, Straße", 80, "?bel, Stra?e"},
		{"a\x1b]0;b\a", 80, "a ]0;b "}, {"a\x9cb\u009cc\x7fd", 80, "a b c d"}, {"a\u202eb", 80, "a b"},
		{"°°°°°", 3, "°°°"}, {"", 3, ""},
	} {
		assert.Equal(t, c.want, harmless(c.text, c.most), "%q", c.text)
	}
	assert.Equal(t, "\x1b]2;"+strings.Repeat("x", longestTitle)+"\x1b\\",
		titleSequence(strings.Repeat("x", 200)))
	assert.Equal(t, "\x1b]9;"+strings.Repeat("x", longestNote)+"\x1b\\",
		noteSequence(strings.Repeat("x", 200)))
}

// steers gives what of a sequence could steer a terminal, be it one of 7 or of 8 bits: all but the
// sequence's own beginning and end is text.
func steers(sequence string) string {
	text, ended := strings.CutSuffix(sequence, "\x1b\\")
	rest, isTitle := strings.CutPrefix(text, "\x1b]2;")
	rest, isNote := strings.CutPrefix(rest, "\x1b]9;")
	if !ended || isTitle == isNote || isNote && rest != "" && rest[0] >= '0' && rest[0] <= '9' {
		return "no sequence of ours"
	}
	for i := range len(rest) {
		if b := rest[i]; b < ' ' || b >= 0x7f && b <= 0x9f {
			return rest[i:]
		}
	}
	return ""
}

// TestNothingSteersTheTerminal: whatever stands in a profile's name, in an alarm or in a wait,
// there is no control character inside a sequence.
func TestNothingSteersTheTerminal(t *testing.T) {
	bytesOf := rapid.Custom(func(t *rapid.T) string {
		return string(rapid.SliceOf(rapid.Byte()).Draw(t, "bytes"))
	})
	nasty := rapid.SampledFrom([]string{"\a", "\x1b\\", "\x1b]0;x\a", "\u009c", "\x9c", "Ü", "\u202e",
		"\x7f", "\r\n", "9;4;1;50", "…", "ß", "\ufffd", "\u2028", "°F · "})
	text := rapid.Custom(func(t *rapid.T) string {
		parts := rapid.SliceOf(rapid.OneOf(rapid.String(), bytesOf, nasty)).Draw(t, "text")
		return strings.Join(parts, "")
	})
	rapid.Check(t, func(t *rapid.T) {
		s := []staged{tripped(), bladeIn(), ended()}[rapid.IntRange(0, 2).Draw(t, "scene")].s
		info := *s.Info
		info.Profile.Name, s.Why = text.Draw(t, "name"), text.Draw(t, "why")
		s.Info, s.Steps, s.Alarms = &info, slices.Clone(s.Steps), slices.Clone(s.Alarms)
		s.Steps[s.Step].Say = text.Draw(t, "say")
		for i := range s.Alarms {
			s.Alarms[i].Word, s.Alarms[i].Text = text.Draw(t, "word"), text.Draw(t, "cause")
		}
		now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
		for _, how := range []Call{{Title: true}, {Notify: true}} {
			c := caller{how: how}
			out := c.look(s, Look{}, now)
			require.Empty(t, steers(out), "%q", out)
			require.True(t, utf8.ValidString(out), "%q", out)
		}
	})
}

// dribble takes each write in pieces, between which others could write.
type dribble struct {
	mu  sync.Mutex
	all strings.Builder
}

func (d *dribble) Write(p []byte) (int, error) {
	for one := range slices.Chunk(p, 7) {
		d.mu.Lock()
		d.all.Write(one)
		d.mu.Unlock()
		runtime.Gosched()
	}
	return len(p), nil
}

// TestNothingTearsAFrame: what is said beside the picture stands between two writes of the
// program, whole and in its order, and nothing is said after the screen was left.
func TestNothingTearsAFrame(t *testing.T) {
	var out dribble
	term := newTerminal(Options{In: strings.NewReader(""), Out: &out})
	frame := "\x1b[H" + strings.Repeat("x", 2000) + "\x1b[24;0H"
	var wait sync.WaitGroup
	wait.Go(func() {
		for range 100 {
			io.WriteString(term.out, frame)
		}
	})
	var says []string
	for i := range 200 {
		says = append(says, titleSequence(strings.Repeat("t", i%50)), "\a")
		for _, s := range says[len(says)-2:] {
			cmd := term.later(s)
			wait.Go(func() { cmd() })
		}
	}
	wait.Wait()
	term.close(true)
	term.later("\a")()
	all := out.all.String()
	assert.Equal(t, 100, strings.Count(all, frame))
	rest := strings.ReplaceAll(all, frame, "")
	assert.Equal(t, strings.Join(says, "")+titlesBack, rest)
}

// TestCallsOnATerminal: what an emulator of a terminal hears and shows of a screen, and that a
// screen which was asked for nothing sends none of it.
func TestCallsOnATerminal(t *testing.T) {
	for _, how := range []Call{{}, {Bell: true, Title: true, Notify: true}} {
		d := newDesk(t, false)
		bells, titles, notes := 0, []string(nil), []string(nil)
		d.em.SetCallbacks(vt.Callbacks{Bell: func() { bells++ },
			Title: func(s string) { titles = append(titles, s) }})
		d.em.RegisterOscHandler(9, func(data []byte) bool {
			notes = append(notes, string(data))
			return true
		})
		go d.listen()
		src := &alive{s: soaking().s, turn: func(s *control.Snapshot, looks int) {
			if looks > 2 {
				s.Phase, s.Why, s.Alarms = control.PhaseTripped, "over the limit", tripped().s.Alarms
			}
		}}
		ended := d.start(t.Context(), src, Options{Call: how})
		d.waits("OVER LIMIT", "g go on")
		d.keys("q")
		require.NoError(t, returns(t, ended))
		d.close()
		<-d.read
		all := d.all.String()
		if how == (Call{}) {
			assert.NotContains(t, all, "\a")
			assert.NotContains(t, all, "\x1b]")
			assert.NotContains(t, all, "0t")
			continue
		}
		assert.Equal(t, 1, bells)
		require.Len(t, notes, 1)
		assert.Contains(t, notes[0], "OVER LIMIT, 487 °F, the limit is 482 °F; 1 more")
		require.NotEmpty(t, titles)
		assert.Contains(t, titles[0], "soak 1 h 13 min left")
		kept, back := strings.Index(all, titlesKept), strings.LastIndex(all, titlesBack)
		assert.Less(t, kept, strings.Index(all, "\x1b]2;"))
		assert.Greater(t, back, strings.LastIndex(all, "\x1b]2;"))
		assert.Greater(t, back, strings.LastIndex(all, "\x1b[?1049l"))
	}
}
