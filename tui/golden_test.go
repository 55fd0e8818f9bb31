package tui

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/charmbracelet/lipgloss"
	"github.com/muesli/termenv"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
	"strawline/tui/chart"
)

var update = flag.Bool("update", false, "write the golden screens anew")

var sizes = [][2]int{{40, 12}, {80, 24}, {120, 40}, {200, 60}}

func lookAt(st staged, w, h int, p termenv.Profile) Look {
	cache := new(LineCache)
	return Look{W: w, H: h, Unit: temp.Fahrenheit, Ink: NewInk(p), Transport: "pseudo-terminal",
		Line: func(w, h int) [][]chart.Cell {
			return cache.draw(st.s, st.tr, temp.Fahrenheit, w, h)
		}}
}

// exact says that every line has the width of the screen and that there are as many as it has.
func exact(t require.TestingT, screen string, w, h int) {
	lines := strings.Split(screen, "\n")
	require.Len(t, lines, h)
	for _, line := range lines {
		require.Equal(t, w, lipgloss.Width(line), "%q", line)
	}
}

// TestGoldenScreens: each scene at each size, without and with colour. The files show how it
// looks; what must be on it is said here in words, so that a new file cannot hide a loss.
func TestGoldenScreens(t *testing.T) {
	for _, st := range scenes() {
		for _, size := range sizes {
			w, h := size[0], size[1]
			bare := View(st.s, lookAt(st, w, h, termenv.Ascii))
			colour := View(st.s, lookAt(st, w, h, termenv.TrueColor))
			name := fmt.Sprintf("%s-%dx%d", st.name, w, h)
			t.Run(name, func(t *testing.T) {
				exact(t, bare, w, h)
				exact(t, colour, w, h)
				assert.NotContains(t, bare, "\x1b", "without colour there are no escape codes")
				for _, word := range append(st.want, "SIMULATED", "/ help") {
					assert.Contains(t, bare, word)
				}
				for _, word := range st.wide {
					if w >= 80 {
						assert.Contains(t, bare, word)
					}
				}
				for _, word := range st.never {
					assert.NotContains(t, bare, word)
				}
				golden(t, name, bare)
				golden(t, name+"-colour", colour)
			})
		}
	}
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("..", "testdata", "screens", name+".golden")
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(got+"\n"), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, string(want), got+"\n", "%s", name)
}

// TestBigAndHelpGoldens: the digits that fill the screen, quiet and in alarm, and the keys.
func TestBigAndHelpGoldens(t *testing.T) {
	for _, size := range sizes {
		w, h := size[0], size[1]
		for _, st := range []staged{soaking(), tripped(), open(), shelved()} {
			l := lookAt(st, w, h, termenv.Ascii)
			l.Page = BigDigits
			got := View(st.s, l)
			exact(t, got, w, h)
			assert.Contains(t, got, "SIMULATED")
			assert.Contains(t, got, "█")
			golden(t, fmt.Sprintf("big-%s-%dx%d", st.name, w, h), got)
		}
		st := soaking()
		l := lookAt(st, w, h, termenv.Ascii)
		l.Page = Help
		got := View(st.s, l)
		exact(t, got, w, h)
		for _, b := range liveKeys {
			assert.Contains(t, got, b.word, "%dx%d", w, h)
		}
		golden(t, fmt.Sprintf("help-%dx%d", w, h), got)
	}
}
