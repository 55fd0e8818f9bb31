package keeper

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/control/tune"
	"strawline/probe/plant"
	"strawline/probe/sim"
)

// replayed folds a run file again.
func replayed(t *testing.T, path string) (control.Snapshot, []control.Record) {
	t.Helper()
	f, err := runlog.Open(path)
	require.NoError(t, err)
	defer f.Close()
	all, err := f.All()
	require.NoError(t, err)
	v := control.NewView(f.Info)
	for _, r := range all {
		v.Apply(r)
	}
	return v.Snapshot(), all
}

// TestATuningTestOnTheSimulatedBoard runs the test through board, port and run file, on both
// reference ovens: the file shows the same and carries a model whose slope is that of the
// reference study's 600 s step fit, °C/s for the whole duty.
func TestATuningTestOnTheSimulatedBoard(t *testing.T) {
	for name, c := range map[string]struct {
		oven  plant.Params
		slope float64
	}{"A": {plant.A(), 526.0 / 493}, "B": {plant.B(), 477.0 / 814}} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newShop(t, sim.Config{Seed: 3, Plant: c.oven})
			p := longSoak(200, 9*time.Hour)
			p.Steps[1].Band = 20
			cfg := s.lockstep(t, p, 3, Away)
			s.quiet = true
			cfg.Test = &control.TestInfo{Kind: control.TestRelay, TargetC: 200, MostS: 3 * 3600}
			k, err := Prepare(t.Context(), cfg)
			require.NoError(t, err)
			res, err := k.Run(t.Context())
			require.NoError(t, err)
			require.Equal(t, "done", res.Word, res.Why)
			last, all := replayed(t, cfg.Out)
			require.Equal(t, control.TestDone, last.Test)
			require.Equal(t, res.Last.TestText, last.TestText)
			require.Equal(t, *cfg.Test, *last.Info.Test)
			var r tune.Record
			for _, rec := range all {
				if s := rec.Sample; s != nil && len(s.Temp) > 0 && s.Temp[0] != nil {
					r = append(r, tune.Sample{T: s.T.Seconds(), Y: *s.Temp[0],
						Duty: float64(s.Duty) / 1000})
				}
				if e := rec.Event; e != nil && e.Kind == control.EvTest {
					t.Logf("%v %s: %s", e.T.Round(time.Second), e.Word, e.Text)
				}
			}
			f, err := tune.Identify(r)
			require.NoError(t, err)
			t.Logf("%s: slope %.3f °C/s, lag %.1f s with the filter's 2 s", f.Test, f.Model.Slope(),
				f.Model.Lag())
			require.Equal(t, "relay test", f.Test)
			// The test is sound; how well a fit tells slope from lag is the matter of control/tune.
			// From the filtered readings of a run file it is a third high on oven B.
			require.InEpsilon(t, c.slope, f.Model.Slope(), 0.35)
		})
	}
}

func TestTheBoardIsComparedWithTheShopFile(t *testing.T) {
	note := func(window time.Duration, mains int) []control.Event {
		s := newShop(t, sim.Config{Seed: 1})
		cfg := s.lockstep(t, longSoak(150, time.Hour), 1, Away)
		cfg.Window, cfg.MainsHz, cfg.Port.Name = window, mains, "/dev/ttyUSB0"
		ctx, stop := context.WithCancelCause(t.Context())
		cfg.Records = func(r control.Record) { stop(context.Canceled) }
		k, err := Prepare(ctx, cfg)
		require.NoError(t, err)
		_, err = k.Run(ctx)
		require.NoError(t, err)
		return events(records(t, cfg.Out), control.EvNote)
	}
	require.Empty(t, note(0, 0))
	require.Empty(t, note(2*time.Second, 50))
	both := note(10*time.Second, 60)
	require.Len(t, both, 1)
	require.Equal(t, "the board has a window of 2s and the shop file says 10s, and mains of 50 Hz "+
		"and the shop file says 60 Hz: set it with strawline probes board --port /dev/ttyUSB0 "+
		"--window 10s --mains 60Hz", both[0].Text)
}

// TestALoopsAsksAreInTheRunFile changes gains, takes them back and heats by hand; what the file
// shows is what was shown, and its events are those that happened.
func TestALoopsAsksAreInTheRunFile(t *testing.T) {
	for _, c := range []*control.Contactor{nil, {DeadbandC: 3, MinOnS: 10, MinOffS: 20}} {
		s := newShop(t, sim.Config{Seed: 2})
		cfg := s.lockstep(t, longSoak(150, 10*time.Minute), 2, Away)
		s.quiet = true
		cfg.Contactor = c
		cfg.Model = &control.ModelInfo{RiseC: 526, SlopeCS: 1.067, TimeS: 493, SecondS: 24, DeadS: 6,
			HoldPM: 220, HoldC: 200, NoiseC: 0.3, From: "from shop.toml"}
		var k *Keeper
		var live []control.Record
		at := map[time.Duration]control.Ask{
			8 * time.Minute: {Kind: control.AskGains, Gains: &control.Gains{Kp: 0.05, TiS: 150,
				TdS: 15, Weight: 0.7, From: "SIMC"}},
			9 * time.Minute:  {Kind: control.AskUndo},
			10 * time.Minute: {Kind: control.AskDuty, DutyPM: 250, Seconds: 90},
			2 * time.Minute:  {Kind: control.AskDuty, DutyPM: 1000, Seconds: 5},
		}
		cfg.Records = func(r control.Record) {
			if r.Event != nil {
				live = append(live, r)
			} else if a, is := at[r.Sample.T]; is {
				k.Screen().Ask(a)
			}
		}
		var err error
		k, err = Prepare(t.Context(), cfg)
		require.NoError(t, err)
		res, err := k.Run(t.Context())
		require.NoError(t, err)
		require.Equal(t, "done", res.Word, res.Why)
		last, all := replayed(t, cfg.Out)
		res.Last.Info = last.Info // the head was compared when it was read back
		require.Equal(t, res.Last, last)
		var filed []control.Record
		for _, r := range all {
			if r.Event != nil {
				filed = append(filed, r)
			}
		}
		require.Equal(t, live, filed)
		require.Equal(t, cfg.Model, last.Info.Model)
		require.Equal(t, c, last.Info.Shop.Contactor)
		if c != nil {
			require.Len(t, events(filed, control.EvDuty), 2, "full heat alone, and its end")
			require.Empty(t, events(filed, control.EvGains))
			continue
		}
		gains := events(filed, control.EvGains)
		require.Len(t, gains, 2)
		require.Equal(t, "SIMC", gains[0].Gains.From)
		require.Equal(t, cfg.Gains, *gains[0].Was)
		require.Equal(t, cfg.Gains, last.Gains)
		require.Len(t, events(filed, control.EvDuty), 4)
	}
}
