package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/temp"
)

const proofShop = `[[board]]
name = "temper"
kind = "strawline board"
port = "/dev/one"
[[board]]
name = "spare"
kind = "strawline board"
port = "/dev/two"
[[board]]
name = "sketch"
kind = "lines"
port = "/dev/three"
[[probe]]
name = "oven-air"
board = "temper"
use = "oven air"
[[oven]]
name = "kiln"
limit = "500F"
board = "temper"
heater = true
probes = ["oven-air"]
[oven.output]
kind = "contactor"
deadband = "3C"
least_on = "30s"
least_off = "60s"
`

func TestProofFindsItsBoard(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "shop.toml")
	require.NoError(t, os.WriteFile(path, []byte(proofShop), 0o600))
	wired := func(f proofFlags, args ...string) (*proving, error) {
		f.shop = path
		c := &proving{talk: &talk{h: &host{err: &bytes.Buffer{}, env: []string{"HOME=" + dir}},
			clock: realClock()}, f: &f}
		_, err := c.wire(args)
		return c, err
	}
	c, err := wired(proofFlags{}, "temper")
	require.NoError(t, err)
	assert.Equal(t, []string{"temper", "/dev/one", shop.FoundPath(path)},
		[]string{c.of, c.path, c.file})
	assert.Equal(t, 1000, c.part(250), "a contactor gets the whole heat or none")
	require.NotNil(t, c.heater)
	assert.NotNil(t, c.heater.cfg.Contactor)
	assert.Equal(t, temp.F(500), c.heater.cfg.Limit)
	assert.Equal(t, temp.C(100), c.heatAt())

	c, err = wired(proofFlags{port: "/dev/four", found: filepath.Join(dir, "other.toml")}, "spare")
	require.NoError(t, err)
	assert.Equal(t, []string{"spare", "/dev/four", filepath.Join(dir, "other.toml")},
		[]string{c.of, c.path, c.file})
	assert.Nil(t, c.heater, "no oven's heat hangs on it")
	assert.Equal(t, 250, c.part(250))

	for _, bad := range []struct {
		args  []string
		f     proofFlags
		code  int
		words string
	}{
		{nil, proofFlags{}, exitUsage, "several boards; say which: strawline probes proof temper"},
		{[]string{"tempr"}, proofFlags{}, exitConfig, "did you mean temper?"},
		{[]string{"sketch"}, proofFlags{}, exitConfig, "takes no duty"},
		{[]string{"spare"}, proofFlags{oven: "kiln"}, exitConfig, "heats none of that name"},
	} {
		_, err := wired(bad.f, bad.args...)
		require.Error(t, err)
		assert.Equal(t, bad.code, asFault(err).code)
		assert.Contains(t, err.Error(), bad.words)
	}
}

func TestProofsOptions(t *testing.T) {
	usual := func() proofFlags { return proofFlags{pace: paceValue{factor: demoPace}} }
	for words, spoil := range map[string]func(*proofFlags) []string{
		"too much": func(*proofFlags) []string { return []string{"a", "b"} },
		"--simulated is the demo's own": func(f *proofFlags) []string {
			f.simulated = true
			return []string{"temper"}
		},
		"are for --simulated":         func(f *proofFlags) []string { f.seed.given = true; return nil },
		"a board without a shop file": func(f *proofFlags) []string { f.port, f.shop = "x", "y"; return nil },
		"--contactor is for --port":   func(f *proofFlags) []string { f.contactor = true; return nil },
		"60 °C is the least, so that ": func(f *proofFlags) []string {
			require.NoError(t, f.at.Set("50C"))
			return nil
		},
	} {
		f := usual()
		err := f.check(spoil(&f))
		require.Error(t, err, words)
		assert.Contains(t, err.Error(), words)
		assert.Equal(t, exitUsage, asFault(err).code)
	}
	f := usual()
	assert.NoError(t, f.check(nil))
}

// A simulated walk never writes into the found file of a shop.
func TestProofKeepsSimulatedApart(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "shop.toml"), []byte(proofShop), 0o600))
	f := proofFlags{simulated: true, found: filepath.Join(dir, "found.toml")}
	c := &proving{talk: &talk{h: &host{env: []string{"HOME=" + dir}}, clock: realClock()}, f: &f}
	_, err := c.wire(nil)
	require.ErrorContains(t, err, "that is the found file of a shop")

	f.found = ""
	clean, err := c.wire(nil)
	require.NoError(t, err)
	defer clean()
	assert.Nil(t, c.store)
	assert.NoError(t, c.keep(nil))
}

// TestProofTakesTheHeatAway: each doubt takes a commanded duty away by itself.
func TestProofTakesTheHeatAway(t *testing.T) {
	for words, spoil := range map[string]func(*proofWalk){
		"":              func(*proofWalk) {},
		"rose above":    func(w *proofWalk) { w.c.top = 100 },
		"time was over": func(w *proofWalk) { w.c.until = w.c.clock.Now() },
		"link to the":   func(w *proofWalk) { w.board.Pull(true) },
		"host silent":   func(w *proofWalk) { w.c.mute = true },
	} {
		w := newProofWalk(t, t.TempDir(), warmBoard)
		require.NoError(t, w.c.reach())
		w.c.heat(100, 0, 130, time.Minute)
		for range 8 {
			w.c.look()
		}
		assert.Equal(t, 100, w.c.duty)
		spoil(w)
		for range 16 {
			w.c.look()
		}
		assert.Contains(t, w.c.cut, words)
		assert.Equal(t, words == "", w.c.duty == 100, words)
		w.c.close()
	}
	c := newProofWalk(t, t.TempDir(), warmBoard).c
	c.link.Heats, c.top, c.until = true, 130, time.Minute
	c.last = probe.Reading{Hot: 100, At: time.Second}
	assert.Empty(t, c.doubt(2*time.Second+freshFor-time.Second))
	assert.Equal(t, "no reading for 1.5s", c.doubt(2*time.Second+freshFor))
	c.last.Latches, c.allow = probe.LatchHighLimit|probe.LatchOpen, probe.LatchHighLimit
	assert.Equal(t, "the board says open", c.doubt(2*time.Second))
	c.last.Latches = probe.LatchHighLimit
	assert.Empty(t, c.doubt(2*time.Second))
	c.last.Fault = probe.FaultOpen
	assert.Equal(t, "the guard channel's probe is open", c.doubt(2*time.Second))
}
