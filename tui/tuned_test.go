package tui

import (
	"fmt"
	"math"
	"strings"
	"testing"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/muesli/termenv"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/tune"
	"strawline/probe/temp"
)

// tunedTest is a test that is done; the model is the published two-lag fit of reference oven A.
func tunedTest(t *testing.T) (control.Snapshot, *Tuned) {
	t.Helper()
	m := tune.Model{Kind: tune.Second, K: 511, T: 465, T2: 24.5, L: 8,
		Half: tune.Half{K: 12, T: 15, T2: 1.5, L: 0.6, Slope: 0.03}}
	v := tune.Verdict{Found: tune.Found{Model: m, Test: "relay test", Sigma: 0.29, Misfit: 0.12},
		Noise: tune.Noise{Sigma: 0.29, Every: 0.25}, Window: 2, Scene: tune.DefaultScene(m)}
	var err error
	v.Best, v.Bolder, v.Calmer, err = tune.Recommend(m, v.Noise, 2)
	require.NoError(t, err)
	s := swinging().s
	s.Phase, s.Test, s.TestText = control.PhaseEnded, control.TestDone, "two swings were alike"
	return s, &Tuned{Verdict: v, Rules: v.Table()}
}

func TestTunedGoldens(t *testing.T) {
	s, tuned := tunedTest(t)
	for _, size := range sizes {
		w, h := size[0], size[1]
		for page, name := range map[Page]string{Verdict: "tuned", Table: "tuned-table"} {
			l := Look{W: w, H: h, Unit: temp.Fahrenheit, Ink: NewInk(termenv.Ascii), Page: page,
				Tuned: tuned}
			got := View(s, l)
			exact(t, got, w, h)
			assert.Contains(t, got, "SIMULATED")
			assert.Contains(t, got, "esc back")
			golden(t, fmt.Sprintf("%s-%dx%d", name, w, h), got)
			all := strings.Join(strings.Fields(strings.Join(tunedText(l), " ")), " ")
			assert.Contains(t, all, because(tuned.Best))
			assert.Contains(t, all, because(tuned.Calmer))
			if page == Table {
				assert.Contains(t, all, "Cohen–Coon PID")
				assert.Contains(t, all, "warning: for comparison only")
			}
		}
	}
}

// The screen asks once what a test came to, shows it, and t, the arrows and esc go through it.
func TestTheGainsAreShownWhenATestIsDone(t *testing.T) {
	done, tuned := tunedTest(t)
	asked := 0
	b := newBench(t, Options{Tuned: func() (Tuned, error) { asked++; return *tuned, nil }},
		swinging().s)
	b.do(tea.WindowSizeMsg{Width: 80, Height: 24})
	require.Zero(t, asked)
	b.press("t")
	require.Contains(t, b.m.View(), "not in a tuning test")
	_, cmd := b.m.Update(newsMsg{s: done})
	require.NotNil(t, cmd)
	b.do(cmd())
	b.news(done)
	require.Equal(t, 1, asked)
	require.Contains(t, b.m.View(), "recommended")
	seen := ""
	for range 12 {
		seen += b.m.View()
		b.m.key(tea.KeyMsg{Type: tea.KeyDown})
	}
	require.Contains(t, seen, "calmer")
	b.press("t")
	require.Equal(t, Table, b.m.look.Page)
	b.press("<esc>")
	require.Equal(t, Dashboard, b.m.look.Page)
	require.Contains(t, b.m.View(), "t the gains")
	b.press("t")
	require.Equal(t, Verdict, b.m.look.Page)
	require.Empty(t, b.asked)

	b = newBench(t, Options{Tuned: func() (Tuned, error) {
		return Tuned{}, fmt.Errorf("no heat-up")
	}}, swinging().s)
	_, cmd = b.m.Update(newsMsg{s: done})
	b.do(cmd())
	require.Contains(t, b.m.View(), "no gains: no heat-up")
}

// Figures that have no end or that a record does not tell are said so, in either unit.
func TestTunedWords(t *testing.T) {
	inf := math.Inf(1)
	assert.Equal(t, "sensitivity peak 1.40, gain no end, phase no end, delay no end",
		marginWords(tune.Margins{Stable: true, Ms: 1.4, GM: inf, PM: inf, Delay: inf}))
	assert.Equal(t, "none: it swings by itself", marginWords(tune.Margins{}))
	m := tune.Model{Kind: tune.First, K: 820, T: 673, L: 30, Half: tune.Half{K: 1090, T: 926}}
	assert.Contains(t, modelFigures(m, temp.Celsius), "where it would end is not told")
	m.Half = tune.Half{K: 20, T: 30}
	assert.Contains(t, modelFigures(m, temp.Fahrenheit), "rise 1476 ± 36 °F")
	assert.Contains(t, modelFigures(m, temp.Celsius), "slope 1.218 °C/s")
}
