package tui

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/lipgloss"
	"github.com/muesli/termenv"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/control"
	"strawline/control/alarm"
	"strawline/probe/temp"
)

// TestEveryLineIsExact: at any size, with any text in the names, every line has the width of
// the screen, there are as many as it is high, no name moves the cursor, and a simulated run
// says so.
func TestEveryLineIsExact(t *testing.T) {
	all := scenes()
	rapid.Check(t, func(t *rapid.T) {
		st := all[rapid.IntRange(0, len(all)-1).Draw(t, "scene")]
		w, h := rapid.IntRange(1, 220).Draw(t, "w"), rapid.IntRange(1, 70).Draw(t, "h")
		l := lookAt(st, w, h, termenv.Ascii)
		l.Page = Page(rapid.IntRange(0, int(AlarmList)).Draw(t, "page"))
		l.Say = rapid.String().Draw(t, "say")
		l.Asking = rapid.Bool().Draw(t, "asking")
		info := *st.s.Info
		info.Profile.Name, info.Profile.Title = l.Say, rapid.String().Draw(t, "title")
		st.s.Info = &info
		st.s.Next = rapid.String().Draw(t, "next")
		st.s.Temp = temp.C(rapid.Float64Range(-200, 1800).Draw(t, "temp"))
		if rapid.Bool().Draw(t, "replay") {
			l.Replay = &PlayState{Speed: 20, Length: time.Hour}
		}
		screen := View(st.s, l)
		exact(t, screen, w, h)
		require.False(t, strings.ContainsAny(screen, "\x1b\r\t\a\u200b\u202e"))
		if w >= len("SIMULATED") {
			require.Contains(t, screen, "SIMULATED")
		}
		if l.Replay != nil && w >= 40 && h >= 12 {
			require.Contains(t, screen, "REPLAY")
		}
	})
}

func TestRealRunDoesNotSaySimulated(t *testing.T) {
	for _, size := range sizes {
		st := soaking()
		info := *st.s.Info
		info.Simulated, info.Shop.Oven = false, "my oven"
		st.s.Info = &info
		assert.NotContains(t, strings.ToLower(View(st.s, lookAt(st, size[0], size[1],
			termenv.Ascii))), "simulated")
	}
}

func TestNoHeaterSaysWhoHoldsTheHeat(t *testing.T) {
	st := soaking()
	info := *st.s.Info
	info.Shop.NoHeater = true
	st.s.Info = &info
	assert.Contains(t, View(st.s, lookAt(st, 80, 24, termenv.Ascii)), "you hold the heat")
	assert.Contains(t, View(st.s, lookAt(st, 40, 12, termenv.Ascii)), "heat by hand")
}

// TestWordsNeedNoColour: what colour says is on the screen without it, in the same words.
func TestWordsNeedNoColour(t *testing.T) {
	t.Setenv("NO_COLOR", "1")
	st := tripped()
	bare := lipgloss.NewRenderer(os.Stdout).ColorProfile()
	require.Equal(t, termenv.Ascii, bare)
	got := View(st.s, lookAt(st, 80, 24, bare))
	assert.NotContains(t, got, "\x1b")
	assert.Contains(t, got, "!! OVER LIMIT")
	assert.Contains(t, got, "██████", "the digits stand inside out by their shape")
}

func TestQuestionShowsAtEverySize(t *testing.T) {
	for _, size := range append(sizes, [2]int{30, 8}) {
		for _, page := range []Page{Dashboard, BigDigits, Help} {
			st := soaking()
			l := lookAt(st, size[0], size[1], termenv.Ascii)
			l.Page, l.Say, l.Asking = page, "leaving ends the run: y/n", true
			assert.Contains(t, View(st.s, l), "leaving ends the run: y/n", "%v page %d", size, page)
		}
	}
}

// TestATripGivesWayToItsCause: the engine raises both in one step, the trip last. What stands
// large and what to do at the oven are the cause's, for as long as it is there.
func TestATripGivesWayToItsCause(t *testing.T) {
	st := tripped()
	st.s.Alarms = []control.Alarm{
		{Code: alarm.Tripped, Word: "TRIPPED", State: "C", High: true, Text: "heat away", Do: "go on"},
		{Code: alarm.OverTemperature, Word: "OVER LIMIT", State: "C", High: true, Text: "too hot",
			Do: "switch off at the wall"}}
	for _, size := range sizes {
		got := View(st.s, lookAt(st, size[0], size[1], termenv.Ascii))
		assert.Contains(t, got, "!! OVER LIMIT")
		if size[0] >= 80 {
			assert.Contains(t, got, "do: switch off at the wall")
		}
	}
	st.s.Alarms[1].State = "D"
	word, _ := shout(st.s, 0)
	assert.Equal(t, "TRIPPED", word, "a cause that is gone does not stand")
}

// TestALongQuestionKeepsItsAnswer: whatever is cut, how to answer is not.
func TestALongQuestionKeepsItsAnswer(t *testing.T) {
	for _, size := range append(sizes, [2]int{30, 8}) {
		st := tripped()
		l := lookAt(st, size[0], size[1], termenv.Ascii)
		l.Say, l.Asking = strings.Repeat("very long ", 30)+" y/n", true
		assert.Contains(t, View(st.s, l), "y/n", "%v", size)
	}
}

func TestReplaySaysSoAndOffersNoKeyOfARun(t *testing.T) {
	for _, size := range append(sizes, [2]int{30, 8}) {
		l := lookAt(bladeIn(), size[0], size[1], termenv.Ascii)
		l.Replay = &PlayState{Playing: true, Speed: 50, At: time.Minute, Length: time.Hour}
		got := View(bladeIn().s, l)
		assert.Contains(t, got, "SIMULATED")
		assert.Contains(t, got, "REPLAY")
		assert.NotContains(t, got, "heat off")
		assert.NotContains(t, got, "(c")
		if size[0] >= 40 {
			assert.Contains(t, got, "playing 50x  1:00 of 1:00:00")
			assert.Contains(t, got, "space")
		}
	}
}

func TestReadyWhenEverySoakIsDone(t *testing.T) {
	s := soaking().s
	s.Step, s.Ready = 7, 0
	assert.Equal(t, "every soak is done", readyWords(s, Look{}))
	s.Step = 3
	assert.Equal(t, "not known yet", readyWords(s, Look{}))
}

// TestAStepThatWasNotDoneIsNotShownDone: a run that ended early has steps ahead for ever.
func TestAStepThatWasNotDoneIsNotShownDone(t *testing.T) {
	st := tripped()
	st.s.Phase, st.s.Step = control.PhaseEnded, 2
	st.s.SoakDone = 0
	l := lookAt(st, 80, 24, termenv.Ascii)
	assert.Contains(t, View(st.s, l), " ████████ ████████ ▒▒▒▒▒▒▒▒ ░░░░░░░░ ░░░░░░░░ ")
	st = ended()
	assert.NotContains(t, View(st.s, l), "░", "one that ended at its last step is done")
}

// TestTheStandingAlarmIsNotHidden: where not all alarms fit, the one that stands comes first.
func TestTheStandingAlarmIsNotHidden(t *testing.T) {
	st := tripped()
	gone := control.Alarm{Code: "reading", Word: "no reading", State: "D", High: true,
		Text: "it was", Do: "nothing", Since: st.s.T}
	st.s.Alarms = append([]control.Alarm{gone}, st.s.Alarms...)
	for _, size := range sizes[:2] {
		got := View(st.s, lookAt(st, size[0], size[1], termenv.Ascii))
		assert.Contains(t, got, "\n !! OVER LIMIT  +2 more")
	}
	got := View(st.s, lookAt(st, 200, 60, termenv.Ascii))
	assert.Less(t, strings.Index(got, " NO READING"), strings.LastIndex(got, " OVER LIMIT"),
		"where all fit, the newest is first")
}

func TestAnotherDayIsNamed(t *testing.T) {
	s := at(scene(), 0, 100)
	assert.Equal(t, "23:59", when(s, 9*time.Hour+57*time.Minute))
	assert.Equal(t, "00:02 tomorrow", when(s, 10*time.Hour))
	assert.Equal(t, "14:02 Thu 26 Nov", when(s, 48*time.Hour))
}

// TestColoursAreTheTable: the Go tables are those of the file that tells their source, without
// what the strip leaves out.
func TestColoursAreTheTable(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join("..", "testdata", "screens", "colours.json"))
	require.NoError(t, err)
	var file struct {
		Temper      [][2]any   `json:"temper_c_short_heat"`
		TemperWidth temp.Delta `json:"temper_uncertainty_c"`
		Glow        [][2]any   `json:"incandescent_dim_light_c"`
		GlowWidth   temp.Delta `json:"incandescent_uncertainty_c"`
	}
	require.NoError(t, json.Unmarshal(raw, &file))
	check := func(table []shade, rows [][2]any, from, to float64) {
		i := 0
		for _, row := range rows {
			c, name := row[0].(float64), row[1].(string)
			if c == 0 || c < from || c > to { // 0 is "none" and "black"
				continue
			}
			require.Less(t, i, len(table), name)
			assert.Equal(t, temp.C(c), table[i].from)
			assert.Equal(t, name, table[i].name)
			i++
		}
		assert.Len(t, table, i)
	}
	check(temperShades[:], file.Temper, 0, float64(temperEnd))
	check(glowShades[:], file.Glow, float64(glowStart), 1e9)
	assert.Equal(t, file.TemperWidth, temperWidth)
	assert.Equal(t, file.GlowWidth, glowWidth)
}

func TestStripByHeat(t *testing.T) {
	for _, c := range []struct {
		at   temp.C
		name string
		note string
		has  bool
	}{
		{20, "no colour yet", "by the air", false},
		{temp.F(400), "faint straw if any", "by the air, ±15 °C short heat", true},
		{245, "straw", "by the air, ±15 °C short heat", true},
		{330, "blue", "by the air, ±15 °C short heat", true},
		{331, "no colour to go by", "by the air", false},
		{479, "no colour to go by", "by the air", false},
		{480, "faint red, dark room only", "by the air, ±60 °C dim light", true},
		{790, "cherry", "by the air, ±60 °C dim light", true},
		{1500, "white", "by the air, ±60 °C dim light", true},
	} {
		name, note, hex := steelColour(c.at, temp.Celsius)
		assert.Equal(t, c.name, name)
		assert.Equal(t, c.note, note)
		assert.Equal(t, c.has, hex != "", c.name)
	}
}

// BenchmarkFrame draws a whole frame at 120 by 40 with a chart of three hours, as the screen
// does four times a second: with the chart kept, and with it drawn anew.
func BenchmarkFrame(b *testing.B) {
	st := soaking()
	st.tr = pastOf(3 * time.Hour)
	for _, kept := range []bool{true, false} {
		name := "chart kept"
		if !kept {
			name = "chart drawn"
		}
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			l := lookAt(st, 120, 40, termenv.TrueColor)
			n := 0
			for b.Loop() {
				if !kept {
					l = lookAt(st, 120, 40, termenv.TrueColor)
				}
				n += len(View(st.s, l))
			}
			b.ReportMetric(float64(n)/float64(b.N), "bytes/frame")
			b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "ms/frame")
		})
	}
}
