package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/shop"
	"strawline/control/tune"
)

// tuneCommand runs the program in a home of its own.
func tuneCommand(t *testing.T, home, stdin string, args ...string) (out, bad string, code int) {
	t.Helper()
	var o, b bytes.Buffer
	code = run(context.Background(), args, strings.NewReader(stdin), &o, &b,
		[]string{"XDG_CONFIG_HOME=" + home, "XDG_DATA_HOME=" + home, "HOME=" + home})
	return o.String(), b.String(), code
}

// TestTuneOfASimulatedOven goes the whole way: a test on a simulated oven, its run file looked at
// again, what is kept, and a demo that takes it. The reference study has 0.966 °C/s and 29.4 s of a
// cold start of oven A, and 526 °C/493 s and 28.8 s of a step test.
func TestTuneOfASimulatedOven(t *testing.T) {
	t.Parallel()
	home := t.TempDir()
	file, found := filepath.Join(home, "t.jsonl"), filepath.Join(home, "demo-found.toml")
	test := []string{"tune", "--plain", "--pace", "max", "--simulated", "--seed", "3"}
	lines, bad, code := tuneCommand(t, home, "", append(test, "--out", file)...)
	require.Equal(t, exitOK, code, bad)
	for _, want := range []string{"test: done; the heat-up alone carried a model", "dead time",
		"recommended: Kp", "bolder: Kp", "calmer: Kp", "sensitivity peak"} {
		require.Contains(t, lines, want)
	}
	_, verdict, _ := strings.Cut(lines, "closed: the end was answered\n")
	again, bad, code := tuneCommand(t, home, "", "tune", "--from", file)
	require.Equal(t, exitOK, code, bad)
	require.Equal(t, verdict, again, "the run file says the same")

	out, bad, code := tuneCommand(t, home, "", "tune", "--from", file, "--json", "--all", "--found", found,
		"--take", "calmer")
	require.Equal(t, exitOK, code, bad)
	var j tuneJSON
	require.NoError(t, json.Unmarshal([]byte(out), &j))
	require.True(t, j.Simulated && j.RawReadings)
	assert.Greater(t, j.Model.SlopeCS, 0.9*0.966)
	assert.Less(t, j.Model.SlopeCS, 1.1*526/493)
	assert.InDelta(t, 29.4, j.Model.DeadS, 5)
	require.Len(t, j.Rules, len(tune.Rules()))
	kept, err := shop.NewStore(found).Load()
	require.NoError(t, err)
	require.Len(t, kept.Gains, 1)
	assert.Equal(t, "simulated-oven-a", kept.Gains[0].Of)
	assert.InEpsilon(t, j.Calmer.KpPerC, kept.Gains[0].Value.Kp, 1e-5)
	assert.InEpsilon(t, j.Model.SlopeCS, modelInfo(shop.PickModel(&shop.Shop{}, kept,
		"simulated-oven-a")).SlopeCS, 1e-4)

	run := filepath.Join(home, "d.jsonl")
	_, bad, code = tuneCommand(t, home, "", "demo", "--plain", "--pace", "max", "--found", found,
		"--out", run)
	require.Equal(t, exitOK, code, bad)
	require.Empty(t, bad, "the oven is as its model says")
	info, records, err := readRun(run)
	require.NoError(t, err)
	assert.InEpsilon(t, j.Calmer.KpPerC, info.Gains.Kp, 1e-5)
	assert.InEpsilon(t, j.Model.DeadS, info.Model.DeadS, 1e-4)
	assert.Contains(t, info.Gains.From, "found 2026-01-05")

	// After the run: with half the power once found, with no model, and where nothing is heated.
	half := *info.Model
	half.SlopeCS, half.RiseC = half.SlopeCS/2, half.RiseC/2
	info.Model = &half
	assert.Contains(t, learned(info, records, run), "it heats faster")
	info.Model = nil
	assert.Empty(t, learned(info, records, run), "a simulated run is nothing to keep by itself")
	info.Simulated = false
	assert.Contains(t, learned(info, records, run), "tune --from "+run)
	info.Shop.NoHeater = true
	assert.Empty(t, learned(info, records, run))
}

// A run that carries no model is refused in one line, and so is whatever would let a simulated
// oven into a shop's figures or heat without a word.
func TestTuneRefuses(t *testing.T) {
	t.Parallel()
	home := t.TempDir()
	folder := filepath.Join(home, "strawline")
	require.NoError(t, os.Mkdir(folder, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "shop.toml"), []byte(""), 0o644))
	held := filepath.Join(home, "held.jsonl")
	_, bad, code := tuneCommand(t, home, "", "demo", "--plain", "--pace", "max", "--no-heater", "--out", held)
	require.Equal(t, exitOK, code, bad)
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"--from", held}, exitData, "has no heat-up"},
		{[]string{"--from", filepath.Join(home, "none")}, exitNoInput, "none"},
		{[]string{"--from", held, "--swing"}, exitUsage, "heats nothing"},
		{[]string{"--simulated", "--keep"}, exitUsage, "no figure of your shop"},
		{[]string{"--simulated", "--plain", "--pace", "max", "--at", "245C"}, exitConfig, "below the"},
		{[]string{"--seed", "3", "--port", "/dev/null"}, exitUsage, "simulated oven"},
		{[]string{"--port", "/dev/null", "--as-root"}, exitNoInput, "nothing was heated"},
		{[]string{"--simulated", "--take", "bolder"}, exitUsage, "--keep"},
	} {
		_, bad, code := tuneCommand(t, home, "", append([]string{"tune"}, c.args...)...)
		assert.Equal(t, c.code, code, "%v: %s", c.args, bad)
		assert.Contains(t, bad, c.want)
		last := strings.TrimSpace(bad[strings.LastIndex(strings.TrimSpace(bad), "\n")+1:])
		assert.True(t, strings.Contains(last, "strawline: tune:"), last)
	}
}

// The found file of a shop takes nothing simulated, by whatever name it is reached.
func TestNothingSimulatedGoesIntoAShop(t *testing.T) {
	home := t.TempDir()
	usual := filepath.Join(home, "strawline", "shop.toml")
	other := filepath.Join(home, "other")
	require.NoError(t, os.MkdirAll(filepath.Dir(usual), 0o755))
	require.NoError(t, os.Mkdir(other, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(other, "shop.toml"), nil, 0o644))
	link := filepath.Join(home, "link.toml")
	require.NoError(t, os.WriteFile(filepath.Join(other, "found.toml"), []byte("schema = 1\n"), 0o644))
	require.NoError(t, os.Symlink(filepath.Join(other, "found.toml"), link))
	for path, want := range map[string]bool{
		filepath.Join(home, "strawline", "found.toml"): true, filepath.Join(other, "found.toml"): true,
		link: true, filepath.Join(home, "demo.toml"): false,
		filepath.Join(home, "found.toml"): false,
	} {
		require.Equal(t, want, besideShop(path, usual), path)
	}
}

func TestWhatIsKept(t *testing.T) {
	c := concluded{path: "/runs/20261125-0900-tune.jsonl",
		info: control.Info{Start: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)},
		ev:   control.Evidence{HoldPM: 260, HoldC: 200},
		found: tune.Verdict{Found: tune.Found{Sigma: 0.3, Model: tune.Model{Kind: tune.Second,
			K: 820, T: 673, T2: 27.5, L: 5.8, Half: tune.Half{K: 1090, T: 926}}}}}
	taken := tune.Choice{Report: tune.Report{OK: true, Gains: tune.Gains{K: 0.0369061, Ti: 138.479,
		Td: 22.026, B: 1}}}
	m, g, err := entriesOf(c, "kiln", taken, "recommended")
	require.NoError(t, err)
	require.Equal(t, shop.Model{Slope: 1.21842, Second: 27500 * time.Millisecond,
		DeadTime: 5800 * time.Millisecond, Hold: 0.26, HoldAt: 200, Noise: 0.3}, m.Value,
		"an end that is not told is not kept")
	require.Equal(t, "20261125-0900-tune", g.Run)
	require.Equal(t, "2026-11-25", g.Date.String())
	require.Equal(t, 0.0369061, g.Value.Kp)
	c.found.Model.Half = tune.Half{K: 20, T: 30}
	m, _, err = entriesOf(c, "kiln", taken, "recommended")
	require.NoError(t, err)
	require.Equal(t, 673*time.Second, m.Value.TimeConstant)
	require.Zero(t, m.Value.Slope)
	taken.Gains.Ti = math.Inf(1)
	_, _, err = entriesOf(c, "kiln", taken, "recommended")
	require.Error(t, err)
	for in, want := range map[string]string{"simulated oven of my B.toml": "simulated-oven-of-my-b-toml",
		"Ünï": "n", "": "oven"} {
		require.Equal(t, want, nameOf(in))
	}
}

// What was kept of a real run's oven is what the next run is given; what a person wrote wins, and
// is said to.
func TestWhatIsKeptIsUsed(t *testing.T) {
	home := t.TempDir()
	file := filepath.Join(home, "shop.toml")
	text := "unit = \"C\"\n[[board]]\nname = \"bench\"\nkind = \"strawline board\"\nport = \"/dev/ttyX\"\n" +
		"[[probe]]\nname = \"oven-air\"\nboard = \"bench\"\nuse = \"oven air\"\n" +
		"[[oven]]\nname = \"kiln\"\nlimit = \"250C\"\nboard = \"bench\"\nheater = true\n"
	require.NoError(t, os.WriteFile(file, []byte(text), 0o644))
	c := concluded{path: "/runs/r1.jsonl", info: control.Info{
		Start: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC), Shop: control.Shop{Oven: "kiln"}},
		found: tune.Verdict{Found: tune.Found{Sigma: 0.3, Model: tune.Model{Kind: tune.Integrating,
			Kv: 0.966, L: 29.4}}, Best: tune.Choice{Report: tune.Report{OK: true,
			Gains: tune.Gains{K: 0.02, Ti: 240, Td: 10, B: 1}}}}}
	var said bytes.Buffer
	h := &host{in: strings.NewReader(""), out: &said, err: &said}
	f := &tuneFlags{shop: file, take: wordValue{word: takeBest}}
	_, err := h.keepTuned(f, c)
	require.NoError(t, err)
	require.Empty(t, said.String())
	b, err := h.shopFiles(file)
	require.NoError(t, err)
	cfg, _, err := b.run(&runFlags{}, "next")
	require.NoError(t, err)
	require.Equal(t, control.Gains{Kp: 0.02, TiS: 240, TdS: 10, Weight: 1,
		From: "found 2026-11-25 in run r1"}, cfg.Gains)
	require.Equal(t, &control.ModelInfo{SlopeCS: 0.966, DeadS: 29.4, NoiseC: 0.3,
		From: "found 2026-11-25 in run r1"}, cfg.Model)

	text += "[oven.gains]\nkp = \"0.03/C\"\nti = \"100s\"\n"
	require.NoError(t, os.WriteFile(file, []byte(text), 0o644))
	_, err = h.keepTuned(f, c)
	require.NoError(t, err)
	require.Contains(t, said.String(), "a set of gains stands for kiln")
	c.info.Simulated = true
	_, err = h.keepTuned(f, c)
	require.ErrorContains(t, err, "no figure of your shop")
}
