package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/keeper"
	"strawline/control/runlog"
	"strawline/control/shop"
	"strawline/probe/belief"
	"strawline/probe/lines"
	"strawline/probe/modbus"
	"strawline/probe/temp"
)

const shopText = `unit = "F"
[[board]]
name = "temper"
kind = "lines"
port = "PORT"
decimal = "."
columns = [2, "blade"]
cold_column = 4
[[board]]
name = "module"
kind = "modbus"
port = "/dev/none"
baud = 19200
parity = "even"
[[board.channel]]
address = 17
register = 8
scale = 0.1
unit = "F"
[[probe]]
name = "knife"
board = "temper"
channel = 1
use = "blade"
[[probe]]
name = "air"
board = "temper"
channel = 2
use = "oven air"
[probe.correction]
offset = "-1.5C"
date = 2026-11-01
source = "ice point"
[[oven]]
name = "kiln"
limit = "500F"
board = "temper"
probes = ["air", "knife"]
`

func writeShop(t *testing.T, port string) string {
	path := filepath.Join(t.TempDir(), "shop.toml")
	require.NoError(t, os.WriteFile(path, []byte(strings.Replace(shopText, "PORT", port, 1)), 0o600))
	return path
}

func TestAShopFileSaysWhatARunIsHeldWith(t *testing.T) {
	h := &host{}
	b, err := h.shopFiles(writeShop(t, "/dev/x"))
	require.NoError(t, err)
	o, err := b.oven("")
	require.NoError(t, err)
	probes, board, err := b.probesOf(o)
	require.NoError(t, err)
	require.Equal(t, "temper", board.Name)
	require.Equal(t, []string{"knife", "air"}, []string{probes[0].Name, probes[1].Name})
	require.InDelta(t, -1.5, b.correction(probes[1]).OffsetC, 1e-9)
	require.Zero(t, b.correction(probes[0]))

	_, cfg, err := wire(board)
	require.NoError(t, err)
	require.Equal(t, []lines.Column{{}, {Role: lines.Hot, Channel: 1},
		{Label: "blade", Role: lines.Hot, Channel: 2}, {Role: lines.Cold}}, cfg.Sketch.Hint.Columns)
	require.False(t, *cfg.Sketch.Hint.DecimalComma)

	_, cfg, err = wire(b.shop.Board("module"))
	require.NoError(t, err)
	m := cfg.Modules.Channels[0]
	require.Equal(t, modbus.ReadInput, m.Function)
	require.Equal(t, temp.Fahrenheit, m.In)
	require.InDelta(t, 0.1, m.Format.Scale, 1e-9)

	run, after, err := b.run(&runFlags{}, "knife")
	require.NoError(t, err)
	require.True(t, run.NoHeater, "lines take no duty")
	require.Equal(t, 2, run.Lead)
	require.Equal(t, []string{string(shop.Blade), string(shop.OvenAir)}, run.Roles)
	require.InDelta(t, 260, float64(run.Limit), 0.01)

	// What a run did to its probes is added up, and a simulated one does not count.
	res := keeper.Result{Wear: []belief.Wear{{}, {Warm: time.Hour, Peak: 210, Seen: true}},
		Last: control.Snapshot{Info: &control.Info{}, Wall: time.Date(2026, 11, 20, 9, 0, 0, 0, time.UTC)}}
	require.NoError(t, after(res))
	require.NoError(t, after(res))
	res.Last.Info.Simulated = true
	require.NoError(t, after(res))
	again, err := h.shopFiles(b.path)
	require.NoError(t, err)
	require.Equal(t, []shop.Entry[shop.Wear]{{Of: "air", Date: shop.Date{Year: 2026, Month: 11, Day: 20},
		Run: "knife", Value: shop.Wear{Warm: 2 * time.Hour, Peak: 210}}}, again.found.Wears)
}

func TestAnOvenThatTheShopFileDoesNotHave(t *testing.T) {
	h := &host{}
	b, err := h.shopFiles(writeShop(t, "/dev/x"))
	require.NoError(t, err)
	_, err = b.oven("kin")
	require.ErrorContains(t, err, "did you mean kiln?")
	require.Equal(t, exitConfig, asFault(err).code)
	_, err = h.shopFiles(filepath.Join(t.TempDir(), "none.toml"))
	require.Equal(t, exitNoInput, asFault(err).code)
}

// TestAWholeTemperWithoutAHeater is a whole two-cycle temper by a plain sketch's lines, through
// a pseudo-terminal, against an oven that swings by 25 °F round its own thermostat.
func TestAWholeTemperWithoutAHeater(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	run := func(out string, args ...string) string {
		cmd := exec.Command(built, append([]string{"demo", "--no-heater", "--plain", "--seed", "11",
			"--out", out}, args...)...)
		text, err := cmd.CombinedOutput()
		require.NoError(t, err, string(text))
		return string(text)
	}
	a, b := filepath.Join(dir, "a"), filepath.Join(dir, "b")
	text := run(a, "--pace", "max")
	run(b, "--pace", "1000000")
	fa, err := os.ReadFile(a)
	require.NoError(t, err)
	fb, err := os.ReadFile(b)
	require.NoError(t, err)
	require.Equal(t, fa, fb, "the pseudo-terminal gives the same run file")
	require.Equal(t, 2, strings.Count(text, "set your oven to 400"))
	require.Equal(t, 2, strings.Count(text, "turn your oven off; step"), "after each soak")
	require.NotContains(t, text, "heat off commanded")

	f, err := runlog.Open(a)
	require.NoError(t, err)
	defer f.Close()
	require.True(t, f.Info.Shop.NoHeater)
	records, err := f.All()
	require.NoError(t, err)
	var soaked []float64
	step, low, high := 0, 1000.0, 0.0
	for _, r := range records {
		if e := r.Event; e != nil {
			switch e.Kind {
			case "soaked":
				soaked = append(soaked, *e.SpanS)
			case "step":
				step = *e.Step
			case "trip", "doubt", "gap":
				t.Errorf("%s: %s", e.Kind, e.Text)
			}
			continue
		}
		s := r.Sample
		require.Zero(t, s.Duty)
		if step == 2 && s.Soak != nil && *s.Soak > 600 && s.Temp[0] != nil {
			low, high = min(low, *s.Temp[0]), max(high, *s.Temp[0])
		}
	}
	require.Len(t, soaked, 2)
	for _, s := range soaked {
		require.InDelta(t, 7200, s, 2)
	}
	require.Greater(t, high-low, 10.0, "the oven does swing, and the probe lags it")
}

// TestAShopFilesHeaterComesWithItsModelAndOutput: what a run gets of an oven that we heat.
func TestAShopFilesHeaterComesWithItsModelAndOutput(t *testing.T) {
	const heated = `[[board]]
name = "b"
kind = "strawline board"
port = "/dev/x"
[[probe]]
name = "air"
board = "b"
use = "oven air"
[[oven]]
name = "kiln"
limit = "260C"
board = "b"
heater = true
[oven.model]
rise = "600C"
time_constant = "10m"
second = "24s"
dead_time = "6s"
`
	run := func(more string) keeper.Config {
		path := filepath.Join(t.TempDir(), "shop.toml")
		require.NoError(t, os.WriteFile(path, []byte(heated+more), 0o600))
		b, err := (&host{}).shopFiles(path)
		require.NoError(t, err)
		cfg, _, err := b.run(&runFlags{}, "knife")
		require.NoError(t, err)
		return cfg
	}
	cfg := run("[oven.output]\nwindow = \"4s\"\nmains = \"60Hz\"\n")
	require.Equal(t, &control.ModelInfo{RiseC: 600, SlopeCS: 1, TimeS: 600, SecondS: 24, DeadS: 6,
		From: "from shop.toml"}, cfg.Model)
	require.Equal(t, 4*time.Second, cfg.Window)
	require.Equal(t, 60, cfg.MainsHz)
	require.Nil(t, cfg.Contactor)
	require.Equal(t, &control.Proofs{}, cfg.Proofs, "never")
	cfg = run("[oven.output]\nkind = \"contactor\"\ndeadband = \"4C\"\nleast_on = \"30s\"\n" +
		"least_off = \"1m\"\n")
	require.Equal(t, &control.Contactor{DeadbandC: 4, MinOnS: 30, MinOffS: 60}, cfg.Contactor)
}
