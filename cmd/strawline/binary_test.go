package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// patience is how long a test waits for what must come; it decides nothing when all is well.
const patience = 2 * time.Minute

// built is the path of the program that TestMain builds; the tests only read it.
var built string

func TestMain(m *testing.M) {
	flag.Parse()
	// Most of these tests wait for a board that speaks at its own pace, not for a processor.
	if f := flag.Lookup("test.parallel"); f.Value.String() == strconv.Itoa(runtime.GOMAXPROCS(0)) {
		if err := f.Value.Set("8"); err != nil {
			panic(err)
		}
	}
	os.Exit(testMain(m))
}

func testMain(m *testing.M) int {
	if signal.Ignored(syscall.SIGHUP) { // under nohup: the programs would not hear it either
		signal.Notify(make(chan os.Signal, 1), syscall.SIGHUP)
	}
	go machine.watch()
	dir, err := os.MkdirTemp("", "strawline-test-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	built = filepath.Join(dir, "strawline")
	if runtime.GOOS == "windows" {
		built += ".exe"
	}
	if out, err := exec.Command("go", "build", "-o", built, ".").CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "go build: %v\n%s", err, out)
		return 1
	}
	return m.Run()
}

// person is somebody with a home of their own, in which the built program is run.
type person struct {
	t    *testing.T
	home string
	who  syscall.SysProcAttr // another user's rights; else the test's own
}

func newPerson(t *testing.T) *person {
	t.Helper()
	return &person{t: t, home: t.TempDir()}
}

// command makes the program's command with this person's environment and nothing else.
func (p *person) command(args ...string) *exec.Cmd {
	cmd := exec.CommandContext(p.t.Context(), built, args...)
	who := p.who // each command changes its own
	cmd.Dir, cmd.SysProcAttr = p.home, &who
	cmd.Env = []string{
		"HOME=" + p.home, "PATH=" + os.Getenv("PATH"), "TERM=xterm-256color", "TZ=UTC",
		"XDG_CONFIG_HOME=" + filepath.Join(p.home, "config"),
		"XDG_DATA_HOME=" + filepath.Join(p.home, "data"),
		"XDG_STATE_HOME=" + filepath.Join(p.home, "state"),
	}
	return cmd
}

// run runs the program without a terminal.
func (p *person) run(args ...string) (stdout, stderr string, code int) {
	p.t.Helper()
	var out, bad bytes.Buffer
	cmd := p.command(args...)
	cmd.Stdout, cmd.Stderr = &out, &bad
	err := cmd.Run()
	var ended *exec.ExitError
	if err != nil && !errors.As(err, &ended) {
		require.NoError(p.t, err)
	}
	return out.String(), bad.String(), cmd.ProcessState.ExitCode()
}

// write puts a file into the person's home and gives its path.
func (p *person) write(name, text string) string {
	p.t.Helper()
	full := filepath.Join(p.home, filepath.FromSlash(name))
	require.NoError(p.t, os.MkdirAll(filepath.Dir(full), 0o755))
	require.NoError(p.t, os.WriteFile(full, []byte(text), 0o644))
	return full
}

const goodProfile = `name = "thin-blade"
limit = "430F"

[[step]]
  soak = "1h"
  at = "390F"
  band = "10F"
`

// TestBadInput: each mistake gives one line on stderr, nothing on stdout and its exit code. The
// place of a mistake in a file is that of its key, which the files above indent by two.
func TestBadInput(t *testing.T) {
	p := newPerson(t)
	p.write("config/strawline/profiles/thin-blade.toml", goodProfile)
	p.write("config/strawline/profiles/broken.toml", "name = \"broken\"\nlimit = 430\n")
	p.write("good.toml", strings.Replace(goodProfile, "thin-blade", "other", 1))
	p.write("unit.toml", strings.Replace(goodProfile, `"390F"`, `"390"`, 1))
	p.write("key.toml", strings.Replace(goodProfile, "band", "bend", 1))
	p.write("hot.toml", strings.Replace(goodProfile, "390F", "480F", 1))
	p.write("taken.toml", strings.Replace(goodProfile, "thin-blade", "kitchen", 1))
	p.write("long.toml", "# "+strings.Repeat("x", mostProfileBytes))
	for _, c := range []struct {
		args string
		code int
		want string
	}{
		{"", exitUsage, "strawline: say which command; strawline --help lists them"},
		{"profile", exitUsage, `strawline: no command "profile"; did you mean profiles?`},
		{"fry", exitUsage, `strawline: no command "fry"; strawline --help lists them`},
		{"-5C", exitUsage, `strawline: no command "-5C"; strawline --help lists them`},
		{"profiles", exitUsage, "strawline: profiles: say which command"},
		{"profiles shw", exitUsage, `strawline: profiles: no command "shw"; did you mean show or new?`},
		{"profiles show", exitUsage, "strawline: profiles: show: the name of a profile is missing"},
		{"profiles show a b", exitUsage, `strawline: profiles: show: "b" is too much`},
		{"profiles list --jsn", exitUsage,
			"strawline: profiles: list: no option --jsn; did you mean --json?"},
		{"profiles list -z", exitUsage, "strawline: profiles: list: no option -z"},
		{"record note x --hrc 99", exitUsage, "strawline: record: note: --hrc:"},
		{"record note x", exitUsage, "strawline: record: note: --hrc is missing"},
		{"record show none", exitNoInput, "none.jsonl"},
		{"version --json=maybe", exitUsage, "strawline: version: --json:"},
		{"profiles show small-knive", exitNoInput,
			`find profile "small-knive": there is none of that name; did you mean small-knife?`},
		{"profiles show thin-blad", exitNoInput, "did you mean thin-blade?"},
		{"profiles show xyzzy", exitNoInput, "strawline profiles list has them"},
		{"profiles show -100C", exitNoInput, `find profile "-100C"`},
		{"profiles show broken", exitData, "broken.toml, line 2, column 1: limit: "},
		{"profiles show none.toml", exitNoInput, "read none.toml: there is no such file"},
		{"profiles check none.toml", exitNoInput, "read none.toml: there is no such file"},
		{"profiles check config", exitIO, "read config: is a directory"},
		{"profiles check unit.toml", exitData,
			`profile unit.toml, line 6, column 3: at: "390" has no unit: write it as 400F`},
		{"profiles check key.toml", exitData, "profile key.toml, line 7, column 3: bend: "},
		{"profiles check hot.toml", exitData, "profile hot.toml, line "},
		{"profiles check taken.toml", exitData,
			"read taken.toml: its name kitchen is that of a built-in profile; give it another"},
		{"profiles check long.toml", exitData, "more than 1048576 bytes are no profile"},
	} {
		t.Run(c.args, func(t *testing.T) {
			out, bad, code := p.run(strings.Fields(c.args)...)
			assert.Equal(t, c.code, code)
			assert.Empty(t, out)
			assert.Contains(t, bad, c.want)
			assert.True(t, strings.HasPrefix(bad, "strawline: "), bad)
			assert.Equal(t, 1, strings.Count(bad, "\n"), bad)
			assert.True(t, strings.HasSuffix(bad, "\n"), bad)
		})
	}
}

// answer runs the program and reads the one JSON object that it must print.
func (p *person) answer(code int, args ...string) map[string]any {
	p.t.Helper()
	out, bad, got := p.run(args...)
	require.Equal(p.t, code, got, bad)
	require.Equal(p.t, 1, strings.Count(out, "\n"), "one object on one line")
	var object map[string]any
	require.NoError(p.t, json.Unmarshal([]byte(out), &object))
	return object
}

func keysOf(v any) []string {
	var keys []string
	for k := range v.(map[string]any) {
		keys = append(keys, k)
	}
	return keys
}

func TestProfilesJSON(t *testing.T) {
	p := newPerson(t)
	mine := p.write("config/strawline/profiles/a.toml", goodProfile)
	again := p.write("config/strawline/profiles/b.toml", goodProfile)
	taken := p.write("config/strawline/profiles/c.toml",
		strings.Replace(goodProfile, "thin-blade", "kitchen", 1))
	p.write("config/strawline/profiles/notes.txt", "no profile")

	list := p.answer(exitOK, "profiles", "list", "--json")
	assert.ElementsMatch(t, []string{"profiles", "refused_files"}, keysOf(list))
	lines := list["profiles"].([]any)
	require.Len(t, lines, 4)
	assert.ElementsMatch(t, []string{"name", "title", "from", "limit_c", "plan_s", "longest_s"},
		keysOf(lines[0]))
	assert.Equal(t, "built in", lines[0].(map[string]any)["from"])
	last := lines[3].(map[string]any)
	assert.Equal(t, "thin-blade", last["name"])
	assert.Equal(t, mine, last["file"])
	assert.InDelta(t, (430.0-32)/1.8, last["limit_c"], 1e-9)

	refused := list["refused_files"].([]any)
	require.Len(t, refused, 2)
	assert.Equal(t, again, refused[0].(map[string]any)["file"])
	assert.Contains(t, refused[0].(map[string]any)["why"], "its name thin-blade is that of "+mine)
	assert.Equal(t, taken, refused[1].(map[string]any)["file"])
	assert.Contains(t, refused[1].(map[string]any)["why"], "built-in profile")

	show := p.answer(exitOK, "profiles", "show", "thin-blade", "--json")
	assert.ElementsMatch(t, []string{"from", "file", "plan_s", "profile", "plan_corners"},
		keysOf(show))
	corners := show["plan_corners"].([]any)
	assert.ElementsMatch(t, []string{"at_s", "temp_c", "step"}, keysOf(corners[0]))
	end := corners[len(corners)-1].(map[string]any)
	assert.InDelta(t, show["plan_s"], end["at_s"], 0.001)
	assert.InDelta(t, (390.0-32)/1.8, end["temp_c"], 1e-9)

	good := p.answer(exitOK, "profiles", "check", "--json", mine)
	assert.Equal(t, true, good["good"])
	assert.Equal(t, "thin-blade", good["profile"].(map[string]any)["name"])

	wrong := p.write("unit.toml", strings.Replace(goodProfile, `"390F"`, `"390"`, 1))
	bad := p.answer(exitData, "profiles", "check", wrong, "--json")
	assert.Equal(t, false, bad["good"])
	assert.Equal(t, 6.0, bad["line"])
	assert.Equal(t, 3.0, bad["column"])
	assert.Equal(t, "at", bad["key"])
}

func TestProfilesText(t *testing.T) {
	p := newPerson(t)
	mine := p.write("config/strawline/profiles/a.toml", goodProfile)
	p.write("config/strawline/profiles/b.toml", "name = 1\n")
	out, bad, code := p.run("profiles", "list")
	assert.Equal(t, exitOK, code)
	assert.Equal(t, 4, strings.Count(out, "\n"))
	assert.Contains(t, out, "kitchen ")
	assert.Contains(t, out, "("+mine+")")
	assert.Contains(t, bad, "b.toml, line 1, column 1")

	out, bad, code = p.run("profiles", "show", "small-knife")
	assert.Equal(t, exitOK, code)
	assert.Empty(t, bad)
	assert.Contains(t, out, "limit 450 °F")
	assert.Equal(t, 2, strings.Count(out, "soak 2h at 400 °F"))

	out, bad, code = p.run("profiles", "check", mine)
	assert.Equal(t, exitOK, code)
	assert.Empty(t, bad)
	assert.Contains(t, out, "profile thin-blade, 1 steps")
}

// TestReadmeProfile takes the profile out of README.md, where it stands indented by four, and
// has it checked.
func TestReadmeProfile(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(repoRoot(t), "README.md"))
	require.NoError(t, err)
	const indent = "    "
	at := strings.Index(string(text), indent+`name = "thin-blade"`)
	require.GreaterOrEqual(t, at, 0)
	var profile strings.Builder
	for line := range strings.Lines(string(text[at:])) {
		if strings.TrimSpace(line) != "" && !strings.HasPrefix(line, indent) {
			break
		}
		profile.WriteString(strings.TrimPrefix(line, indent))
	}
	p := newPerson(t)
	out, bad, code := p.run("profiles", "check", p.write("readme.toml", profile.String()))
	assert.Equal(t, exitOK, code, bad)
	assert.Contains(t, out, "profile thin-blade, 8 steps")
}

// TestProfilesWithoutXDG: the folder below the home is used when XDG_CONFIG_HOME is not set or
// is relative, as the XDG base directory specification says.
func TestProfilesWithoutXDG(t *testing.T) {
	for _, set := range []string{"XDG_CONFIG_HOME=", "XDG_CONFIG_HOME=config"} {
		p := newPerson(t)
		p.write(".config/strawline/profiles/a.toml", goodProfile)
		cmd := p.command("profiles", "show", "thin-blade")
		cmd.Env = append(cmd.Env, set)
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, string(out))
		assert.Contains(t, string(out), "thin-blade")
	}
}

func TestVersionJSON(t *testing.T) {
	v := newPerson(t).answer(exitOK, "version", "--json")
	assert.Equal(t, runtime.GOOS, v["system"])
	assert.Equal(t, runtime.GOARCH, v["processor"])
	assert.Equal(t, 1.0, v["board_protocol"])
	assert.Contains(t, keysOf(v), "version")
}

// TestTerminalIsNotAsked starts the program on a terminal that answers nothing. The order of
// the packages' start is the proof; that no escape code comes out is its consequence.
func TestTerminalIsNotAsked(t *testing.T) {
	p := newPerson(t)
	cmd := p.command("version")
	cmd.Env = append(cmd.Env, "GODEBUG=inittrace=1")
	trace, err := cmd.CombinedOutput()
	require.NoError(t, err)
	var order []string
	for line := range strings.Lines(string(trace)) {
		if words := strings.Fields(line); len(words) > 1 && words[0] == "init" {
			order = append(order, words[1])
		}
	}
	early, unicode, screens := -1, -1, -1
	for i, name := range order {
		switch name {
		case "strawline/" + earlyRoom:
			early = i
		case "unicode":
			unicode = i
		case "github.com/charmbracelet/bubbletea":
			screens = i
		}
	}
	require.GreaterOrEqual(t, early, 0, "the early package is not in the trace")
	require.Greater(t, unicode, early, "unicode started first, so the screen library could too")
	if screens >= 0 {
		assert.Greater(t, screens, early)
	}

	cmd = p.command("version")
	terminal, err := pty.Start(cmd)
	require.NoError(t, err)
	defer terminal.Close()
	var said bytes.Buffer
	_, _ = said.ReadFrom(terminal) // ends with an error when the program has ended
	require.NoError(t, cmd.Wait())
	assert.Contains(t, said.String(), "strawline ")
	assert.NotContains(t, said.String(), "\x1b", "the terminal was asked something")
}
