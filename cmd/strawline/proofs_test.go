package main

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/keeper"
	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/thermocouple"
)

// TestProofsOfAFoundFile: what a proof wrote is what the next run's head says.
func TestProofsOfAFoundFile(t *testing.T) {
	day := func(d int) shop.Date { return shop.Date{Year: 2026, Month: 11, Day: d} }
	entry := func(d int, r shop.Proven, port string) shop.Entry[shop.Proof] {
		return shop.Entry[shop.Proof]{Of: "temper", Date: day(d), Value: shop.Proof{Result: r,
			Board: "straw-uno", Limit: 260, Port: port}}
	}
	dir := t.TempDir()
	h := &host{env: []string{"XDG_CONFIG_HOME=" + dir}}
	path := shop.FoundPath(h.shopPath(""))
	keep := func(change func(*shop.Found)) {
		require.NoError(t, shop.NewStore(path).Update(func(f *shop.Found) error {
			change(f)
			return nil
		}))
	}
	assert.Equal(t, &control.Proofs{}, h.proofsOn("/dev/one"), "never")
	keep(func(f *shop.Found) {
		f.ProofLimits = shop.PutProof(f.ProofLimits, entry(2, shop.Passed, "/dev/one"))
		f.ProofLimits = shop.PutProof(f.ProofLimits, entry(9, shop.NotDone, "/dev/one"))
		f.ProofDeadMen = shop.PutProof(f.ProofDeadMen, entry(9, shop.Failed, "/dev/one"))
	})
	want := &control.Proofs{
		Limit:   control.ProofInfo{Date: "2026-11-02", Board: "straw-uno", LimitC: 260},
		DeadMan: control.ProofInfo{Failed: "2026-11-09"}}
	assert.Equal(t, want, h.proofsOn("/dev/one"))
	assert.Equal(t, &control.Proofs{}, h.proofsOn("/dev/two"), "another port")

	keep(func(f *shop.Found) {
		f.Lowered = shop.Put(f.Lowered, shop.Entry[shop.Lowered]{Of: "temper", Date: day(9),
			Value: shop.Lowered{Port: "/dev/one", Board: "straw-uno", To: 95, Before: probe.Settings{
				Guard: 1, Limit: 260, Window: 2 * time.Second, MainsHz: 50}}})
	})
	p := h.proofsOn("/dev/one")
	assert.Contains(t, p.Lowered, "a proof of 2026-11-09 lowered the board's limit to 95 °C (203 °F)")
	s := &session{h: h, cfg: keeper.Config{Proofs: p}}
	assert.ErrorContains(t, s.prepareFault(t.Context(), assert.AnError), "has not seen it put back: "+
		"strawline probes proof does it")

	var said bytes.Buffer
	h.err = &said
	b := &probe.Board{Name: "straw-uno", Settings: probe.Settings{Guard: 1, Limit: 95,
		Window: 2 * time.Second, MainsHz: 50}}
	require.NoError(t, h.backByHand("/dev/two", b))
	assert.Empty(t, said.String(), "another port")
	require.NoError(t, h.backByHand("/dev/one", b))
	assert.Contains(t, said.String(), "strawline probes board --port /dev/one --limit 260.00C")
	assert.NotEmpty(t, h.proofsOn("/dev/one").Lowered)
	b.Settings.Limit = 260
	require.NoError(t, h.backByHand("/dev/one", b))
	assert.Empty(t, h.proofsOn("/dev/one").Lowered, "a person has put it back")

	require.NoError(t, os.WriteFile(filepath.Join(filepath.Dir(path), "found.toml"),
		[]byte("schema = 9\n"), 0o600))
	assert.Nil(t, h.proofsOn("/dev/one"), "nothing is claimed")
}

// TestHandWordsGiveTheSameLimit: two decimals are enough for every quarter degree of every chip.
func TestHandWordsGiveTheSameLimit(t *testing.T) {
	for _, chip := range []string{"MAX31855K", "MAX31855S", "MAX31855T", "MAX6675", "MAX31856K"} {
		for q := int16(1); q <= 8191; q++ {
			is := thermocouple.FromChipQuarters(chip, q, 25)
			if math.IsNaN(float64(is)) {
				continue
			}
			var v tempValue
			require.NoError(t, v.Set(fmt.Sprintf("%.2fC", float64(is))))
			require.Equal(t, q, thermocouple.ChipQuarters(chip, v.c, 25), "%s %v", chip, is)
		}
	}
}

// TestATuningTestSaysThatTheBoardFailedItsProof, before it asks.
func TestATuningTestSaysThatTheBoardFailedItsProof(t *testing.T) {
	for _, p := range []*control.Proofs{nil, {}, {Limit: control.ProofInfo{Failed: "2026-11-20"}}} {
		var said strings.Builder
		h := &host{in: strings.NewReader("no\n"), err: &said}
		err := h.mayHeat(keeper.Config{Test: &control.TestInfo{TargetC: 200, MostS: 3600}, Proofs: p})
		require.ErrorContains(t, err, "nothing was heated")
		assert.Equal(t, p.Failed(), strings.Contains(said.String(), "limit FAILED its last proof"))
	}
}
