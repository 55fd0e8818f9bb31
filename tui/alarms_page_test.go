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
	"pgregory.net/rapid"

	"strawline/control"
	"strawline/control/alarm"
)

// alarmOf gives an alarm of the table as a Snapshot has it.
func alarmOf(code, state string, since time.Duration) control.Alarm {
	t := alarm.First()
	d := t[t.Index(code)]
	return control.Alarm{Code: code, Word: d.Word, Text: d.Cause, Do: d.Do, State: state,
		High: d.High, Since: since}
}

// shelved is a soak out of its band whose alarm a person has shelved.
func shelved() staged {
	st := paused()
	st.name = "shelved"
	st.s.Alarms = nil
	st.s.Hidden = []control.Hidden{{Code: alarm.OffPlan, Word: "OFF PLAN", State: "G",
		Reason: "the door is open", Until: st.s.T + minutes(12)}}
	st.want = []string{"1:12:30 paused", "no alarms", "1 shelved: OFF PLAN, 12 min left"}
	st.wide = []string{"1 shelved: OFF PLAN, 12 min left, the door is open"}
	st.never = []string{"!"}
	return st
}

// shelvedAndWarm is the same with another alarm that stands.
func shelvedAndWarm() staged {
	st := shelved()
	st.name = "shelved-and-alarm"
	st.s.Alarms = []control.Alarm{alarmOf(alarm.BoardWarm, "B", minutes(60))}
	st.want = []string{"BOARD WARM", "1 shelved: OFF PLAN, 12 min left"}
	st.wide = []string{"the board's own junction is above 45 °C",
		"1 shelved: OFF PLAN, 12 min left, the door is open", "do: Move the board away"}
	st.never = []string{"no alarms", "!!"}
	return st
}

// overLimit is a trip with its cause, and one alarm that is gone.
func overLimit() staged {
	st := tripped()
	st.s.Alarms = []control.Alarm{alarmOf(alarm.Tripped, "B", minutes(74.8)),
		alarmOf(alarm.OverTemperature, "B", minutes(74.8)), alarmOf(alarm.OffPlan, "D", minutes(72))}
	return st
}

// TestAlarmPageGoldens: the page calm, with alarms that stand, and with one that is shelved.
func TestAlarmPageGoldens(t *testing.T) {
	for _, c := range []struct {
		st         staged
		name, code string
		alone      bool
		want, top  []string
		wide       []string
		never      []string
	}{
		{soaking(), "calm", alarm.HeatAtZero, false,
			[]string{"STILL HEATS", "priority", "Cut the power at the wall now.", "13.7 %"},
			[]string{"399 °F  set 400 °F"},
			[]string{"13 alarms", "state", "the temperature rises though the duty is 0", "if left",
				"nothing here can switch the oven off"}, []string{"!!", "1 shelved", "p shelve"}},
		{overLimit(), "stands", "", false,
			[]string{"!! OVER LIMIT", "!! TRIPPED", "OFF PLAN", "new", "If it still rises, cut the power",
				"a acknowledge", "15:16, for 12 s"}, []string{"+1 more 487 °F"},
			[]string{"gone, not acknowledged", "if left", "off commanded",
				"the temper is lost, and the oven may be heating with no one in", "high"}, []string{"1 shelved"}},
		{shelvedAndWarm(), "shelved", alarm.OffPlan, false,
			[]string{"! BOARD WARM", "1 shelved: OFF PLAN, 12 min left", "OFF PLAN", "shelved",
				"esc back", "p unshelve"}, []string{"371 °F  set 400 °F"},
			[]string{"the door is open", "until 15:23: the door is open", "for 10 min"},
			[]string{"!!", "p shelve"}},
		{soaking(), "alone", alarm.NoReading, true,
			[]string{"NO READING", "gives no good", "no heat is given and the soak"},
			[]string{"399 °F  set 400 °F"},
			[]string{"cannot be shelved: heat or steel is at stake", "rests while BOARD SILENT stands",
				"open or shorted to a rail, within 1 s", "on-delay 1 s, off-delay 3 s",
				"stays until its cause has gone", "hardware   a second probe"},
			[]string{"OFF PLAN", "13 alarms"}},
	} {
		for _, size := range sizes {
			w, h := size[0], size[1]
			name := fmt.Sprintf("alarms-%s-%dx%d", c.name, w, h)
			t.Run(name, func(t *testing.T) {
				for _, p := range []termenv.Profile{termenv.Ascii, termenv.TrueColor} {
					l := lookAt(c.st, w, h, p)
					l.Page, l.Pick = AlarmList, AlarmPick{Code: c.code, Alone: c.alone}
					got := View(c.st.s, l)
					exact(t, got, w, h)
					if p == termenv.TrueColor {
						golden(t, name+"-colour", got)
						continue
					}
					assert.NotContains(t, got, "\x1b")
					for _, word := range append(c.want, "SIMULATED", "esc") {
						assert.Contains(t, got, word)
					}
					for _, word := range c.top { // on a large screen the digits stand large
						assert.Equal(t, w < 110, strings.Contains(got, word), word)
					}
					for _, word := range c.wide {
						if w >= 80 {
							assert.Contains(t, got, word)
						}
					}
					for _, word := range c.never {
						assert.NotContains(t, got, word)
					}
					golden(t, name, got)
				}
			})
		}
	}
}

// onEveryPage gives a Snapshot's screen on each page.
func onEveryPage(t require.TestingT, st staged, w, h int, see func(page Page, screen string)) {
	for _, page := range []Page{Dashboard, BigDigits, Help, LoopGains, Verdict, AlarmList} {
		for _, replay := range []*PlayState{nil, {Speed: 20, Length: time.Hour}} {
			l := lookAt(st, w, h, termenv.Ascii)
			l.Page, l.Loop, l.Replay = page, &Loop{Next: st.s.Gains}, replay
			screen := View(st.s, l)
			exact(t, screen, w, h)
			see(page, screen)
		}
	}
}

// TestWhatIsShelvedIsCountedOnEveryScreen: on every page, at any size that has room for the words,
// the smallest included.
func TestWhatIsShelvedIsCountedOnEveryScreen(t *testing.T) {
	st := shelvedAndWarm()
	for _, size := range append(sizes, [2]int{40, 13}, [2]int{60, 18}, [2]int{80, 20}, [2]int{110, 36}) {
		onEveryPage(t, st, size[0], size[1], func(page Page, screen string) {
			assert.Contains(t, screen, "1 shelved: OFF", "%v page %d", size, page)
			if size[0] >= 80 {
				assert.Contains(t, screen, "1 shelved: OFF PLAN", "%v page %d", size, page)
			}
			if page == Dashboard || page == BigDigits || page == AlarmList {
				assert.Contains(t, screen, "OFF PLAN, 12 min left", "%v page %d", size, page)
			}
		})
	}
	for _, size := range [][2]int{{30, 8}, {39, 20}, {30, 4}, {34, 3}, {34, 2}} {
		screen := View(st.s, lookAt(st, size[0], size[1], termenv.Ascii))
		exact(t, screen, size[0], size[1])
		assert.Contains(t, screen, "1 shelved: OFF PLAN", "%v", size)
		assert.Contains(t, screen, "BOARD WARM", "%v", size)
	}
	st.s.Hidden = append(st.s.Hidden, control.Hidden{Code: alarm.WeakHeat, Word: "WEAK HEAT", State: "G",
		Reason: "one element", Until: st.s.T + 40*time.Second})
	assert.Equal(t, "2 shelved: OFF PLAN, WEAK HEAT", ShelfNames(st.s))
	assert.Equal(t, "2 shelved: OFF PLAN, 12 min left, the door is open; WEAK HEAT, 40 s left, one element",
		ShelfWords(st.s))
	st.s.Hidden[1].State = "I"
	assert.Equal(t, "1 shelved: OFF PLAN; 1 out of service: WEAK HEAT", ShelfNames(st.s))
	assert.Empty(t, ShelfNames(soaking().s))
}

// TestTheAlarmPageHidesNoAlarm: whatever stands and whatever is chosen, the word of the alarm that
// matters most is at the top, as many others are counted as stand, and every line is exact.
func TestTheAlarmPageHidesNoAlarm(t *testing.T) {
	table := alarm.First()
	rapid.Check(t, func(t *rapid.T) {
		st := soaking()
		stand, list := 0, 0
		for i, d := range table {
			state := rapid.SampledFrom([]string{"A", "A", "A", "B", "C", "D", "E", "F", "G"}).Draw(t, d.Code)
			switch {
			case state == "G":
				st.s.Hidden = append(st.s.Hidden, control.Hidden{Code: d.Code, Word: d.Word, State: "G",
					Until: st.s.T + time.Minute, Reason: rapid.String().Draw(t, "reason")})
			case state != "A":
				st.s.Alarms = append(st.s.Alarms, alarmOf(d.Code, state, minutes(float64(i))))
				if strings.Contains("BCE", state) {
					stand++
				}
			}
		}
		list = len(listAlarms(st.s))
		require.Equal(t, len(table), list)
		w, h := rapid.IntRange(40, 220).Draw(t, "w"), rapid.IntRange(12, 70).Draw(t, "h")
		l := lookAt(st, w, h, termenv.Ascii)
		l.Page = AlarmList
		l.Pick = AlarmPick{Code: rapid.SampledFrom(table).Draw(t, "chosen").Code,
			Alone: rapid.Bool().Draw(t, "alone"), Scroll: rapid.IntRange(0, 30).Draw(t, "scroll")}
		screen := View(st.s, l)
		exact(t, screen, w, h)
		d := table[table.Index(l.Pick.Code)]
		require.Contains(t, screen, d.Word)
		if !l.Pick.Alone {
			require.Contains(t, screen, "→")
		}
		if a := standing(st.s); a != nil {
			top := strings.Join(strings.Split(screen, "\n")[:4], "\n")
			require.Contains(t, top, "! "+a.Word)
			if stand > 1 {
				require.Contains(t, screen, fmt.Sprintf("+%d more", stand-1))
			}
			if stand > 1 && !l.Pick.Alone && w >= 110 && h >= 36 {
				require.GreaterOrEqual(t, strings.Count(screen, "! "), stand)
			}
		}
		if len(st.s.Hidden) > 0 {
			require.Contains(t, screen, fmt.Sprintf("%d shelved: ", len(st.s.Hidden)))
		}
	})
}

func TestEveryAlarmIsExplained(t *testing.T) {
	s := soaking().s
	for _, w := range []int{40, 80, 200} {
		for _, d := range alarm.First() {
			l := Look{W: w, H: 60, Pick: AlarmPick{Alone: true}}
			all := ""
			for _, line := range explained(&listed{Declaration: d}, s, l) {
				all += line.text + " "
				require.LessOrEqual(t, len([]rune(line.text)), w)
			}
			for _, text := range []string{d.Cause, d.Consequence, d.Do} {
				assert.Contains(t, all, text, "%s at %d", d.Code, w)
			}
			assert.Equal(t, d.Hidable, strings.Contains(all, "can be shelved for up to 30 min"), d.Code)
			assert.Equal(t, d.Latching, strings.Contains(all, "latches: stays"), d.Code)
			for _, f := range control.Detects(d.Code) {
				assert.Contains(t, all, f.What, "%s at %d", d.Code, w)
				assert.Contains(t, all, f.Only, "%s at %d", d.Code, w)
			}
		}
	}
	assert.Equal(t, "on-delay 30 s, off-delay 1 min; rests while BOARD SILENT or NO READING stands",
		delays(&alarm.First()[alarm.First().Index(alarm.OffPlan)]))
	assert.Equal(t, "none; announces again every 30 min",
		delays(&alarm.First()[alarm.First().Index(alarm.LogFull)]))
}

// arrows presses a key that is no rune.
func (b *bench) arrows(k tea.KeyType, n int) {
	for range n {
		b.do(tea.KeyMsg{Type: k})
	}
}

// TestShelvingFromThePage: chosen with the arrows, minutes and reason typed, confirmed; again to
// take it off the shelf.
func TestShelvingFromThePage(t *testing.T) {
	b := newBench(t, Options{}, soaking().s)
	b.do(tea.WindowSizeMsg{Width: 120, Height: 40})
	b.press("i")
	b.sees("13 alarms", "a probe reads above the limit of this run")
	b.press("p")
	b.sees("OVER LIMIT cannot be shelved: it latches")
	b.arrows(tea.KeyUp, 1)
	b.sees("a probe reads above")
	b.arrows(tea.KeyDown, 4)
	b.sees("outside the band in a soak", "p shelve")
	for typed, wrong := range map[string]string{"10m": "it needs a reason", "10 open": "has no unit",
		"31m open": "30 min at most", "0m open": "30 min at most",
		"10m " + strings.Repeat("x", 61): "at most 60 letters"} {
		b.press("p", typed, "<enter>")
		b.sees(wrong)
		require.Empty(t, b.asked, typed)
	}
	want := control.Ask{Kind: control.AskShelve, By: "screen", Code: alarm.OffPlan, Seconds: 600,
		Text: "the door is open"}
	for _, typed := range []string{"10m the door is open", "10 min the door is open", "10min the door is open"} {
		b.asked = nil
		b.press("p")
		b.sees("shelve OFF PLAN: how long and why")
		b.press(typed, "<enter>")
		b.sees("shelve OFF PLAN for 10 min, the door is open: no sound", "15:20", "y/n")
		require.Empty(t, b.asked)
		b.press("y")
		require.Equal(t, []control.Ask{want}, b.asked)
	}
	b.asked = nil
	b.news(shelved().s)
	b.press("p")
	b.sees("take OFF PLAN off the shelf")
	b.press("y")
	require.Equal(t, []control.Ask{{Kind: control.AskUnshelve, By: "screen", Code: alarm.OffPlan}}, b.asked)
	b.press("h")
	require.Equal(t, control.AskHeatOff, b.asked[1].Kind, "heat off goes through on this page too")
	b.press("<esc>")
	require.Equal(t, Dashboard, b.m.look.Page)
}

// TestAQuestionOfShelvingIsWithdrawn: when an alarm changes before the answer.
func TestAQuestionOfShelvingIsWithdrawn(t *testing.T) {
	b := newBench(t, Options{}, shelved().s)
	b.press("i", "p")
	b.sees("off the shelf")
	s := shelved().s
	s.Hidden = nil
	b.news(s)
	b.sees("the run moved on")
	b.press("y")
	require.Empty(t, b.asked)
}

// TestShelvingIsForWhoeverHasTheRun: a screen that has not the lease takes it over first; taking
// off the shelf needs none.
func TestShelvingIsForWhoeverHasTheRun(t *testing.T) {
	held := &other{}
	b := newBench(t, Options{Lease: held}, soaking().s)
	b.do(tea.WindowSizeMsg{Width: 120, Height: 40})
	b.press("i")
	b.arrows(tea.KeyDown, 4)
	b.press("p", "5m sun", "<enter>", "y")
	b.sees("take it over, and shelve OFF PLAN")
	require.Empty(t, b.asked)
	b.press("y")
	require.Len(t, b.asked, 1)
	held = &other{}
	b = newBench(t, Options{Lease: held}, shelved().s)
	b.press("i", "p", "y")
	require.Equal(t, control.AskUnshelve, b.asked[0].Kind)
	require.Zero(t, held.taken)
}

// TestAnExplanationIsReadWholeOnTheSmallestScreen: enter, and the arrows scroll it.
func TestAnExplanationIsReadWholeOnTheSmallestScreen(t *testing.T) {
	b := newBench(t, Options{}, soaking().s)
	b.do(tea.WindowSizeMsg{Width: 40, Height: 12})
	b.press("i")
	b.arrows(tea.KeyDown, 8)
	b.press("<enter>")
	seen := ""
	for range 20 {
		seen += b.m.View() + "\n"
		b.arrows(tea.KeyDown, 1)
	}
	for _, word := range []string{"STILL HEATS", "the temperature rises", "cannot be shelved", "switch stuck on",
		"hardware: it does not switch off what", "plug do"} {
		assert.Contains(t, seen, word)
	}
	last := b.m.View()
	b.arrows(tea.KeyUp, 1)
	require.NotEqual(t, last, b.m.View(), "it does not scroll past its end")
	b.press("<esc>")
	b.sees("NO HEAT")
	require.Equal(t, AlarmList, b.m.look.Page)
}

// TestWhatIsTypedStaysInSight: a line that is too long goes out of sight in front.
func TestWhatIsTypedStaysInSight(t *testing.T) {
	b := newBench(t, Options{}, soaking().s)
	b.do(tea.WindowSizeMsg{Width: 40, Height: 12})
	b.press("i")
	b.arrows(tea.KeyDown, 4)
	b.press("p", "10m the door stands open as I look for a brick")
	b.sees("as I look for a brick▌")
}

// TestTheKeysAreTrueWhileOneTypes: a letter is one of the text then, and h is no heat off.
func TestTheKeysAreTrueWhileOneTypes(t *testing.T) {
	for _, size := range [][2]int{{40, 12}, {80, 24}, {120, 40}, {39, 20}} {
		for _, keys := range []string{"i", ""} {
			b := newBench(t, Options{}, soaking().s)
			b.do(tea.WindowSizeMsg{Width: size[0], Height: size[1]})
			b.press(keys)
			field := "e"
			if keys == "i" {
				b.arrows(tea.KeyDown, 4)
				field = "p"
			}
			b.press(field, "h")
			b.sees("enter done  esc back, then h heat off", "h▌")
			require.Empty(t, b.asked)
			b.press("<esc>")
			require.NotContains(t, b.m.View(), "enter done")
			b.press("h")
			require.Len(t, b.asked, 1)
		}
	}
}

// TestHeatOffIsOnTheAlarmPage: its key is never what a line has no room for, but on a narrow one.
func TestHeatOffIsOnTheAlarmPage(t *testing.T) {
	for _, s := range []control.Snapshot{soaking().s, paused().s, shelved().s, shelvedAndWarm().s} {
		for w := 60; w <= 120; w++ {
			for _, d := range alarm.First() {
				l := Look{W: w, H: 24, Page: AlarmList, Pick: AlarmPick{Code: d.Code}}
				require.Contains(t, View(s, l), "h heat off", "%d columns, %s", w, d.Code)
			}
		}
	}
}

// TestTheAlarmPageSaysWhyItTripped: the alarm says to read it.
func TestTheAlarmPageSaysWhyItTripped(t *testing.T) {
	for _, w := range []int{80, 120} {
		b := newBench(t, Options{}, overLimit().s)
		b.do(tea.WindowSizeMsg{Width: w, Height: 24})
		b.press("i")
		b.arrows(tea.KeyDown, 1)
		b.sees("→!! TRIPPED", "why        over the limit", "Read why, put it right")
	}
}

func TestTheAlarmPageOfAReplay(t *testing.T) {
	c := NewPlayer(*scene().Info, []control.Record{{Sample: &control.Sample{T: time.Hour}}}, nil)
	b := newBench(t, Options{Replay: c}, shelved().s)
	b.do(tea.WindowSizeMsg{Width: 80, Height: 24})
	b.press("i")
	b.sees("REPLAY", "1 shelved: OFF PLAN, 12 min left, the door is open", "until 15:23: the door is open")
	assert.NotContains(t, b.m.View(), "unshelve")
	b.press("p", "y")
	require.Empty(t, b.asked)
	b.arrows(tea.KeyDown, 1)
	require.Zero(t, c.State().At, "the arrows choose an alarm here")
	b.press("<esc>")
	b.arrows(tea.KeyUp, 1)
	require.NotZero(t, c.State().At)
}
