package tui

import (
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/muesli/termenv"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/probe/temp"
)

// bench is a model with a hand on its keys and an ear on what it asks.
type bench struct {
	*testing.T
	m     *Model
	asked []control.Ask
	said  []string // beside the picture
	now   time.Time
	left  bool
}

func newBench(t *testing.T, o Options, s control.Snapshot) *bench {
	b := &bench{T: t, now: time.Date(2026, 11, 24, 12, 0, 0, 0, time.UTC)}
	o.Now = func() time.Time { return b.now }
	o.Unit = temp.Fahrenheit
	b.m = newModel(o, NewInk(termenv.Ascii), func(a control.Ask) { b.asked = append(b.asked, a) },
		func(out string) tea.Cmd { b.said = append(b.said, out); return nil })
	b.news(s)
	return b
}

// do gives a message to the model and runs what it starts, but not the next tick.
func (b *bench) do(msg tea.Msg) {
	_, cmd := b.m.Update(msg)
	if _, ok := msg.(tickMsg); ok || cmd == nil {
		return
	}
	if _, ok := cmd().(tea.QuitMsg); ok {
		b.left = true
	}
}

func (b *bench) news(s control.Snapshot) { b.do(newsMsg{s: s}) }

// press presses keys: single runes, or names in angle brackets.
func (b *bench) press(keys ...string) {
	named := map[string]tea.KeyType{"<enter>": tea.KeyEnter, "<esc>": tea.KeyEsc,
		"<ctrl+c>": tea.KeyCtrlC, "<backspace>": tea.KeyBackspace, "<space>": tea.KeySpace,
		"<f1>": tea.KeyF1, "<ctrl+z>": tea.KeyCtrlZ}
	for _, k := range keys {
		if typ, ok := named[k]; ok {
			msg := tea.KeyMsg{Type: typ}
			if typ == tea.KeySpace {
				msg.Runes = []rune{' '}
			}
			b.do(msg)
			continue
		}
		for _, r := range k {
			b.do(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune{r}})
		}
	}
}

func (b *bench) sees(words ...string) {
	b.Helper()
	for _, w := range words {
		assert.Contains(b, b.m.View(), w)
	}
}

func ask1(kind control.AskKind) control.Ask { return control.Ask{Kind: kind, By: "screen"} }

func TestHeatOffAndSilenceActAtOnce(t *testing.T) {
	b := newBench(t, Options{}, soaking().s)
	b.press("h", "s")
	assert.Equal(t, []control.Ask{ask1(control.AskHeatOff), ask1(control.AskSilence)}, b.asked)
	b.sees("silence asked")
}

// TestEveryOtherKeyAsksFirst: the consequence stands in words, n and esc ask nothing, y asks.
func TestEveryOtherKeyAsksFirst(t *testing.T) {
	undone := soaking().s
	undone.Undo = "skip"
	stayed := soaking().s
	stayed.Stay = stayed.T + time.Minute
	emptyWait := ended().s
	emptyWait.Phase, emptyWait.Step = control.PhaseRunning, len(emptyWait.Steps)-1
	outWait := emptyWait
	outWait.BladeIn = true
	for name, c := range map[string]struct {
		s    control.Snapshot
		keys []string
		says string
		want control.Ask
	}{
		"acknowledge": {tripped().s, []string{"a"}, "acknowledge 2 alarms: I have seen them",
			ask1(control.AskAcknowledge)},
		"reset": {tripped().s, []string{"r"}, "heat stays off until go on", ask1(control.AskReset)},
		"go on": {tripped().s, []string{"g"}, "go on with step 3, soak 2 h: heat may come back",
			ask1(control.AskGoOn)},
		"confirm": {bladeIn().s, []string{"c"}, "put the blade in; then step 3, soak 2 h",
			ask1(control.AskConfirm)},
		"answer": {ended().s, []string{"c"}, "I know that the run has ended",
			ask1(control.AskAnswer)},
		"more": {soaking().s, []string{"m"}, "2 h 10 min, ready 18:52",
			control.Ask{Kind: control.AskMore, By: "screen", Seconds: 600}},
		"skip": {soaking().s, []string{"k"}, "skip to step 4, wait; 1:12:30 of this soak not done",
			ask1(control.AskSkip)},
		"skip of blade in": {bladeIn().s, []string{"k"}, "skip to step 3, soak 2 h; no blade counts as in  y",
			ask1(control.AskSkip)},
		"skip of blade out": {outWait, []string{"k"}, "heat off; the blade counts as still in  y",
			ask1(control.AskSkip)},
		"skip of blade out, none in": {emptyWait, []string{"k"}, "the run ends, heat off  y",
			ask1(control.AskSkip)},
		"undo": {undone, []string{"u"}, "take back: skip", ask1(control.AskUndo)},
		"stop": {soaking().s, []string{"x"}, "the run ends, heat off", ask1(control.AskStop)},
		"stay": {soaking().s, []string{"t", "1h30m", "<enter>"},
			"stay here for 1 h 30 min, the profile waits",
			control.Ask{Kind: control.AskStay, By: "screen", Seconds: 5400}},
		"stay in words": {soaking().s, []string{"t", "10", "<space>", "min", "<enter>"},
			"stay here for 10 min", control.Ask{Kind: control.AskStay, By: "screen", Seconds: 600}},
		"end of stay": {stayed, []string{"t"}, "end the stay", ask1(control.AskStay)},
		"setpoint": {soaking().s, []string{"e", "420x", "<backspace>", "f", "<enter>"},
			"setpoint 400.0 °F becomes 420.0 °F",
			control.Ask{Kind: control.AskSet, By: "screen", TempC: 215.5556}},
	} {
		t.Run(name, func(t *testing.T) {
			for _, answer := range []string{"n", "<esc>", "y"} {
				b := newBench(t, Options{}, c.s)
				b.m.look.W = 120
				b.press(c.keys...)
				b.sees(c.says, "y/n")
				assert.Empty(t, b.asked, "nothing before the answer")
				b.press("z", "<enter>") // neither is an answer
				b.press(answer)
				if answer == "y" {
					require.Equal(t, []control.Ask{c.want}, b.asked)
				} else {
					require.Empty(t, b.asked, answer)
				}
			}
		})
	}
}

func TestKeysThatHaveNoSenseNow(t *testing.T) {
	for keys, says := range map[string]string{
		"a": "no alarm waits", "r": "nothing is latched", "g": "go on is for after a trip",
		"c": "nothing waits to be confirmed", "u": "nothing to take back",
	} {
		b := newBench(t, Options{}, soaking().s)
		b.press(keys, "y")
		assert.Empty(t, b.asked, keys)
		b.press(keys)
		b.sees(says)
	}
	b := newBench(t, Options{}, bladeIn().s)
	b.press("m")
	b.sees("ten minutes more is for a soak")
	b.press("e")
	b.sees("this step has no setpoint")
	b.press("t")
	b.sees("the run stays here anyway")
	b = newBench(t, Options{}, ended().s)
	b.press("x")
	b.sees("the run has ended")
	assert.Empty(t, b.asked)
}

// TestHeatOffAndSilenceAreTakenUnderAQuestion: neither waits for an answer to something else.
func TestHeatOffAndSilenceAreTakenUnderAQuestion(t *testing.T) {
	for key, kind := range map[string]control.AskKind{"h": control.AskHeatOff,
		"s": control.AskSilence} {
		b := newBench(t, Options{}, soaking().s)
		b.press("k", key)
		assert.Equal(t, []control.Ask{ask1(kind)}, b.asked)
		b.press("y")
		assert.Len(t, b.asked, 1, "the question is withdrawn")
	}
}

// TestAResetWithoutATripSaysNothingOfHeat: the heat is on then, and stays.
func TestAResetWithoutATripSaysNothingOfHeat(t *testing.T) {
	b := newBench(t, Options{}, paused().s)
	b.press("r")
	b.sees("reset", "y/n")
	assert.NotContains(t, b.m.View(), "heat stays off")
}

// TestAClosedRunTakesNothing: nobody is there to take it, so the screen must not say so.
func TestAClosedRunTakesNothing(t *testing.T) {
	closed := tripped().s
	closed.Phase, closed.Next = control.PhaseClosed, ""
	for _, key := range []string{"h", "s", "a", "n", "x", "t", "e"} {
		b := newBench(t, Options{}, closed)
		b.press(key)
		b.sees("the run has ended")
		assert.Empty(t, b.asked)
	}
	for _, size := range sizes {
		got := View(closed, lookAt(staged{s: closed}, size[0], size[1], termenv.Ascii))
		assert.Contains(t, got, "q leave")
		assert.Contains(t, got, "nothing more")
		assert.NotContains(t, got, "a acknowledge")
		assert.NotContains(t, got, "s silence")
	}
}

// TestARefusalIsTold: a person who asked sees why nothing came of it.
func TestARefusalIsTold(t *testing.T) {
	b := newBench(t, Options{}, tripped().s)
	b.press("g", "y")
	b.sees("asked: go on")
	s := tripped().s
	s.Refusals, s.Refused = 1, "go on: reset first"
	b.news(s)
	b.sees("refused: go on: reset first")
	b.now = b.now.Add(time.Minute)
	b.do(tickMsg{})
	b.news(s)
	assert.NotContains(t, b.m.View(), "refused", "once")
}

// TestQuestionOfThePast: a question about one step is not answered in the next.
func TestQuestionOfThePast(t *testing.T) {
	b := newBench(t, Options{}, soaking().s)
	b.press("k")
	moved := soaking().s
	moved.Step = 3
	b.news(moved)
	b.sees("nothing was asked")
	b.press("y")
	assert.Empty(t, b.asked)

	b = newBench(t, Options{}, paused().s)
	s := paused().s
	s.Alarms[0].State = "B"
	b.news(s)
	b.press("a")
	b.news(tripped().s) // another alarm comes up under the question
	b.press("y")
	assert.Empty(t, b.asked, "an alarm that nobody saw is not acknowledged")

	b = newBench(t, Options{}, soaking().s)
	b.press("k")
	later := soaking().s
	later.T += time.Second
	b.news(later)
	b.press("y")
	assert.Len(t, b.asked, 1, "time alone withdraws nothing")
}

func TestTypedSetpointWithinTheLimit(t *testing.T) {
	for typed, says := range map[string]string{
		"400":     "has no unit",
		"476f":    "is above the limit, 482 °F", // its band of 10 °F would reach 486
		"-100c":   "is below freezing",
		"pizza":   "has no unit",
		"nanc":    "is not a number",
		"1e9f":    "is above the limit",
		"-500f":   "below absolute zero",
		"  ":      "",
		"472.1 f": "is above the limit",
	} {
		b := newBench(t, Options{}, soaking().s)
		b.m.look.W = 120
		b.press("e", typed, "<enter>")
		if says != "" {
			b.sees(says)
		}
		b.press("y")
		assert.Empty(t, b.asked, typed)
	}
}

func FuzzTypedSetpoint(f *testing.F) {
	for _, s := range []string{"400f", "204.4 °C", "-1c", "1e300f", "0x1p3c", "nanF", "  471 F", "°f"} {
		f.Add(s)
	}
	s := soaking().s
	top := float64(s.Info.Profile.Limit) - float64(s.Steps[s.Step].Band)
	f.Fuzz(func(t *testing.T, typed string) {
		q, err := askSet(typed, s, temp.Fahrenheit)
		if err != nil {
			require.Nil(t, q)
			return
		}
		require.Equal(t, control.AskSet, q.ask.Kind)
		require.GreaterOrEqual(t, q.ask.TempC, 0.0)
		require.LessOrEqual(t, q.ask.TempC, top+1e-4)
		c, _, err := temp.Parse(typed)
		require.NoError(t, err)
		require.InDelta(t, float64(c), q.ask.TempC, 1e-4, "what was typed is what is asked")
	})
}

func FuzzTypedStay(f *testing.F) {
	for _, s := range []string{"10m", "1h30m", "10 min", "-5m", "1e9h", "in", "999999h", "0s", "m"} {
		f.Add(s)
	}
	s := soaking().s
	f.Fuzz(func(t *testing.T, typed string) {
		q, err := askStay(typed, s)
		if err != nil {
			return
		}
		require.Greater(t, q.ask.Seconds, 0.0)
		require.LessOrEqual(t, q.ask.Seconds, longestStay.Seconds())
	})
}

func TestLeaving(t *testing.T) {
	for _, key := range []string{"q", "<ctrl+c>"} {
		b := newBench(t, Options{LeaveStops: true}, soaking().s)
		b.press(key)
		assert.False(t, b.left)
		b.sees("leaving ends the run, heat off: y/n")
		b.press("n")
		assert.False(t, b.left)
		b.press(key, "y")
		assert.True(t, b.left)
		assert.Equal(t, []control.Ask{ask1(control.AskStop)}, b.asked, "the run is stopped as well")

		b = newBench(t, Options{}, soaking().s)
		b.press(key)
		assert.True(t, b.left, "nothing ends with the screen: no question")
		assert.Empty(t, b.asked)

		b = newBench(t, Options{LeaveStops: true}, ended().s)
		b.press(key)
		assert.True(t, b.left, "the run is over")
	}
	b := newBench(t, Options{LeaveStops: true}, soaking().s)
	b.press("n", "typing", "<ctrl+c>", "<ctrl+c>")
	assert.True(t, b.left, "ctrl-c out of a line asks, and again it means it")
	b = newBench(t, Options{LeaveStops: true}, soaking().s)
	b.press("<ctrl+z>")
	assert.False(t, b.left)
	assert.Empty(t, b.asked)
}

func TestNoteUnitsPagesAndPaste(t *testing.T) {
	b := newBench(t, Options{}, soaking().s)
	b.press("n", "door was", "<space>", "open", "<enter>")
	assert.Equal(t, []control.Ask{{Kind: control.AskNote, By: "screen", Text: "door was open"}},
		b.asked)
	b.press("f")
	b.sees("204 °C", "-0.4 °C")
	b.press("f")
	b.sees("400 °F")
	b.press("b")
	assert.Equal(t, BigDigits, b.m.look.Page)
	b.press("?")
	b.sees("take back the last stay")
	b.press("/")
	assert.Equal(t, Dashboard, b.m.look.Page)
	b.do(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune("h"), Paste: true})
	assert.Len(t, b.asked, 1, "pasted text is no command")
}

// TestShiftIsNotNeeded: no key of either list is typed with shift on a common keyboard, but +,
// for which = does as well.
func TestShiftIsNotNeeded(t *testing.T) {
	for _, list := range [][]binding{liveKeys, replayKeys} {
		seen := map[string]bool{}
		for _, k := range list {
			assert.Equal(t, strings.ToLower(k.key), k.key)
			assert.False(t, seen[k.key], "%q stands twice", k.key)
			seen[k.key] = true
		}
	}
}

// TestNoNews: a live run that says nothing shows no old reading.
func TestNoNews(t *testing.T) {
	b := newBench(t, Options{}, soaking().s)
	b.now = b.now.Add(2 * time.Second)
	b.sees("-0.8 °F")
	b.now = b.now.Add(5 * time.Second)
	b.sees("NO NEWS FOR 7 S", "drift      –")
	b.news(soaking().s)
	b.sees("-0.8 °F")
	b.do(overMsg{errors.New("keeper: connection reset")})
	b.sees("no more from the run: keeper: connection reset")

	b = newBench(t, Options{}, ended().s)
	b.do(overMsg{io.EOF})
	b.now = b.now.Add(time.Hour)
	assert.NotContains(t, b.m.View(), "NO NEWS", "a run that has ended has no more to say")
}

// TestChartIsCached: the chart is drawn again for a new column, size or unit, not for a frame.
func TestChartIsCached(t *testing.T) {
	b := newBench(t, Options{}, soaking().s)
	b.do(newsMsg{s: soaking().s, past: soaking().tr})
	for range 20 {
		b.m.View()
	}
	require.Equal(t, 1, b.m.cache.Drawn)
	s := soaking().s
	s.T += 100 * time.Millisecond
	b.news(s)
	b.m.View()
	require.Equal(t, 1, b.m.cache.Drawn, "nothing on it moved")
	s.Temp += 30
	b.news(s)
	b.m.View()
	require.Equal(t, 2, b.m.cache.Drawn, "a spike in the newest column")
	b.do(tea.WindowSizeMsg{Width: 100, Height: 30})
	b.m.View()
	b.press("f")
	b.m.View()
	require.Equal(t, 4, b.m.cache.Drawn)
}
