package keeper

import (
	"bytes"
	"context"
	"errors"
	"os"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/probe/sim"
)

// memory is what one instant of a run holds.
type memory struct {
	heap       uint64 // live bytes after a collection
	goroutines int
}

func measure() memory {
	runtime.GC()
	runtime.GC() // what the first one's finalizers let go
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return memory{m.HeapAlloc, runtime.NumGoroutine()}
}

func TestTwelveHoursTakeNoMoreMemoryThanOne(t *testing.T) {
	s := newShop(t, sim.Config{Seed: 1})
	c := s.lockstep(t, longSoak(150, 20*time.Hour), 1, Away)
	ctx, stop := context.WithCancelCause(t.Context())
	hour := map[int][]memory{}
	c.Records = func(r control.Record) {
		if r.Sample == nil || r.Sample.T%(15*time.Minute) != 0 {
			return
		}
		switch h := int((r.Sample.T-1)/time.Hour) + 1; {
		case r.Sample.T == 0:
		case h == 1 || h == 12:
			hour[h] = append(hour[h], measure())
		case h > 12:
			stop(errors.New("enough"))
		}
	}
	k, err := Prepare(ctx, c)
	require.NoError(t, err)
	s.quiet = true
	k.Screen() // one that never reads
	reads, read := k.Screen(), make(chan int)
	go func() {
		n := 0
		for {
			if _, err := reads.Next(context.Background()); err != nil {
				read <- n
				return
			}
			if n++; n%1000 == 0 {
				reads.Past()
			}
		}
	}()
	res, err := k.Run(ctx)
	require.NoError(t, err)
	require.Equal(t, "stopped", res.Word, res.Why)
	require.Positive(t, <-read)
	require.Len(t, hour[1], 4)
	require.Len(t, hour[12], 4)
	one, twelve := least(hour[1]), least(hour[12])
	t.Logf("hour 1: %d bytes, %d goroutines; hour 12: %d bytes, %d goroutines", one.heap,
		one.goroutines, twelve.heap, twelve.goroutines)
	require.InEpsilon(t, one.heap, twelve.heap, 0.10)
	require.Equal(t, one.goroutines, twelve.goroutines)
}

// least takes the smallest of each figure: the reading screen may be half way through a step.
func least(ms []memory) memory {
	l := ms[0]
	for _, m := range ms {
		l = memory{min(l.heap, m.heap), min(l.goroutines, m.goroutines)}
	}
	return l
}

// run runs c to its end and gives the run file's bytes.
func run(t *testing.T, c Config) (Result, []byte) {
	t.Helper()
	k, err := Prepare(t.Context(), c)
	require.NoError(t, err)
	res, err := k.Run(t.Context())
	require.NoError(t, err)
	data, err := os.ReadFile(c.Out)
	require.NoError(t, err)
	return res, data
}

func TestTheSameSeedGivesTheSameFileAndAnotherSeedAnother(t *testing.T) {
	file := func(seed uint64) []byte {
		s := newShop(t, sim.Config{Seed: seed, Faults: []sim.Fault{
			{Kind: sim.Open, At: 20 * time.Minute, For: 3 * time.Second},
			{Kind: sim.Garbage, At: 25 * time.Minute}, {Kind: sim.Unplug, At: 30 * time.Minute}}})
		s.quiet = true
		res, data := run(t, s.lockstep(t, temper(t, 10*time.Minute, 2), seed, GoesOn))
		require.Equal(t, "done", res.Word)
		return data
	}
	one := file(7)
	require.True(t, bytes.Equal(one, file(7)), "one seed, one file")
	require.False(t, bytes.Equal(one, file(8)), "the seed is felt")
}

func TestASimulatedPersonWhoIsAwayEndsATrippedRun(t *testing.T) {
	s := newShop(t, sim.Config{Seed: 2, Faults: []sim.Fault{{Kind: sim.Open, At: 20 * time.Minute}}})
	c := s.lockstep(t, temper(t, 10*time.Minute, 2), 2, Away)
	res, _ := run(t, c)
	require.Equal(t, "tripped", res.Word)
	require.Equal(t, control.PhaseClosed, res.Last.Phase)
	rs := records(t, c.Out)
	trips, ends := events(rs, control.EvTrip), events(rs, control.EvEnd)
	require.Len(t, trips, 1)
	require.Len(t, ends, 1)
	require.InDelta(t, awayEnds, ends[0].T-trips[0].T, float64(Tick), "it sees a step when it is done")
	require.Empty(t, events(rs, control.EvGoOn))
	require.Zero(t, dutyAfter(rs, trips[0].T), "heat after a trip that nobody ended")
	requireOffForGood(t, s)
}

func TestASimulatedPersonWhoGoesOnFinishesTheTemper(t *testing.T) {
	s := newShop(t, sim.Config{Seed: 2, Faults: []sim.Fault{{Kind: sim.Open, At: 20 * time.Minute}}})
	c := s.lockstep(t, temper(t, 10*time.Minute, 2), 2, GoesOn)
	res, _ := run(t, c)
	require.Equal(t, "done", res.Word)
	rs := records(t, c.Out)
	trips, on := events(rs, control.EvTrip), events(rs, control.EvGoOn)
	require.Len(t, trips, 1)
	require.Len(t, on, 1)
	require.InDelta(t, goesOnAfter+resetTakes, on[0].T-trips[0].T, float64(Tick))
	require.Positive(t, dutyAfter(rs, on[0].T), "the heat has come back")
	soaked := events(rs, control.EvSoaked)
	require.Len(t, soaked, 2)
	for _, e := range soaked {
		require.InDelta(t, 600, *e.SpanS, 2)
	}
	requireOffForGood(t, s)
}

// dutyAfter gives the greatest duty of the samples later than at.
func dutyAfter(rs []control.Record, at time.Duration) (most int) {
	for _, r := range rs {
		if r.Sample != nil && r.Sample.T > at {
			most = max(most, r.Sample.Duty)
		}
	}
	return most
}

// requireOffForGood lets the board go on by itself after a run: its output stays off.
func requireOffForGood(t *testing.T, s *shop) {
	t.Helper()
	on := s.board.Truth().On
	for range 40 {
		require.NoError(t, s.grant())
		require.False(t, s.board.Truth().Output)
	}
	require.Equal(t, on, s.board.Truth().On)
}
