package keeper

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
)

// sleeper is a live run on a computer that sleeps and whose clock is set.
type sleeper struct {
	*live
	dice   *rand.Rand
	counts bool         // the run's clock goes on in a sleep
	slept  atomic.Int64 // ns
	set    atomic.Int64 // ns by which the clock was put on
	trips  int          // that must have come
	doubts int          // sleeps too short for a trip
	notes  int
}

// happens makes one sleep or one jump of the clock, and says whether it must trip the run.
func (s *sleeper) happens() (trips bool) {
	if s.dice.IntN(2) == 0 {
		jump := jumps[s.dice.IntN(len(jumps))]
		s.set.Add(int64(jump))
		s.notes++
		return !s.counts && jump > 0 // for all that it knows the computer slept: the worse is believed
	}
	// From two seconds to a day, each length's order as likely; none so near to the 10 s of the trip
	// that the tick decides.
	span := time.Duration(2.5 * math.Pow(86400/2.5, s.dice.Float64()) * float64(time.Second))
	if span > 9*time.Second && span < 11*time.Second {
		span = 11 * time.Second
	}
	s.slept.Add(int64(span))
	s.notes++
	if span < 10*time.Second {
		s.doubts++
	}
	return span > 10*time.Second
}

// TestSleepsAndSetClocks: 100 sleeps and jumps of ±1 h and ±1 day at random moments. After each
// that may have been a sleep of more than 10 s there is no heat until a person says so; a clock
// that was set costs no heat; every one is noted, and none is credited to the soak.
func TestSleepsAndSetClocks(t *testing.T) {
	seed := rand.Uint64()
	if part, err := strconv.ParseUint(os.Getenv("STRAWLINE_PART"), 10, 64); err == nil {
		seed = 1000 + part
	}
	for _, counts := range []bool{true, false} {
		synctest.Test(t, func(t *testing.T) {
			const n = 100
			s := &sleeper{live: newLive(t, seed), dice: rand.New(rand.NewPCG(seed, 0)), counts: counts}
			defer s.off()
			now, wall := s.cfg.Clock.Now, s.cfg.Clock.Wall
			s.cfg.Clock.CountsSleep = counts
			s.cfg.Clock.Now = func() time.Duration {
				if counts {
					return now() + time.Duration(s.slept.Load())
				}
				return now()
			}
			s.cfg.Clock.Wall = func() time.Time {
				return wall().Add(time.Duration(s.slept.Load() + s.set.Load()))
			}
			s.cfg.Profile, s.cfg.Blade = longSoak(150, 10000*time.Hour), nil
			s.prepare()
			s.relog(func() error { return nil })
			ctx, cancel := context.WithCancelCause(t.Context())
			ended := make(chan error, 1)
			go func() {
				_, err := s.k.Run(ctx)
				ended <- err
			}()
			time.Sleep(10 * time.Minute)
			screen := s.k.Screen()
			for i := range n {
				s.once(i, screen)
			}
			cancel(errors.New("the test is over"))
			require.NoError(t, <-ended)
			s.judge(now())
			t.Logf("sleeps and jumps: %d, seed %d, the clock counts a sleep: %v; %d trips, each with "+
				"its person", n, seed, counts, s.trips)
		})
	}
}

// once has one thing happen, looks at the heat, and lets the run go on where it tripped.
func (s *sleeper) once(i int, screen *Screen) {
	time.Sleep(20*time.Second + time.Duration(s.dice.Int64N(int64(Tick))))
	before := s.clock()
	trips := s.happens()
	if !trips {
		s.heatsAgain(before+5*time.Second, i)
		return
	}
	s.trips++
	time.Sleep(2 * time.Second) // two steps, and what the output's window has left
	from := s.clock()
	time.Sleep(10 * time.Second)
	assert.Zero(s.t, s.heatAfter(from), "nobody has said so after %d", i)
	for _, k := range []control.AskKind{control.AskAcknowledge, control.AskReset, control.AskGoOn} {
		screen.Ask(control.Ask{Kind: k})
		time.Sleep(time.Second)
	}
	s.heatsAgain(s.clock(), i)
}

// heatsAgain waits until there is heat again later than from: it may be above its setpoint.
func (s *sleeper) heatsAgain(from time.Duration, i int) {
	for range 30 {
		time.Sleep(10 * time.Second)
		if s.heatAfter(from) > 0 {
			return
		}
	}
	assert.Fail(s.t, "no heat", "after %d", i)
}

// judge reads the run file; on is for how long the computer was awake.
func (s *sleeper) judge(on time.Duration) {
	t := s.t
	rs := records(t, s.cfg.Out)
	notes := 0
	for _, e := range events(rs, control.EvNote) {
		if strings.Contains(e.Text, "slept") || strings.Contains(e.Text, "clock was put") {
			notes++
		}
	}
	require.Equal(t, s.notes, notes, "every one is told once")
	require.Len(t, events(rs, control.EvTrip), s.trips)
	require.Len(t, events(rs, control.EvGoOn), s.trips)
	var sum, last float64
	var was *control.Sample
	for _, r := range rs {
		m := r.Sample
		if m == nil || len(m.HasRaw) == 0 || !m.HasRaw[0] || m.Soak == nil {
			continue
		}
		inside := func(m *control.Sample) bool {
			return len(m.Temp) > 0 && m.Temp[0] != nil && math.Abs(*m.Temp[0]-150) <= 5
		}
		if dt := m.T; was != nil && inside(m) && inside(was) {
			if dt -= was.T; dt <= 2*time.Second {
				sum += dt.Seconds()
			}
		}
		was, last = m, *m.Soak
	}
	require.Positive(t, last)
	require.LessOrEqual(t, last, on.Seconds())
	// A reading is up to two steps older than its sample, which shows where a sleep lies between.
	require.InDelta(t, sum, last, 0.5*float64(s.notes), "the soak counted again")
}
