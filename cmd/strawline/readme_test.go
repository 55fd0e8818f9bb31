package main

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/require"

	"strawline/control/alarm"
	"strawline/control/shop"
)

// section gives the lines of README.md below a heading, up to the next one.
func section(t *testing.T, heading string) []string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(repoRoot(t), "README.md"))
	require.NoError(t, err)
	_, below, found := strings.Cut(string(text), "\n## "+heading+"\n")
	require.True(t, found, heading)
	below, _, _ = strings.Cut(below, "\n## ")
	return strings.Split(below, "\n")
}

// block gives the first indented block of lines, as a reader would copy it.
func block(lines []string) string {
	var b strings.Builder
	for _, l := range lines {
		code, is := strings.CutPrefix(l, "    ")
		if !is && l != "" && b.Len() > 0 {
			break
		}
		if is || b.Len() > 0 {
			b.WriteString(code + "\n")
		}
	}
	return strings.TrimSpace(b.String())
}

func TestReadmeAlarms(t *testing.T) {
	want := []string{"| word | in files | what is not normal | what to do |", "|---|---|---|---|"}
	for _, d := range alarm.First() {
		word := d.Word
		if d.Latching {
			word += " *"
		}
		want = append(want, fmt.Sprintf("| %s | `%s` | %s | %s |", word, d.Code, d.Cause, d.Do))
	}
	var got []string
	for _, l := range section(t, "Alarms") {
		if strings.HasPrefix(l, "|") {
			got = append(got, l)
		}
	}
	require.Equal(t, strings.Join(want, "\n"), strings.Join(got, "\n"))
}

// TestReadmeCommands holds the list of commands to those that the program has, both ways.
func TestReadmeCommands(t *testing.T) {
	have := map[string]bool{}
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		if c.Runnable() && !c.HasSubCommands() {
			have[c.CommandPath()] = true
		}
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	root := newRoot(&host{})
	walk(root)
	listed := map[string]bool{}
	for l := range strings.Lines(block(section(t, "What there is today"))) {
		words := strings.Fields(l)
		require.Equal(t, "strawline", words[0], l)
		if words[1] == "help" {
			continue
		}
		c, _, err := root.Find(words[1:])
		require.NoError(t, err, l)
		listed[c.CommandPath()] = true
	}
	require.NotEmpty(t, have)
	require.Equal(t, slices.Sorted(maps.Keys(have)), slices.Sorted(maps.Keys(listed)))
}

func TestReadmeShopFile(t *testing.T) {
	s, err := shop.Parse("shop.toml", []byte(block(section(t, "Your shop"))))
	require.NoError(t, err)
	require.Len(t, s.Ovens, 1)
}
