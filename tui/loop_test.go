package tui

import (
	"fmt"
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

// tunedScene is a soak on an oven whose model was found; the figures are invented.
func tunedScene() control.Snapshot {
	s := soaking().s
	info := *s.Info
	info.Model = &control.ModelInfo{RiseC: 526, SlopeCS: 1.07, TimeS: 493, SecondS: 24, DeadS: 8,
		HoldPM: 264, NoiseC: 0.3, From: "found 2026-11-02"}
	info.Shop.WindowS = 2
	s.Info = &info
	s.Gains = control.CautiousGains()
	return s
}

func loopOf(s control.Snapshot, change func(*Loop)) *Loop {
	l := &Loop{Next: s.Gains}
	l.work(s)
	if change != nil {
		change(l)
		l.work(s)
	}
	return l
}

// The page at each size: what is, what would be, and what the model makes of both.
func TestLoopPage(t *testing.T) {
	for name, c := range map[string]struct {
		s      control.Snapshot
		change func(*Loop)
		want   []string
		wide   []string
	}{
		"offer": {tunedScene(), func(l *Loop) { l.offer(0) },
			[]string{"SIMULATED", "loop gains", "now", "next", "Kp", "Ti", "Td", "weight", "%/°F", "sens. peak",
				"door: over", "door: back", "take", "back"},
			[]string{"Recommended:", "gain margin", "cautious default"}},
		"swings": {tunedScene(), func(l *Loop) { l.Next.Kp = 2; l.Next.From = "set by a person" },
			[]string{"swings", "111 %/°F"}, []string{"it swings by itself: do not take it"}},
		"rules": {tunedScene(), func(l *Loop) { l.Table = true },
			[]string{"loop gains"}, []string{"peak", "rule", "SIMC PI", "Ziegler"}},
		"without-model": {func() control.Snapshot { s := tunedScene(); s.Info.Model = nil; return s }(), nil,
			[]string{"no model of this oven", "loop gains"}, []string{"strawline tune"}},
	} {
		for _, size := range sizes {
			w, h := size[0], size[1]
			look := Look{W: w, H: h, Unit: temp.Fahrenheit, Ink: NewInk(termenv.Ascii), Page: LoopGains,
				Loop: loopOf(c.s, c.change)}
			bare := View(c.s, look)
			look.Ink = NewInk(termenv.TrueColor)
			colour := View(c.s, look)
			t.Run(fmt.Sprintf("%s-%dx%d", name, w, h), func(t *testing.T) {
				exact(t, bare, w, h)
				exact(t, colour, w, h)
				assert.NotContains(t, bare, "\x1b")
				words := c.want
				if w >= 80 {
					words = append(words[:len(words):len(words)], c.wide...)
				}
				for _, word := range words {
					assert.Contains(t, bare, word)
				}
				golden(t, fmt.Sprintf("gains-%s-%dx%d", name, w, h), bare)
				golden(t, fmt.Sprintf("gains-%s-%dx%d-colour", name, w, h), colour)
			})
		}
	}
}

// A person changes gains: nothing is asked before the y, and then once.
func TestGainsAreAskedForOnceConfirmed(t *testing.T) {
	b := newBench(t, Options{}, tunedScene())
	b.press("l")
	b.sees("loop gains", "next")
	b.press("c")
	b.sees("these are the gains of now")
	b.press("+", "+")
	assert.InDelta(t, 0.03*1.21, b.m.loop.Next.Kp, 0.001)
	b.press("c")
	b.sees("gains become Kp", "y/n")
	assert.Empty(t, b.asked)
	b.press("n")
	assert.Empty(t, b.asked)
	b.press("c", "y")
	require.Len(t, b.asked, 1)
	assert.Equal(t, control.AskGains, b.asked[0].Kind)
	assert.Equal(t, b.m.loop.Next, *b.asked[0].Gains)

	s := tunedScene()
	s.Gains = *b.asked[0].Gains
	s.Undo = "gains"
	b.news(s)
	assert.Equal(t, s.Gains, b.m.loop.Was.gains, "what is taken is what is now")
	b.press("u")
	b.sees("take back: gains")
	b.press("y")
	require.Len(t, b.asked, 2)
	assert.Equal(t, control.AskUndo, b.asked[1].Kind)
	b.press("h")
	require.Len(t, b.asked, 3, "heat off waits for nothing on any page")
	b.press("<esc>")
	b.sees("set")
}

// Offers come with their reason, and gains that would swing are called so before they are taken.
func TestOffersAndWarnings(t *testing.T) {
	b := newBench(t, Options{}, tunedScene())
	b.do(tea.WindowSizeMsg{Width: 120, Height: 40})
	b.press("l", "1")
	b.sees("Recommended: ")
	bold := b.m.loop.Offers[1].Gains.K
	b.press("2", "c")
	b.sees("gains become")
	b.press("n")
	assert.InEpsilon(t, bold, b.m.loop.Next.Kp, 0.01)
	b.press("3")
	assert.Less(t, b.m.loop.Next.Kp, bold)
	for range 40 {
		b.press("+")
	}
	b.press("c")
	b.sees("BY THE MODEL IT WILL SWING")
}

func TestADutyByHandIsAskedWithItsTime(t *testing.T) {
	b := newBench(t, Options{}, tunedScene())
	for typed, why := range map[string]string{"20%": "write it as", "120% 5m": "no duty", "20% 11m": "no time up to",
		"20% x": "no time", "x 5m": "no duty"} {
		b.press("d", typed, "<enter>")
		b.sees(why)
		assert.Empty(t, b.asked, typed)
	}
	b.press("d", "20% 5m", "<enter>")
	b.sees("duty by hand: 20.0 % for 5 min")
	b.press("y")
	require.Len(t, b.asked, 1)
	assert.Equal(t, control.Ask{Kind: control.AskDuty, By: "screen", DutyPM: 200, Seconds: 300}, b.asked[0])

	s := tunedScene()
	s.ByHand, s.Duty = s.T+4*time.Minute, 200
	b.news(s)
	b.sees("20.0 % BY HAND")
	b.press("d", "y")
	require.Len(t, b.asked, 2)
	assert.Equal(t, control.Ask{Kind: control.AskDuty, By: "screen"}, b.asked[1])
}

// What must not be missed is on the gains page as well, at every size.
func TestTheGainsPageHidesNoAlarm(t *testing.T) {
	for _, size := range sizes {
		look := Look{W: size[0], H: size[1], Unit: temp.Fahrenheit, Ink: NewInk(termenv.Ascii),
			Page: LoopGains}
		s := tunedScene()
		look.Loop = loopOf(s, nil)
		assert.Contains(t, View(s, look), "set 400 °F")
		s.ByHand, s.Duty = s.T+4*time.Minute, 200
		assert.Contains(t, View(s, look), "BY HAND")
		s.Alarms = []control.Alarm{{Code: "still-heats", Word: "STILL HEATS", State: "B", High: true}}
		assert.Contains(t, View(s, look), "STILL HEATS")
		s = tunedScene()
		s.Phase = control.PhaseTripped
		assert.Contains(t, View(s, look), "TRIPPED")
	}
}

// In a replay the page shows the gains of that time, and changes nothing.
func TestGainsInAReplay(t *testing.T) {
	s := tunedScene()
	look := Look{W: 120, H: 40, Page: LoopGains, Loop: loopOf(s, nil), Replay: &PlayState{},
		Ink: NewInk(termenv.Ascii)}
	got := View(s, look)
	assert.Contains(t, got, "REPLAY")
	assert.NotContains(t, got[strings.LastIndex(got, "\n"):], "take")
}

// BenchmarkLoopWork times what a change of a figure costs before the next frame.
func BenchmarkLoopWork(b *testing.B) {
	s := tunedScene()
	l := loopOf(s, nil)
	for b.Loop() {
		l.turn(true)
		l.turn(false)
		l.Will = judged{}
		l.work(s)
	}
}
