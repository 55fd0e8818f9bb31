package guard_test

import (
	"math"
	"os"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control/guard"
)

// size says how much is done here: a little, or one part of .ci/long guard, whose parts have
// other seeds.
func size(t *testing.T) (seed uint64, ovens, clean int, long bool) {
	part := os.Getenv("STRAWLINE_PART")
	if part == "" {
		return 1, 8, 8, false
	}
	n, err := strconv.Atoi(part)
	require.NoError(t, err)
	return uint64(1000 + n), 10, 25, true
}

// TestEachFaultIsFoundInTime injects each fault into A, B and ovens within ±50 % of them.
func TestEachFaultIsFoundInTime(t *testing.T) {
	seed, ovens, _, long := size(t)
	var mu sync.Mutex
	missed, untold, done := 0, 0, 0
	t.Run("rows", func(t *testing.T) {
		for _, f := range faults() {
			t.Run(f.name, func(t *testing.T) {
				t.Parallel()
				longest := time.Duration(0)
				for n := range ovens {
					took, ok, before := inject(f, seed, n)
					longest = max(longest, took)
					told := f.message() && long // counted there, and no danger
					assert.True(t, ok || told, "oven %d: %v, and %v is the latest", n, took, f.by)
					assert.Zero(t, before&trips(), "oven %d: %b before", n, before)
					mu.Lock()
					done++
					switch {
					case ok:
					case f.message():
						untold++
					default:
						missed++
					}
					mu.Unlock()
				}
				t.Logf("longest %v of %v", longest, f.by)
			})
		}
	})
	if long {
		t.Logf("injected %d in %d rows, %d missed or late, %d messages not told in time", done,
			len(faults()), missed, untold)
	}
}

// TestCleanOvensAreLeftAlone runs sound ovens through doors, blades, mains and noise.
func TestCleanOvensAreLeftAlone(t *testing.T) {
	seed, _, ovens, long := size(t)
	hours, tripped, told := 4, 0, 0
	if !long {
		hours = 1
	}
	for n := range ovens {
		found := clean(seed, n, hours)
		assert.Zero(t, found&trips(), "oven %d: %b", n, found)
		if found&trips() != 0 {
			tripped++
		}
		if found.Has(guard.WeakHeat) || found.Has(guard.BoardWarm) {
			told++
		}
	}
	if !long { // there they are counted: a cold blade in a heat-up may look like half the heat
		assert.Zero(t, told, "alarms")
	} else {
		t.Logf("clean %d hours, %d trips, %d alarms", ovens*hours, tripped, told)
	}
}

// TestWithoutAModel: what stays is heat at duty 0 and no heat, by figures for any oven.
func TestWithoutAModel(t *testing.T) {
	for _, cold := range []bool{true, false} {
		s := newShop(3, 0, 0.3)
		s.cfg.Model = guard.Model{}
		if cold {
			s.hands, s.duty = true, 1
			s.watts = func(float64) float64 { return 0 }
			s.run(5 * time.Minute)
			require.True(t, s.found.Has(guard.NoHeat))
			continue
		}
		s.run(time.Hour)
		require.Zero(t, s.found&trips())
		s.hands, s.duty = true, 0
		s.watts = func(float64) float64 { return s.p.HeaterW }
		s.run(5 * time.Minute)
		require.True(t, s.found.Has(guard.HeatAtZero))
	}
}

// TestNothingIsFoundOfWhatIsNotRead feeds readings that are not believed, figures that are
// none, and a gap.
func TestNothingIsFoundOfWhatIsNotRead(t *testing.T) {
	s := newShop(4, 0, 0.2)
	s.run(30 * time.Minute)
	before := s.st
	in := guard.Input{At: s.at, Good: false, Hot: 0, Duty: 1, Room: 22}
	for range 1000 {
		require.Zero(t, guard.Step(s.cfg, &s.st, in)&trips())
	}
	in.Good, in.Hot = true, math.NaN()
	require.Zero(t, guard.Step(s.cfg, &s.st, in)&trips())
	require.Equal(t, before, s.st)
	in.Hot, in.At = 25, s.at+time.Minute
	for range 400 { // a reading of the room after a gap is no fall
		in.At += 250 * time.Millisecond
		in.Duty = 0
		require.Zero(t, guard.Step(s.cfg, &s.st, in)&trips())
	}
}

func TestStepAllocatesNothing(t *testing.T) {
	var st guard.State
	cfg := guard.Config{Model: guard.Model{Slope: 1, Dead: 30, Hold: 0.25, HoldAt: 200}}
	at := time.Duration(0)
	require.Zero(t, testing.AllocsPerRun(5000, func() {
		at += 250 * time.Millisecond
		guard.Step(cfg, &st, guard.Input{At: at, Good: true, Hot: 200, Duty: 0.25, Room: 22, Set: 200,
			HasSet: true, Raw: uint32(at)})
	}))
}

func TestEachFindingHasItsRowAndWords(t *testing.T) {
	words := map[string]bool{}
	for f := range guard.Count {
		n := 0
		for _, r := range guard.Rows() {
			if r.Finding == f {
				n++
				require.Equal(t, "control/guard", r.By)
				require.NotEmpty(t, r.Within)
				require.Equal(t, f.Kind(), r.Kind)
			}
		}
		require.Positive(t, n, "%v has no row", f)
		require.False(t, words[f.String()])
		words[f.String()] = true
	}
	require.Equal(t, guard.Trip, guard.HeatAtZero.Kind())
	require.Equal(t, guard.Message, guard.Mains.Kind(), "a sag is never a trip")
	require.Equal(t, guard.Message, guard.Door.Kind())
	require.Equal(t, "nothing", guard.Count.String())
}

func BenchmarkStep(b *testing.B) {
	var st guard.State
	cfg := guard.Config{Model: guard.Model{Slope: 1, Dead: 30, Hold: 0.25, HoldAt: 200}}
	at := time.Duration(0)
	b.ReportAllocs()
	for b.Loop() {
		at += 250 * time.Millisecond
		guard.Step(cfg, &st, guard.Input{At: at, Good: true, Hot: 200, Duty: 0.25, Room: 22})
	}
}
