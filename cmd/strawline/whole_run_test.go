package main

import (
	"bufio"
	"context"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/probe/sim"
	"strawline/probe/temp"
)

// boardOnPty is a simulated board on a pseudo-terminal that keeps the wall's time, as a real one
// does, and knows nothing of the program that opens it.
func boardOnPty(t *testing.T, cfg sim.Config) string {
	t.Helper()
	_, path := boardIn(t, t.TempDir(), cfg)
	return path
}

// boardIn is the same with its path in a folder, and gives the board too. Where it is closed the
// path is another one's to take.
func boardIn(t *testing.T, dir string, cfg sim.Config) (*sim.Board, string) {
	t.Helper()
	b := sim.New(cfg)
	path, err := b.Pty(dir)
	require.NoError(t, err)
	onTheWallsTime(t, b, func() {})
	return b, path
}

// kilnShop is a shop file with one oven, kiln, that a board of ours at that port heats.
func kilnShop(port string) string {
	return `unit = "C"
[[board]]
name = "bench"
kind = "strawline board"
port = "` + port + `"
[[probe]]
name = "oven-air"
board = "bench"
use = "oven air"
[[oven]]
name = "kiln"
limit = "250C"
board = "bench"
heater = true
`
}

// onTheWallsTime has a board keep the wall's time until the test ends, and each is called behind
// each of its steps.
func onTheWallsTime(t *testing.T, b *sim.Board, each func()) {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		tick := time.NewTicker(sim.Step)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
				if b.Free() != nil {
					return
				}
				each()
			}
		}
	}()
	t.Cleanup(func() {
		cancel()
		<-done
		b.Close()
	})
}

// TestARealRunOnTheWallsTime is a whole small temper through the serial library against a board
// that is not granted its time, with a person who types.
func TestARealRunOnTheWallsTime(t *testing.T) {
	t.Parallel()
	path := boardOnPty(t, sim.Config{Start: 38, Blade: true})
	out := filepath.Join(t.TempDir(), "r.jsonl")
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	cmd := exec.CommandContext(ctx, built, "run", "--at", "100F", "--for", "8s", "--band", "20F",
		"--port", path, "--out", out, "--as-root", "--plain")
	cmd.Env = append(os.Environ(), "XDG_DATA_HOME="+t.TempDir())
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	stdout, err := cmd.StdoutPipe()
	require.NoError(t, err)
	var complaints strings.Builder
	cmd.Stderr = &complaints
	require.NoError(t, cmd.Start())
	var lines []string
	asked := false
	for sc := bufio.NewScanner(stdout); sc.Scan(); {
		line := sc.Text()
		lines = append(lines, line)
		switch {
		case strings.Contains(line, "your turn"):
			io.WriteString(in, "confirm\n")
		case strings.Contains(line, "soak counting") && !asked:
			asked = true
			io.WriteString(in, "dance\nnote it hums\nmore 1s\nset 2000F\nshelve over limit 5m x\n"+
				"shelve OFF PLAN 10m the door is open\nshelve OFF PLAN\n")
		case strings.Contains(line, "end: done"):
			io.WriteString(in, "answer\n")
		}
	}
	require.NoError(t, cmd.Wait(), "%s\n%s", complaints.String(), strings.Join(lines, "\n"))
	all := strings.Join(lines, "\n")
	require.NotContains(t, all, "SIMULATED", "nothing told the program that this board is simulated")
	require.Contains(t, complaints.String(), `"dance" is not known`)
	require.Contains(t, all, "it hums")
	require.Contains(t, all, "is above the limit")
	require.Contains(t, all, "refused OVER LIMIT cannot be shelved")
	require.Contains(t, all, "alarm OFF PLAN shelved for 10 min; the door is open")
	require.Contains(t, all, "alarm OFF PLAN no longer shelved; the run ended")
	require.Contains(t, complaints.String(), "shelve for how long?")

	f, err := runlog.Open(out)
	require.NoError(t, err)
	defer f.Close()
	require.False(t, f.Info.Simulated)
	require.Equal(t, "straw-sim", f.Info.Shop.Board)
	require.InDelta(t, 260, f.Info.Shop.BoardLimC, 0.3)
	records, err := f.All()
	require.NoError(t, err)
	soaked := 0.0
	for _, r := range records {
		if e := r.Event; e != nil && e.Kind == "soaked" {
			soaked = *e.SpanS
		}
	}
	require.InDelta(t, 9, soaked, 0.6, "8 s and the second asked for")
}

func TestBoardSettingsAreShownAndSetAfterAQuestion(t *testing.T) {
	t.Parallel()
	path := boardOnPty(t, sim.Config{})
	show := func(stdin string, args ...string) (string, string, int) {
		cmd := exec.Command(built, append([]string{"probes", "board", "--port", path}, args...)...)
		cmd.Stdin = strings.NewReader(stdin)
		var out, errs strings.Builder
		cmd.Stdout, cmd.Stderr = &out, &errs
		err := cmd.Run()
		if _, is := err.(*exec.ExitError); err != nil && !is {
			t.Fatal(err)
		}
		return out.String(), errs.String(), cmd.ProcessState.ExitCode()
	}
	out, errs, code := show("")
	require.Zero(t, code, errs)
	require.Contains(t, out, "straw-sim: MAX31855K")
	require.Contains(t, out, "260.") // as the chip's quarters come back

	_, errs, code = show("no\n", "--limit", "240C")
	require.Equal(t, exitTemporary, code)
	require.Contains(t, errs, "not confirmed")

	out, errs, code = show("yes\n", "--limit", "240C", "--mains", "60Hz", "--window", "4s", "--json")
	require.Zero(t, code, errs)
	require.Contains(t, out, `"mains_hz":60`)
	require.Contains(t, out, `"window_s":4`)
	require.Contains(t, out, `"changed":true`)

	_, errs, code = show("yes\n", "--limit", "900C")
	require.Equal(t, exitConfig, code)
	require.Contains(t, errs, "the board takes up to")

	out, _, code = show("")
	require.Zero(t, code)
	require.Contains(t, out, "mains 60 Hz", "the board kept what was set")
	require.Equal(t, 1, strings.Count(out, "high limit"))
}

func TestTypedAsks(t *testing.T) {
	for _, c := range []struct{ line, kind, wrong string }{
		{"confirm", "confirm", ""}, {"go on", "go on", ""}, {"heat off", "heat off", ""},
		{"stay 20m", "stay", ""}, {"more 10m", "more", ""}, {"set 400F", "set", ""},
		{"note warped a little", "note", ""}, {"  stop  ", "stop", ""},
		{"more", "", "how long"}, {"more 10", "", "no unit"}, {"set 400", "", "no unit"},
		{"stop now", "", "too much"}, {"note", "", "note what"}, {"stopp", "", "is not known"},
		{"go", "", "is not known"}, {"duty 30% 5m", "duty", ""}, {"duty 0s", "duty", ""},
		{"duty 30 5m", "", "is no duty"}, {"duty 101% 5m", "", "is no duty"}, {"duty", "", "how long"},
		{"duty 30% 0s", "", "how long"}, {"duty 5m", "", "how long"}, {"duty 30%", "", "no span"},
		{"gains 0.03/C 400s 25s 0.5", "gains", ""}, {"gains 0.03/F 400s", "gains", ""},
		{"gains 0.03 400s", "", "no unit"}, {"gains 0.03/C", "", "gains which"},
		{"shelve OFF PLAN 10m the door is open", "shelve", ""}, {"shelve board-warm 90s sun", "shelve", ""},
		{"unshelve weak heat", "unshelve", ""}, {"unshelve", "", "which alarm"},
		{"unshelve OFF PLAN now", "", "which alarm"}, {"shelve", "", "OFF PLAN, WEAK HEAT, BOARD WARM"},
		{"shelve OFF PLANE 10m x", "", "which alarm"}, {"shelve OFF PLAN ten x", "", "how long"},
		{"shelve OFF PLAN 10 x", "", "no unit"}, {"shelve OFF PLAN 10m ", "", "shelve why"},
		{"gains 0.03/C 400", "", "no unit"}, {"gains 0.03/C 400s 2s x", "", "x"},
	} {
		a, err := parseAsk(c.line)
		if c.wrong != "" {
			require.ErrorContains(t, err, c.wrong, c.line)
			continue
		}
		require.NoError(t, err, c.line)
		require.Equal(t, c.kind, string(a.Kind), c.line)
	}
	a, err := parseAsk("set 400F")
	require.NoError(t, err)
	require.InDelta(t, float64(temp.F(400)), a.TempC, 1e-9)
	a, err = parseAsk("duty 30.5% 5m")
	require.NoError(t, err)
	require.Equal(t, []any{305, 300.0}, []any{a.DutyPM, a.Seconds})
	a, err = parseAsk("shelve off plan 1m30s the  door is open")
	require.NoError(t, err)
	require.Equal(t, control.Ask{Kind: control.AskShelve, By: "typed", Code: "off-plan", Seconds: 90,
		Text: "the  door is open"}, a)
	a, err = parseAsk("gains 0.03/F 400s 25s 0.5")
	require.NoError(t, err)
	require.InDelta(t, 0.054, a.Gains.Kp, 1e-12)
	require.Equal(t, []float64{400, 25, 0.5}, []float64{a.Gains.TiS, a.Gains.TdS, a.Gains.Weight})
}

// TestWatchLinesCountWhatIsShelved: in what makes a new line only by name, or each minute would.
func TestWatchLinesCountWhatIsShelved(t *testing.T) {
	s := control.Snapshot{Info: &control.Info{Run: "r"}, T: time.Minute,
		Hidden: []control.Hidden{{Code: "off-plan", Word: "OFF PLAN", State: "G", Reason: "the door is open",
			Until: 13 * time.Minute}}}
	state, figures := standing(s)
	require.NotContains(t, state, "OFF PLAN")
	require.Contains(t, figures, "; 1 shelved: OFF PLAN, 12 min left, the door is open")
}
