package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/keeper"
	"strawline/probe/temp"
	"strawline/profiles/steel"
)

// TestTheModelIsKeptAndUsed: what a run with a probe at its blade found is in found.toml with its
// day and run, and the next run's blade goes by it and says so; a simulated run leaves nothing.
func TestTheModelIsKeptAndUsed(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "shop.toml")
	require.NoError(t, os.WriteFile(path, []byte(`[[board]]
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
fan = true
`), 0o644))
	h := &host{}
	b, err := h.shopFiles(path)
	require.NoError(t, err)
	o, err := b.oven("")
	require.NoError(t, err)
	require.Equal(t, &control.BladeInfo{Fan: true}, b.bladeIn(o))

	day := time.Date(2026, 11, 2, 12, 0, 0, 0, time.UTC)
	r := keeper.Result{Last: control.Snapshot{Info: &control.Info{Simulated: true}, Wall: day}}
	plate, blade := steel.Blade(4, steel.Oxidised), temp.C(22)
	for s := range 1800 {
		r.Fit.Add(plate, 200, blade, time.Duration(s)*time.Second)
		blade = plate.After(blade, steel.Oven(200, 12), time.Second)
	}
	require.NoError(t, b.convection("kiln", r, "knife-3"))
	require.NoFileExists(t, filepath.Join(dir, "found.toml"), "a simulated run says nothing of a shop")

	r.Last.Info.Simulated = false
	require.NoError(t, b.convection("kiln", r, "knife-3"))
	b, err = h.shopFiles(path)
	require.NoError(t, err)
	in := b.bladeIn(o)
	require.InDelta(t, 12, in.ConvectionW, 0.1)
	require.Equal(t, "found 2026-11-02 in run knife-3", in.From)
	f := bladeFlags{steel: "1084", thick: lengthValue{mm: 4, given: true}}
	require.Equal(t, in.From, f.info(h, in).From)
	require.Equal(t, 4.0, f.info(h, in).ThickMM)
}
