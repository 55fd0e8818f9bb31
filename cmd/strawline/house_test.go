package main

import (
	"bufio"
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// The measure of the house.
const (
	mostFileLines = 500
	mostFuncLines = 80
	mostColumns   = 100
)

// rooms says which packages exist and which of ours each may import. A name that ends in
// "/*" stands for that package and all below it.
var rooms = map[string][]string{
	"probe/temp": {},
	// The board's latches are one type for codec, port, engine and screen: two would disagree.
	"probe/board":  {"probe"},
	"probe/modbus": {},
	"control/pid":  {},
	"tui/chart":    {},
	"tui/digits":   {},

	"probe":       {"probe/temp"},
	"probe/plant": {"probe/temp"},
	// Fixed points: arithmetic worth proving, and tables that no command should carry.
	"probe/fixed": {"probe/temp"},
	"profiles":    {"probe/temp"},

	"probe/thermocouple": {"probe", "probe/temp"},
	"probe/lines":        {"probe", "probe/temp"},
	"probe/belief":       {"probe", "probe/temp"},
	"profiles/steel":     {"profiles", "probe/temp"},
	"control/alarm":      {"probe", "probe/temp"},
	"control/tune":       {"control/pid"},

	// The way down from full power to the setpoint: arithmetic worth proving on its own.
	"control/landing": {"control/pid", "control/tune"},
	// Detectors of what goes wrong with an oven: arithmetic with thresholds to be proved.
	"control/guard": {"probe", "probe/temp"},
	"control/shop":  {"control/pid", "control/tune", "probe", "probe/temp"},
	"control": {
		"control/pid", "control/alarm", "control/tune", "control/landing", "control/guard",
		"profiles", "profiles/steel", "probe", "probe/belief", "probe/temp",
	},
	"probe/port": {
		"probe", "probe/temp", "probe/thermocouple", "probe/board", "probe/lines",
		"probe/modbus",
	},
	"probe/sim": {
		"probe", "probe/temp", "probe/thermocouple", "probe/board", "probe/lines",
		"probe/modbus", "probe/plant",
	},

	"control/runlog": {"control", "control/alarm", "probe", "probe/temp"},
	"control/attach": {"control", "control/alarm", "probe", "probe/temp"},

	"control/keeper": {"probe/*", "control/*", "profiles/*"},
	"tui": {
		"control", "control/alarm", "control/pid", "control/tune", "profiles",
		"profiles/steel", "probe", "probe/temp", "tui/*",
	},

	"cmd/strawline":       {"probe/*", "control/*", "profiles/*", "tui/*", earlyRoom},
	"cmd/strawline/early": {},
	"cmd/ansipic":         {"tui/*"},
}

// earlyRoom is the one package that may have an init function.
const earlyRoom = "cmd/strawline/early"

// timed are the rooms that may ask a clock and start goroutines.
var timed = []string{
	"probe/port", "probe/sim", "control/runlog", "control/attach", "control/keeper",
	"tui", "cmd/*",
}

// fenced names the rooms that may import a library, by the start of the library's path.
var fenced = map[string][]string{
	"go.bug.st/serial":                   {"probe/port"},
	"github.com/charmbracelet/bubbletea": {"tui/*", "cmd/*"},
	"github.com/charmbracelet/lipgloss":  {"tui/*", "cmd/*"},
	"github.com/charmbracelet/bubbles":   {"tui/*", "cmd/*"},
	"github.com/spf13/cobra":             {"cmd/*"},
	"github.com/spf13/pflag":             {"cmd/*"},
	"log":                                {"cmd/*"},
}

// topNames are the only names at the top level besides hidden and git-ignored ones.
var topNames = []string{
	"cmd", "tui", "control", "probe", "profiles", "testdata",
	"README.md", "DEVELOPERS.md", "go.mod", "go.sum",
}

// clockCalls are the functions of a package that ask a clock or start a goroutine.
var clockCalls = map[string][]string{
	"time": {
		"Now", "Since", "Until", "After", "AfterFunc", "Sleep", "NewTicker", "NewTimer",
		"Tick",
	},
	"context": {
		"WithTimeout", "WithTimeoutCause", "WithDeadline", "WithDeadlineCause", "AfterFunc",
	},
}

var unfinished = regexp.MustCompile(`\b(TODO|FIXME|XXX)\b`)

// inRooms tells whether name is one of the rooms, "/*" standing for all below.
func inRooms(name string, list []string) bool {
	return slices.ContainsFunc(list, func(room string) bool {
		base, deep := strings.CutSuffix(room, "/*")
		return name == base || deep && strings.HasPrefix(name, base+"/")
	})
}

// house gathers what is wrong with a tree.
type house struct {
	root   string
	module string
	faults []string
}

func (h *house) complain(where, format string, args ...any) {
	h.faults = append(h.faults, where+": "+fmt.Sprintf(format, args...))
}

// checkHouse reads the tree at root and says everything that breaks the house's rules.
func checkHouse(root string) ([]string, error) {
	mod, err := os.ReadFile(filepath.Join(root, "go.mod"))
	if err != nil {
		return nil, err
	}
	first, _, _ := strings.Cut(string(mod), "\n")
	h := &house{root: root, module: strings.TrimSpace(strings.TrimPrefix(first, "module"))}
	if err := h.checkTop(); err != nil {
		return nil, err
	}
	err = filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		hidden := strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata"
		if d.IsDir() && hidden && name != root {
			return filepath.SkipDir
		}
		if d.IsDir() || path.Ext(name) != ".go" {
			return nil
		}
		return h.checkFile(name)
	})
	return h.faults, err
}

// checkTop allows only the known names at the top, and what .gitignore names there.
func (h *house) checkTop() error {
	var ignored []string
	if text, err := os.ReadFile(filepath.Join(h.root, ".gitignore")); err == nil {
		for line := range strings.Lines(string(text)) {
			ignored = append(ignored, strings.Trim(strings.TrimSpace(line), "/"))
		}
	}
	entries, err := os.ReadDir(h.root)
	if err != nil {
		return err
	}
	for _, e := range entries {
		name := e.Name()
		if strings.HasPrefix(name, ".") || slices.Contains(ignored, name) {
			continue
		}
		if !slices.Contains(topNames, name) {
			h.complain(name, "does not belong at the top level")
		}
	}
	return nil
}

func (h *house) checkFile(name string) error {
	text, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	rel, err := filepath.Rel(h.root, name)
	if err != nil {
		return err
	}
	rel = filepath.ToSlash(rel)
	files := token.NewFileSet()
	tree, err := parser.ParseFile(files, rel, text, parser.ParseComments)
	if err != nil {
		h.complain(rel, "does not parse: %v", err)
		return nil
	}
	c := &fileCheck{house: h, rel: rel, room: path.Dir(rel), files: files, tree: tree}
	if _, known := rooms[c.room]; !known {
		h.complain(rel, "package %s is not in the import table", c.room)
	}
	c.checkComments()
	if strings.HasSuffix(rel, "_test.go") {
		c.checkTestCalls()
		return nil
	}
	c.checkImports()
	c.checkCode()
	if !ast.IsGenerated(tree) {
		c.checkMeasure(text)
	}
	return nil
}

// fileCheck checks one file.
type fileCheck struct {
	*house
	rel   string
	room  string
	files *token.FileSet
	tree  *ast.File
}

func (c *fileCheck) at(pos token.Pos, format string, args ...any) {
	where := fmt.Sprintf("%s:%d", c.rel, c.files.Position(pos).Line)
	c.complain(where, format, args...)
}

func (c *fileCheck) checkComments() {
	for _, group := range c.tree.Comments {
		for _, line := range group.List {
			if word := unfinished.FindString(line.Text); word != "" {
				c.at(line.Pos(), "a comment says %s", word)
			}
		}
	}
}

func (c *fileCheck) checkImports() {
	for _, spec := range c.tree.Imports {
		name, _ := strconv.Unquote(spec.Path.Value)
		if ours, is := strings.CutPrefix(name, c.module+"/"); is {
			if !inRooms(ours, rooms[c.room]) {
				c.at(spec.Pos(), "%s may not import %s", c.room, ours)
			}
			continue
		}
		for library, allowed := range fenced {
			inside := name == library || strings.HasPrefix(name, library+"/")
			if inside && c.tree.Name.Name != "main" && !inRooms(c.room, allowed) {
				c.at(spec.Pos(), "%s may not import the library %s", c.room, name)
			}
		}
	}
}

// checkCode looks for clocks, goroutines, init functions, empty interfaces and long
// functions.
func (c *fileCheck) checkCode() {
	quiet := !inRooms(c.room, timed)
	ast.Inspect(c.tree, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GoStmt:
			if quiet {
				c.at(n.Pos(), "%s may not start a goroutine", c.room)
			}
		case *ast.SelectorExpr:
			if quiet {
				c.checkClock(n)
			}
		case *ast.InterfaceType:
			if n.Methods.NumFields() == 0 {
				c.at(n.Pos(), "write any for an empty interface")
			}
		case *ast.FuncDecl:
			if n.Recv == nil && n.Name.Name == "init" && c.room != earlyRoom {
				c.at(n.Pos(), "an init function")
			}
			lines := c.files.Position(n.End()).Line - c.files.Position(n.Pos()).Line + 1
			if lines > mostFuncLines && !ast.IsGenerated(c.tree) {
				c.at(n.Pos(), "%s has %d lines, more than %d", n.Name.Name, lines, mostFuncLines)
			}
		}
		return true
	})
}

func (c *fileCheck) checkClock(n *ast.SelectorExpr) {
	if n.Sel.Name == "Go" {
		c.at(n.Pos(), "%s may not start a goroutine through Go", c.room)
	}
	if library := c.library(n); slices.Contains(clockCalls[library], n.Sel.Name) {
		c.at(n.Pos(), "%s may not use %s.%s", c.room, library, n.Sel.Name)
	}
}

// library gives the import path that the left side of a selector names, if it names one.
func (c *fileCheck) library(n *ast.SelectorExpr) string {
	ident, is := n.X.(*ast.Ident)
	if !is {
		return ""
	}
	for _, spec := range c.tree.Imports {
		full, _ := strconv.Unquote(spec.Path.Value)
		local := path.Base(full)
		if spec.Name != nil {
			local = spec.Name.Name
		}
		if local == ident.Name {
			return full
		}
	}
	return ""
}

// imports tells whether the file imports a path.
func (c *fileCheck) imports(full string) bool {
	return slices.ContainsFunc(c.tree.Imports, func(spec *ast.ImportSpec) bool {
		return spec.Path.Value == strconv.Quote(full)
	})
}

// checkTestCalls allows a test neither to skip itself nor to sleep, but in a file that uses
// synctest, whose sleep takes no time.
func (c *fileCheck) checkTestCalls() {
	ast.Inspect(c.tree, func(n ast.Node) bool {
		call, is := n.(*ast.CallExpr)
		if !is {
			return true
		}
		sel, is := call.Fun.(*ast.SelectorExpr)
		if !is {
			return true
		}
		switch sel.Sel.Name {
		case "Skip", "Skipf", "SkipNow":
			c.at(call.Pos(), "a test skips itself")
		case "Sleep":
			if c.library(sel) == "time" && !c.imports("testing/synctest") {
				c.at(call.Pos(), "a test sleeps")
			}
		}
		return true
	})
}

func (c *fileCheck) checkMeasure(text []byte) {
	lines := bufio.NewScanner(bytes.NewReader(text))
	lines.Buffer(nil, len(text)+1)
	count := 0
	for lines.Scan() {
		count++
		if utf8.RuneCount(lines.Bytes()) > mostColumns {
			c.complain(fmt.Sprintf("%s:%d", c.rel, count), "more than %d columns", mostColumns)
		}
	}
	if count > mostFileLines {
		c.complain(c.rel, "%d lines, more than %d", count, mostFileLines)
	}
}
