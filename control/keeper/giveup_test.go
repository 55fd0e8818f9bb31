package keeper

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/profiles"
)

// A run that is given up says that the blade is still in the oven, where its file says so.
func TestARunThatIsGivenUpSaysWhatIsLeft(t *testing.T) {
	p, err := profiles.Parse("t.toml", []byte(`name = "t"
limit = "230C"
band = "5C"
step = [
	{ wait = "blade in", blade = "in" },
	{ ramp = "150C" },
	{ soak = "10m", at = "150C" },
	{ wait = "blade out", blade = "out" },
]
`))
	require.NoError(t, err)
	for answers, in := range []bool{false, true, false} {
		path := filepath.Join(t.TempDir(), "t.jsonl")
		w, err := runlog.Create(path, control.Info{Run: "t", Unit: "C", Profile: *p,
			Start: time.Now(), Gains: control.CautiousGains(), Shop: control.Shop{Oven: "oven",
				LimitC: 230, BoardLimC: 260, CeilingC: 320, Channels: []string{"oven air"}}})
		require.NoError(t, err)
		at := []int{0, 3} // the steps that wait
		records := []control.Event{{Kind: control.EvStart}}
		for _, step := range at[:answers] {
			records = append(records, control.Event{Kind: control.EvStep, Step: &step},
				control.Event{Kind: control.EvAsk, Word: "done", Ask: &control.Ask{Kind: control.AskConfirm}})
		}
		for _, e := range records {
			require.NoError(t, w.Append(control.Record{Event: &e}))
		}
		require.NoError(t, w.Close())
		left, err := giveUp(path, "given up")
		require.NoError(t, err)
		f, err := runlog.Open(path)
		require.NoError(t, err)
		load := "no end"
		for r, err := range f.Records() {
			require.NoError(t, err)
			if r.Event != nil && r.Event.Kind == control.EvEnd {
				load = r.Event.Load
			}
		}
		require.NoError(t, f.Close())
		if in {
			require.Equal(t, "the blade is still in the oven, as far as is known", left)
			require.Equal(t, control.LoadIn, load)
		} else {
			require.Empty(t, left+load)
		}
	}
}
