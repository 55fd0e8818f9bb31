package digits

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestFigureReads(t *testing.T) {
	assert.Equal(t, []string{
		"█  █ ▀█ █▀▀█",
		"▀▀▀█  █ █▀▀█",
		"   ▀  ▀ ▀▀▀▀",
	}, Figure("418", 12, 3))
}

func TestEveryFigureIsItsOwn(t *testing.T) {
	for _, h := range []int{3, 5, 7, 20} {
		seen := map[string]rune{}
		for _, r := range "0123456789-+.:°FC" {
			rows := Figure(string(r), 200, h)
			require.NotNil(t, rows, "%c at %d rows", r, h)
			key := strings.Join(rows, "\n")
			assert.NotContains(t, seen, key, "%c looks like %c at %d rows", r, seen[key], h)
			seen[key] = r
		}
	}
}

func TestEveryLetterIsItsOwn(t *testing.T) {
	seen := map[[7]string]rune{}
	for r, g := range letters {
		assert.NotContains(t, seen, g, "%c looks like %c", r, seen[g])
		seen[g] = r
		for _, row := range g {
			assert.Len(t, row, len(g[0]), "%c", r)
		}
	}
	for _, r := range "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789- " {
		assert.Contains(t, letters, r)
	}
	assert.Nil(t, Word("é", 100, 100))
	assert.Nil(t, Word("", 100, 100))
}

// TestFits: whatever is drawn stays inside the room given and has rows of one width, and more
// room never gives a smaller figure.
func TestFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[0-9.:+-]{1,6}( ?°[FC])?`).Draw(t, "text")
		word := rapid.StringMatching(`[A-Z][A-Z0-9 -]{0,12}`).Draw(t, "word")
		w, h := rapid.IntRange(1, 220).Draw(t, "w"), rapid.IntRange(1, 60).Draw(t, "h")
		for _, rows := range [][]string{Figure(text, w, h), Word(word, w, h)} {
			for _, row := range rows {
				require.Equal(t, utf8.RuneCountInString(rows[0]), utf8.RuneCountInString(row))
				require.LessOrEqual(t, utf8.RuneCountInString(row), w)
			}
			require.LessOrEqual(t, len(rows), h)
		}
		require.LessOrEqual(t, len(Figure(text, w, h)), len(Figure(text, w+5, h+1)))
	})
}

func TestInvertTwiceKeepsTheInk(t *testing.T) {
	rows := Figure("398", 40, 5)
	in := Invert(rows)
	require.Len(t, in, len(rows)+1)
	ink := func(rows []string) int {
		s := strings.Join(rows, "")
		return 2*strings.Count(s, "█") + strings.Count(s, "▀") + strings.Count(s, "▄")
	}
	field := 2 * len(in) * utf8.RuneCountInString(in[0])
	assert.Equal(t, field, ink(in)+ink(rows))
}

func BenchmarkFigure(b *testing.B) {
	for b.Loop() {
		Figure("1398 °F", 200, 40)
	}
}
