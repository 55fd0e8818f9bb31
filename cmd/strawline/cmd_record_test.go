package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/keeper"
	"strawline/control/runlog"
	"strawline/probe/temp"
	"strawline/profiles"
)

// temperedRun writes a run file of one soak of two hours at 400 °F with a sample a second.
func temperedRun(t *testing.T, dir, name, steel string, simulated bool) string {
	t.Helper()
	info := control.Info{Schema: runlog.Schema, Run: name, Unit: "F", Simulated: simulated,
		Start: time.Date(2026, 11, 2, 8, 0, 0, 0, time.UTC),
		Shop:  control.Shop{Oven: "kiln", LimitC: 250, Channels: []string{"oven air"}},
		Profile: profiles.Profile{Name: "one", Unit: temp.Fahrenheit, Limit: 250,
			Steps: []profiles.Step{{Kind: profiles.Soak, To: temp.F(400), For: 2 * time.Hour,
				Band: temp.DeltaF(10)}}},
		Blade: &control.BladeInfo{Steel: steel}}
	path := filepath.Join(dir, name+".jsonl")
	w, err := runlog.Create(path, info)
	require.NoError(t, err)
	step, c := 0, 204.44
	records := []control.Record{{Event: &control.Event{Kind: control.EvStep, Step: &step}}}
	for s := 0; s <= 7200; s += 2 {
		records = append(records, control.Record{Sample: &control.Sample{
			T: time.Duration(s) * time.Second, Temp: []*float64{&c}}})
	}
	for _, r := range records {
		require.NoError(t, w.Append(r))
	}
	require.NoError(t, w.Close())
	return path
}

func ran(home string, args ...string) (out, bad string, code int) {
	var o, b bytes.Buffer
	code = run(context.Background(), args, nil, &o, &b, []string{"HOME=" + home})
	return o.String(), b.String(), code
}

// TestTheShopsOwnHardness: three measured hardnesses of real runs stand beside the table's curve
// with count, mean difference and spread, and change none of its figures; a simulated run and a
// second note of the same run do not count as more.
func TestTheShopsOwnHardness(t *testing.T) {
	home := t.TempDir()
	runs := filepath.Join(home, ".local", "share", "strawline", "runs")
	require.NoError(t, os.MkdirAll(runs, 0o700))
	before, _, _ := ran(home, "steel", "temper", "1084", "--at", "400F", "--for", "2h")
	for i, n := range []struct {
		name, hrc string
		simulated bool
	}{{"a", "60", false}, {"b", "60.5", false}, {"sim", "50", true}, {"b", "61HRC", false}} {
		if n.name != "b" || i == 1 {
			temperedRun(t, runs, n.name, "1084", n.simulated)
		}
		out, bad, code := ran(home, "record", "note", n.name, "--hrc", n.hrc)
		require.Equal(t, exitOK, code, bad)
		require.Contains(t, out, "where the table has 61.5 HRC (58.5 to 64)")
		if n.simulated {
			require.Contains(t, out, "SIMULATED, so it does not count")
		}
		require.NotContains(t, out, "measured here")
	}
	two, _, _ := ran(home, "steel", "temper", "1084", "--at", "400F", "--for", "2h")
	require.Equal(t, before, two, "two say nothing yet")

	path := temperedRun(t, runs, "c", "1084", false)
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	out, bad, code := ran(home, "record", "note", path, "--hrc", "62")
	require.Equal(t, exitOK, code, bad)
	// 60, 61 and 62 less 61.46, the middle of the curve: -0.46 on average, 1.0 apart.
	const says = "3 measured here, on average -0.5 HRC from the curve, spread 1.0; not mixed into it"
	require.Contains(t, out, says)
	now, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, kept, now, "the run file stays as it is")
	for _, args := range [][]string{{"steel", "show", "1084"},
		{"steel", "temper", "1084", "--at", "400F", "--for", "2h"}} {
		out, _, _ = ran(home, args...)
		require.Contains(t, out, says)
	}
	out, _, _ = ran(home, "steel", "temper", "1084", "--at", "400F", "--json")
	var answer temperAnswer
	require.NoError(t, json.Unmarshal([]byte(out), &answer))
	require.Equal(t, experience{3, -0.5, 1}, *answer.Shop)
	require.Equal(t, 61.5, answer.HRC, "the curve is as it was")
	other, _, _ := ran(home, "steel", "show", "1095")
	require.NotContains(t, other, "measured here")
}

func TestRecordShow(t *testing.T) {
	home := t.TempDir()
	path := temperedRun(t, home, "knife", "1084", true)
	out, bad, code := ran(home, "record", "show", path)
	require.Equal(t, exitOK, code, bad)
	for _, want := range []string{"SIMULATED knife, 2026-11-02 08:00", "like 2 h 00 at 400 °F",
		"the oven's air", "61.5 HRC (58.5 to 64)"} {
		require.Contains(t, out, want)
	}
	out, _, _ = ran(home, "record", "show", path, "--json")
	var a recordAnswer
	require.NoError(t, json.Unmarshal([]byte(out), &a))
	require.InDelta(t, 8.74, a.Dose.P, 0.005) // 477.594 K (18 + log10 2) / 1000
	require.Equal(t, []float64{61.5, 58.5, 64}, []float64{a.Dose.HRC, a.LowHRC, a.HighHRC})

	_, bad, code = ran(home, "record", "note", path)
	require.Equal(t, exitUsage, code)
	require.Contains(t, bad, "--hrc is missing")
	_, bad, code = ran(home, "record", "note", path, "--hrc", "60", "--steel", "1095")
	require.Equal(t, exitUsage, code)
	require.Contains(t, bad, "the run's steel is 1084")
	_, _, code = ran(home, "record", "show", "none")
	require.Equal(t, exitNoInput, code)
}

// TestTheEndScreensNoteIsKept: what was typed on the end screen is one more line, torn lines do
// not hide the others, and without a steel nothing is kept.
func TestTheEndScreensNoteIsKept(t *testing.T) {
	home := t.TempDir()
	h := &host{env: []string{"HOME=" + home}}
	info := control.Info{Run: "knife", Start: time.Date(2026, 11, 2, 8, 0, 0, 0, time.UTC), Unit: "F",
		Shop:  control.Shop{Channels: []string{"oven air"}},
		Blade: &control.BladeInfo{Steel: "1084"}}
	end := func(note string) error {
		v, c := control.NewView(info), 204.44
		for s := range 3600 {
			v.Apply(control.Record{Sample: &control.Sample{T: time.Duration(s) * time.Second,
				Temp: []*float64{&c}}})
		}
		v.Apply(control.Record{Event: &control.Event{Kind: control.EvNote, Text: note}})
		return h.hardnessKept(nil)(keeper.Result{Last: v.Told()})
	}
	require.NoError(t, end("a warp of 2 mm"))
	require.NoFileExists(t, h.hardnessFile())
	require.NoError(t, end("hardness 60.5HRC"))
	require.NoError(t, end("Hardness 61 hrc"))
	info.Start = info.Start.Add(time.Hour)
	f, err := os.OpenFile(h.hardnessFile(), os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteString("{\"run\":\"torn\n")
	require.NoError(t, err)
	require.NoError(t, f.Close())
	require.NoError(t, end("hardness 59HRC"))
	list, bad, err := h.measuredAll()
	require.NoError(t, err)
	require.Equal(t, 1, bad)
	require.Len(t, list, 2)
	require.Equal(t, []float64{61, 59}, []float64{list[0].HRC, list[1].HRC})
	require.Equal(t, control.DoseAir, list[0].By)
	info.Blade, info.Run = nil, "other"
	require.NoError(t, end("hardness 60HRC"))
	list, _, err = h.measuredAll()
	require.NoError(t, err)
	require.Len(t, list, 2)
}
