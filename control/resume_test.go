package control

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/belief"
	"strawline/probe/temp"
)

// cut ends a bench's engine in the middle and makes one that goes on after a gap, in which the
// oven has no heat. The keeper's new clock begins at 0.
func cut(t *testing.T, b *bench, records []Record, gap time.Duration) *bench {
	t.Helper()
	at := b.e.Snapshot().T + gap
	e, err := Resume(Config{Info: testInfo(b.e.cfg.Info.Profile), Belief: belief.Default()},
		records, at)
	require.NoError(t, err)
	for range int(gap / tick) {
		b.oven.Step(0)
	}
	return &bench{t: t, e: e, oven: b.oven, rnd: b.rnd, noise: b.noise, seq: b.seq}
}

// kept runs a bench for d and adds its records, as a run file has them.
func kept(b *bench, d time.Duration, rs []Record) []Record {
	for end := b.now + d; b.now < end; {
		b.step()
		rs = append(rs, b.out.Records...)
	}
	return rs
}

// recorded brings a bench into its counting soak, every record kept.
func recorded(t *testing.T) (*bench, []Record) {
	t.Helper()
	b := newBench(t, temper(t, time.Hour))
	rs := kept(b, 40*time.Minute, nil)
	b.asks = append(b.asks, Ask{Kind: AskConfirm})
	rs = kept(b, 40*time.Minute, rs)
	require.Equal(t, SoakCounting, b.e.Snapshot().Soak)
	require.Greater(t, b.e.Snapshot().SoakDone, 5*time.Minute)
	return b, rs
}

// TestACutRunWaitsForAPerson: whatever the gap, no heat comes back without acknowledge, reset and
// go on; the credit stays what it was and nothing of the gap is added.
func TestACutRunWaitsForAPerson(t *testing.T) {
	for _, gap := range []time.Duration{0, time.Second, 5 * time.Minute, 3 * time.Hour,
		24 * time.Hour, -time.Hour} {
		b, rs := recorded(t)
		was := b.e.Snapshot()
		n := cut(t, b, rs, gap)
		n.run(5 * time.Minute)
		for _, k := range []AskKind{AskGoOn, AskReset, AskConfirm, AskMore, AskSkip, AskSet} {
			require.NotEmpty(t, n.ask(Ask{Kind: k, Seconds: 60, TempC: 200}), k)
		}
		n.run(time.Minute)
		s := n.e.Snapshot()
		require.Equal(t, PhaseTripped, s.Phase)
		require.Contains(t, s.Why, "the keeper ended")
		require.Zero(t, n.e.loop.area, "no heat")
		require.Equal(t, was.T+max(0, gap)+n.now-tick, s.T, "the run's clock goes on")
		// What is inside the band is credited while tripped as well: but no more than has passed.
		require.LessOrEqual(t, s.SoakDone-was.SoakDone, n.now)
		require.GreaterOrEqual(t, s.SoakDone, was.SoakDone)

		require.Empty(t, n.ask(Ask{Kind: AskAcknowledge}))
		require.Empty(t, n.ask(Ask{Kind: AskReset}))
		require.Empty(t, n.ask(Ask{Kind: AskGoOn}))
		done := n.e.Snapshot().SoakDone
		n.until(3*time.Hour, "the end", func(s Snapshot) bool { return s.Step > was.Step })
		span := n.last(EvSoaked).SpanS
		require.InDelta(t, 3600, *span, 1)
		require.Greater(t, n.now, time.Hour-done, "the rest was soaked")
	}
}

// TestAStepIsBegunAgain: none of its credit counts, on the screen either.
func TestAStepIsBegunAgain(t *testing.T) {
	b, rs := recorded(t)
	n := cut(t, b, rs, time.Hour)
	n.run(time.Minute)
	require.Empty(t, n.ask(Ask{Kind: AskAgain}))
	require.Less(t, n.e.Snapshot().SoakDone, time.Second)
	require.Equal(t, PhaseTripped, n.e.Snapshot().Phase, "it gives no heat back")
	for _, k := range []AskKind{AskAcknowledge, AskReset, AskGoOn} {
		require.Empty(t, n.ask(Ask{Kind: k}))
	}
	from := n.now
	n.until(4*time.Hour, "the end", func(s Snapshot) bool {
		return s.Phase == PhaseRunning &&
			n.count(EvSoaked) > 0
	})
	require.GreaterOrEqual(t, n.now-from, time.Hour-time.Second)
}

// TestWhatHasEndedIsNotGoneOnWith: a run that ended or never began stays as it is.
func TestWhatHasEndedIsNotGoneOnWith(t *testing.T) {
	b, rs := recorded(t)
	cfg := Config{Info: testInfo(b.e.cfg.Info.Profile), Belief: belief.Default()}
	_, err := Resume(cfg, nil, time.Hour)
	require.ErrorIs(t, err, ErrOver)
	b.asks = append(b.asks, Ask{Kind: AskStop})
	rs = kept(b, time.Second, rs)
	_, err = Resume(cfg, rs, time.Hour)
	require.ErrorIs(t, err, ErrOver)
}

// TestLowest: after one time constant a first-order oven has 1/e of its excess left (any textbook
// on first-order systems); without a model only the room bounds it.
func TestLowest(t *testing.T) {
	m := &ModelInfo{TimeS: 1800}
	low, known := Lowest(m, 20, 220, 30*time.Minute)
	require.True(t, known)
	require.InDelta(t, 20+200/math.E, float64(low), 1e-9)
	low, known = Lowest(nil, 20, 220, time.Minute)
	require.False(t, known)
	require.Equal(t, temp.C(20), low)
	low, _ = Lowest(m, 20, 15, time.Hour)
	require.Equal(t, temp.C(15), low)
}

func TestSpanWords(t *testing.T) {
	for d, want := range map[time.Duration]string{
		42 * time.Second: "42s", 10 * time.Minute: "10m", 59*time.Minute + 31*time.Second: "1h00m",
		25*time.Hour + 5*time.Minute: "25h05m",
	} {
		require.Equal(t, want, spanWords(d))
	}
}
