package runlog

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/probe/temp"
	"strawline/profiles"
)

// TestReplayShowsTheSame: a screen that is fed rounded records live and one that is fed from
// the file show the same, bit for bit, at every record.
func TestReplayShowsTheSame(t *testing.T) {
	info := testInfo()
	info.Profile = profiles.Profile{Name: "two", Title: "Two <soaks>", Unit: temp.Fahrenheit,
		Limit: temp.F(500), Longest: 5 * time.Hour, Steps: []profiles.Step{
			{Kind: profiles.Ramp, To: temp.F(400), Band: temp.DeltaF(10), Limit: time.Hour},
			{Kind: profiles.Soak, To: temp.F(400), For: 2 * time.Hour, Band: temp.DeltaF(10)},
		}}
	path := newPath(t)
	w, err := Create(path, info)
	require.NoError(t, err)
	w.SetSync(func() error { return nil })
	live := control.NewView(w.Info())
	var shown []control.Snapshot
	for i := range 1500 {
		r := sampleRecord(i)
		r.Sample.T += time.Duration(i) * 1234567 // a clock that is not round
		switch i {
		case 0:
			r = eventRecord(0, control.EvStart, "")
		case 700:
			r = control.Record{Event: &control.Event{T: r.Sample.T, Kind: control.EvStep, Step: ptr(1)}}
		case 710:
			r = control.Record{Event: &control.Event{T: r.Sample.T, Kind: control.EvGap,
				SpanS: ptr(1.0 / 3)}}
		}
		r = RoundRecord(r)
		require.NoError(t, w.Append(r))
		live.Apply(r)
		shown = append(shown, live.Snapshot())
	}
	require.NoError(t, w.Close())
	f, all := readAll(t, path)
	require.Equal(t, info.Profile, f.Info.Profile)
	replay := control.NewView(f.Info)
	for i, r := range all {
		replay.Apply(r)
		require.Equal(t, shown[i], replay.Snapshot())
	}
}
