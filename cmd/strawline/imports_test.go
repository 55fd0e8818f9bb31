package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// repoRoot climbs from the test's folder to the folder of go.mod.
func repoRoot(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	require.NoError(t, err)
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		require.NotEqual(t, dir, up, "no go.mod above the test's folder")
		dir = up
	}
}

func TestHouse(t *testing.T) {
	faults, err := checkHouse(repoRoot(t))
	require.NoError(t, err)
	for _, fault := range faults {
		t.Error(fault)
	}
}

func TestTableHasNoCircle(t *testing.T) {
	level := map[string]int{}
	var climb func(room string, way []string) int
	climb = func(room string, way []string) int {
		require.NotContains(t, way, room, "a circle in the import table")
		if l, known := level[room]; known {
			return l
		}
		l := 0
		for other := range rooms {
			if other != room && inRooms(other, rooms[room]) {
				l = max(l, climb(other, append(way, room))+1)
			}
		}
		level[room] = l
		return l
	}
	for room := range rooms {
		climb(room, nil)
	}
	assert.Zero(t, level["probe/temp"])
	assert.Greater(t, level["cmd/strawline"], level["tui"])
}

// writeTree puts files into a new folder, beside a go.mod of module strawline.
func writeTree(t *testing.T, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	files["go.mod"] = "module strawline\n\ngo 1.25.0\n"
	for name, text := range files {
		full := filepath.Join(root, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(full), 0o755))
		require.NoError(t, os.WriteFile(full, []byte(text), 0o644))
	}
	return root
}

// TestHouseFindsFaults shows that each rule can fail: one file breaks one rule each.
func TestHouseFindsFaults(t *testing.T) {
	long := "package plant\n\nfunc long() {\n" + strings.Repeat("\tlong()\n", 79) + "}\n"
	cases := []struct{ name, file, text, want string }{
		{"upward import", "probe/plant/a.go",
			"package plant\n\nimport _ \"strawline/control\"\n",
			"probe/plant/a.go:3: probe/plant may not import control"},
		{"sideways import", "probe/board/a.go",
			"package board\n\nimport _ \"strawline/probe/temp\"\n",
			"probe/board/a.go:3: probe/board may not import probe/temp"},
		{"screen in the keeper", "control/keeper/a.go",
			"package keeper\n\nimport _ \"strawline/tui/chart\"\n",
			"control/keeper/a.go:3: control/keeper may not import tui/chart"},
		{"unknown package", "probe/junk/a.go", "package junk\n",
			"probe/junk/a.go: package probe/junk is not in the import table"},
		{"serial library", "probe/sim/a.go",
			"package sim\n\nimport _ \"go.bug.st/serial/enumerator\"\n",
			"probe/sim/a.go:3: probe/sim may not import the library go.bug.st/serial/enumerator"},
		{"screen library", "control/a.go",
			"package control\n\nimport _ \"github.com/charmbracelet/lipgloss\"\n",
			"control/a.go:3: control may not import the library github.com/charmbracelet/lipgloss"},
		{"log", "probe/a.go", "package probe\n\nimport _ \"log\"\n",
			"probe/a.go:3: probe may not import the library log"},
		{"goroutine", "control/a.go", "package control\n\nfunc f() { go f() }\n",
			"control/a.go:3: control may not start a goroutine"},
		{"goroutine of a group", "control/a.go",
			"package control\n\nimport \"sync\"\n\nfunc f() {\n\tvar g sync.WaitGroup\n" +
				"\tg.Go(f)\n}\n",
			"control/a.go:7: control may not start a goroutine through Go"},
		{"clock under another name", "probe/belief/a.go",
			"package belief\n\nimport clock \"time\"\n\nvar now = clock.Now\n",
			"probe/belief/a.go:5: probe/belief may not use time.Now"},
		{"timer", "probe/belief/a.go",
			"package belief\n\nimport \"time\"\n\nvar c = time.NewTimer(0).C\n",
			"probe/belief/a.go:5: probe/belief may not use time.NewTimer"},
		{"deadline", "control/a.go",
			"package control\n\nimport \"context\"\n\nvar f = context.WithTimeout\n",
			"control/a.go:5: control may not use context.WithTimeout"},
		{"init", "tui/a.go", "package tui\n\nfunc init() {}\n", "tui/a.go:3: an init function"},
		{"empty interface", "tui/a.go", "package tui\n\nvar x interface{}\n",
			"tui/a.go:3: write any for an empty interface"},
		{"long function", "probe/plant/a.go", long,
			"probe/plant/a.go:3: long has 81 lines, more than 80"},
		{"long file", "probe/plant/a.go", "package plant\n" + strings.Repeat("\n", 500),
			"probe/plant/a.go: 501 lines, more than 500"},
		{"long line", "probe/plant/a.go", "package plant\n\n// " + strings.Repeat("°", 98) + "\n",
			"probe/plant/a.go:3: more than 100 columns"},
		{"top level", "util/a.txt", "", "util: does not belong at the top level"},
		{"unfinished", "tui/a_test.go", "package tui\n\n// TO" + "DO: later\n",
			"tui/a_test.go:3: a comment says TO" + "DO"},
		{"skip", "tui/a_test.go",
			"package tui\n\nfunc f(t interface{ Skip() }) { t.Skip() }\n",
			"tui/a_test.go:3: a test skips itself"},
		{"sleep", "tui/a_test.go",
			"package tui\n\nimport \"time\"\n\nfunc f() { time.Sleep(1) }\n",
			"tui/a_test.go:5: a test sleeps"},
		{"not Go", "tui/a.go", "pack\n", "tui/a.go: does not parse: tui/a.go:1:1: " +
			"expected 'package', found pack"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			faults, err := checkHouse(writeTree(t, map[string]string{c.file: c.text}))
			require.NoError(t, err)
			assert.Equal(t, []string{c.want}, faults)
		})
	}
}

// TestHouseAllows shows that the rules leave alone what the table allows.
func TestHouseAllows(t *testing.T) {
	long := strings.Repeat("x", 200)
	faults, err := checkHouse(writeTree(t, map[string]string{
		".gitignore":                  "/strawline\n",
		"strawline":                   "a built program",
		"README.md":                   "",
		"probe/port/a.go":             "package port\n\nimport _ \"go.bug.st/serial\"\n",
		"probe/port/b.go":             "package port\n\nfunc f() { go f() }\n",
		"probe/plant/a.go":            "package plant\n\nimport _ \"strawline/probe/temp\"\n",
		"control/keeper/a.go":         "package keeper\n\nimport _ \"strawline/probe/sim\"\n",
		"control/a_test.go":           "package control\n\nimport _ \"strawline/control/runlog\"\n",
		"cmd/strawline/early/a.go":    "package early\n\nfunc init() {}\n",
		"probe/thermocouple/table.go": "// Code generated by x; DO NOT EDIT.\n\npackage x\n\n// " + long + "\n",
		"probe/belief/a.go":           "package belief\n\nimport \"time\"\n\nvar s = time.Second\n",
		"control/b_test.go": "package control\n\nimport (\n\t\"testing/synctest\"\n\t\"time\"\n)\n\n" +
			"func f() { synctest.Wait(); time.Sleep(1) }\n",
	}))
	require.NoError(t, err)
	assert.Empty(t, faults)
}
