package runlog

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"strawline/control"
)

func TestMain(m *testing.M) {
	if path := os.Getenv("STRAWLINE_RUNLOG_CHILD"); path != "" {
		os.Exit(child(path, os.Getenv("STRAWLINE_RUNLOG_MODE")))
	}
	goleak.VerifyTestMain(m)
}

const corpus = "../../testdata/runlog"

func ptr[T any](v T) *T { return &v }

func testInfo() control.Info {
	return control.Info{Run: "test", Simulated: true,
		Start: time.Date(2026, 11, 24, 8, 0, 0, 0, time.UTC), Unit: "F",
		Shop: control.Shop{Oven: "oven <A>", LimitC: 260, Channels: []string{"oven air", "spine"}},
		Seed: ptr(uint64(7))}
}

// testSample is the i-th sample of a plausible run at 4 Hz.
func testSample(i int) *control.Sample {
	t := time.Duration(i) * 250 * time.Millisecond
	v := 20 + 180*float64(i%4000)/4000
	return &control.Sample{T: t, Raw: []uint32{0x0C601900 + uint32(i)<<18, 0x0C601900},
		HasRaw: []bool{true, true}, Temp: []*float64{ptr(v), ptr(v - 1.234)}, Set: ptr(204.444444),
		Blade: ptr(v * 0.9), Duty: i % 1001, Soak: ptr(t.Seconds())}
}

func sampleRecord(i int) control.Record { return control.Record{Sample: testSample(i)} }

func eventRecord(t time.Duration, kind control.EventKind, text string) control.Record {
	return control.Record{Event: &control.Event{T: t, Kind: kind, Text: text}}
}

// newPath gives a name for a run file in a folder of its own.
func newPath(t testing.TB) string { return filepath.Join(t.TempDir(), "run.ndjson") }

// readAll opens a run file, which must be good, and gives its records.
func readAll(t testing.TB, path string) (*File, []control.Record) {
	t.Helper()
	f, err := Open(path)
	require.NoError(t, err)
	defer f.Close()
	all, err := f.All()
	require.NoError(t, err)
	require.Len(t, all, f.Len())
	return f, all
}

// writeRun makes a run file of so many samples between a start and an end.
func writeRun(t testing.TB, path string, samples int) {
	t.Helper()
	w, err := Create(path, testInfo())
	require.NoError(t, err)
	w.SetSync(func() error { return nil })
	require.NoError(t, w.Append(eventRecord(0, control.EvStart, "")))
	for i := range samples {
		require.NoError(t, w.Append(sampleRecord(i)))
	}
	end := time.Duration(samples) * 250 * time.Millisecond
	require.NoError(t, w.Append(eventRecord(end, control.EvEnd, "done")))
	require.NoError(t, w.Close())
}

// anyJSON reads a sample line the slow way, by encoding/json alone.
type anyJSON struct {
	N     *int64   `json:"n"`
	T     *float64 `json:"t_s"`
	Raw   *string  `json:"raw"`
	T1    *float64 `json:"t1_c"`
	T2    *float64 `json:"t2_c"`
	T3    *float64 `json:"t3_c"`
	T4    *float64 `json:"t4_c"`
	T5    *float64 `json:"t5_c"`
	T6    *float64 `json:"t6_c"`
	T7    *float64 `json:"t7_c"`
	T8    *float64 `json:"t8_c"`
	Set   *float64 `json:"set_c"`
	Blade *float64 `json:"blade_c"`
	Duty  *int     `json:"duty_pm"`
	Soak  *float64 `json:"soak_s"`
	H     *string  `json:"h"`
}

func (a *anyJSON) temps() []*float64 {
	return []*float64{a.T1, a.T2, a.T3, a.T4, a.T5, a.T6, a.T7, a.T8}
}

func slowDecode(line []byte) (a anyJSON, err error) {
	err = json.Unmarshal(line, &a)
	return a, err
}
