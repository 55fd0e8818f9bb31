package tui

import (
	"context"
	"math"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/control"
)

func ptr[T any](v T) *T { return &v }

// recorded makes the records of a run: four samples a second, a new step each quarter of it,
// and a gap of ten seconds at its middle. The temperature tells the time, so that a Snapshot
// can be checked against the clock.
func recorded(d time.Duration) (control.Info, []control.Record) {
	info := *scene().Info
	rec := []control.Record{{Event: &control.Event{Kind: control.EvStart}}}
	quarter := d / 4
	for t := time.Duration(0); t <= d; t += 250 * time.Millisecond {
		if t%quarter == 0 && t < d {
			rec = append(rec, control.Record{Event: &control.Event{T: t, Kind: control.EvStep,
				Step: ptr(int(t / quarter))}})
		}
		s := &control.Sample{T: t, Set: ptr(204.0), Duty: 137}
		if t < d/2 || t >= d/2+10*time.Second {
			s.Temp = []*float64{ptr(heatAt(t)), ptr(40.0)}
		}
		rec = append(rec, control.Record{Sample: s})
	}
	return info, rec
}

// heatAt is the temperature that recorded gives to a time, °C.
func heatAt(t time.Duration) float64 { return 20 + math.Mod(t.Seconds(), 200) }

// fold is the plain way to the Snapshot of a time: all records up to it, one after another.
func fold(info control.Info, rec []control.Record, t time.Duration) control.Snapshot {
	v := control.NewView(info)
	for _, r := range rec {
		if timeOf(r) <= t {
			v.Apply(r)
		}
	}
	return v.Snapshot()
}

// TestJumpsAreFolds: wherever a replay jumps to, it shows what all the records before show.
func TestJumpsAreFolds(t *testing.T) {
	info, rec := recorded(100 * time.Minute) // more records than four checkpoints
	require.Greater(t, len(rec), 4*checkEvery)
	rapid.Check(t, func(t *rapid.T) {
		now := time.Unix(0, 0)
		p := NewPlayer(info, rec, func() time.Time { return now })
		moves := map[string]func(){"jump": func() {
			p.Jump(time.Duration(rapid.IntRange(-7000, 7000).Draw(t, "s")) * time.Second)
		}, "start": p.ToStart, "end": p.ToEnd, "event": p.NextEvent, "play": func() {
			p.Toggle()
			now = now.Add(time.Duration(rapid.IntRange(0, 90).Draw(t, "wait")) * time.Second)
			p.Faster()
		}}
		for range rapid.IntRange(1, 4).Draw(t, "moves") {
			moves[rapid.SampledFrom([]string{"jump", "jump", "start", "end", "event", "play"}).
				Draw(t, "move")]()
			s, err := p.Next(t.Context())
			require.NoError(t, err)
			require.Equal(t, fold(info, rec, s.T), s)
			st := p.State()
			require.LessOrEqual(t, st.At-s.T, 250*time.Millisecond, "the newest record of its time")
			require.Equal(t, info.Start.Add(st.At), st.Wall)
			require.Equal(t, pastUpTo(rec, s.T), p.Past())
		}
	})
}

// pastUpTo makes the whole spans before a time from the records, the plain way.
func pastUpTo(rec []control.Record, t time.Duration) []control.Past {
	var tr control.Trace
	for _, r := range rec {
		if r.Sample != nil {
			addSample(&tr, r.Sample)
		}
	}
	out := []control.Past{}
	for _, q := range tr.Points() {
		if q.At+control.PastSpan <= t {
			out = append(out, q)
		}
	}
	return out
}

func TestPastKeepsSpikesAndGaps(t *testing.T) {
	info, rec := recorded(20 * time.Minute)
	i := slices.IndexFunc(rec, func(r control.Record) bool {
		return r.Sample != nil && r.Sample.T == 333*time.Second+250*time.Millisecond
	})
	rec[i].Sample.Temp[0] = ptr(444.0)
	p := NewPlayer(info, rec, nil)
	p.ToEnd()
	_, err := p.Next(t.Context())
	require.NoError(t, err)
	past := p.Past()
	assert.InDelta(t, 444, float64(past[33].Max), 0, "one sample of 40")
	assert.False(t, past[60].Has, "ten seconds without a reading")
	assert.True(t, past[61].Has)
}

// TestPlayKeepsTime: at 20 times a minute of the run takes three seconds, and four hundred of
// its samples come to no more looks than there are.
func TestPlayKeepsTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		info, rec := recorded(20 * time.Minute)
		p := NewPlayer(info, rec, time.Now)
		first, err := p.Next(t.Context())
		require.NoError(t, err)
		assert.Equal(t, time.Duration(0), first.T)
		assert.Equal(t, 20.0, p.State().Speed)
		start := time.Now()
		p.Toggle()
		var s control.Snapshot
		for s.T < time.Minute {
			s, err = p.Next(t.Context())
			require.NoError(t, err)
			require.InDelta(t, time.Since(start).Seconds()*20, s.T.Seconds(), 0.26)
		}
		assert.InDelta(t, 3, time.Since(start).Seconds(), 0.02)
		assert.InDelta(t, heatAt(s.T), float64(s.Temp), 0)

		for range 20 {
			p.Slower()
		}
		assert.Equal(t, 1.0, p.State().Speed)
		for range 20 {
			p.Faster()
		}
		assert.Equal(t, 2000.0, p.State().Speed)
	})
}

// TestPausedAndEndedWait: neither is an end of the source; Next waits, and a control wakes it.
func TestPausedAndEndedWait(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		info, rec := recorded(20 * time.Minute)
		p := NewPlayer(info, rec, time.Now)
		_, err := p.Next(t.Context())
		require.NoError(t, err)
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Hour)
		defer cancel()
		_, err = p.Next(ctx)
		assert.ErrorIs(t, err, context.DeadlineExceeded, "paused")

		go func() {
			<-time.After(time.Hour) // of the bubble's clock
			p.ToEnd()
		}()
		s, err := p.Next(t.Context())
		require.NoError(t, err)
		assert.Equal(t, 20*time.Minute, s.T)
		p.Toggle()
		assert.True(t, p.State().Playing, "played again from the start")
		s, err = p.Next(t.Context())
		require.NoError(t, err)
		assert.Less(t, s.T, time.Second)
	})
}

func TestSpeeds(t *testing.T) {
	p := NewPlayer(*scene().Info, nil, nil)
	for _, c := range []struct{ set, want, faster, slower float64 }{{60, 60, 100, 50},
		{20, 20, 50, 10}, {0.1, 1, 2, 1}, {1e9, 2000, 2000, 1000}, {math.NaN(), 1, 2, 1},
		{math.Inf(1), 2000, 2000, 1000}} {
		p.SetSpeed(c.set)
		assert.Equal(t, c.want, p.State().Speed)
		p.Faster()
		assert.Equal(t, c.faster, p.State().Speed)
		p.SetSpeed(c.set)
		p.Slower()
		assert.Equal(t, c.slower, p.State().Speed)
	}
}

func TestNextEvent(t *testing.T) {
	info, rec := recorded(20 * time.Minute)
	p := NewPlayer(info, rec, nil)
	for _, want := range []time.Duration{5, 10, 15, 15} { // the last moves nothing
		p.NextEvent()
		assert.Equal(t, want*time.Minute, p.State().At)
	}
}

func TestEmptyRun(t *testing.T) {
	p := NewPlayer(*scene().Info, nil, nil)
	p.Toggle()
	p.NextEvent()
	p.Jump(time.Minute)
	s, err := p.Next(t.Context())
	require.NoError(t, err)
	assert.Equal(t, time.Duration(0), s.T)
	assert.Empty(t, p.Past())
	p.Ask(control.Ask{Kind: control.AskHeatOff})
}

func TestReplayKeys(t *testing.T) {
	info, rec := recorded(100 * time.Minute)
	now := time.Unix(0, 0)
	p := NewPlayer(info, rec, func() time.Time { return now })
	b := newBench(t, Options{Replay: p}, soaking().s)
	at := func() time.Duration { return p.State().At }
	for _, step := range []struct {
		key  string
		want time.Duration
	}{{"right", time.Minute}, {"up", 11 * time.Minute}, {"left", 10 * time.Minute},
		{"n", 25 * time.Minute}, {"down", 15 * time.Minute}, {"9", 100 * time.Minute},
		{"0", 0}, {"end", 100 * time.Minute}, {"home", 0}} {
		replayKey(p, step.key)
		assert.Equal(t, step.want, at(), step.key)
	}
	b.press("=", "=", "-")
	assert.Equal(t, 50.0, p.State().Speed)
	b.press("<space>")
	assert.True(t, p.State().Playing)
	now = now.Add(2 * time.Second)
	b.sees("REPLAY", "playing 50x", "1:40 of 1:40:00", "2026-11-24 14:03:51")
	b.press("h", "s", "x", "y")
	assert.Empty(t, b.asked, "a replay asks nothing of anybody")
	b.press("q")
	assert.True(t, b.left)
}

// TestJumpInADay: a jump in a file of 24 hours is shown in less than 100 ms.
func TestJumpInADay(t *testing.T) {
	info, rec := recorded(24 * time.Hour)
	p := NewPlayer(info, rec, nil)
	var took []time.Duration
	for i := range 30 {
		start := time.Now()
		p.Jump(time.Duration(i%7-3) * 3 * time.Hour)
		_, err := p.Next(t.Context())
		require.NoError(t, err)
		p.Past()
		took = append(took, time.Since(start))
	}
	slices.Sort(took)
	t.Logf("of 30 jumps among %d records: median %v, worst %v", len(rec), took[15], took[29])
	assert.Less(t, took[15], 100*time.Millisecond)
}
