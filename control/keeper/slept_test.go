package keeper

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/probe/sim"
	"strawline/probe/temp"
)

// sleepRow is the row of guard.Rows that TestSleepsAndJumpsInTime has; by is its latest time.
const (
	sleepRow = "computer slept, clock jumped"
	sleepBy  = 2 * time.Second
)

// nap is one sleep of the computer, or one jump of its wall clock.
type nap struct {
	name   string
	span   time.Duration // of the sleep
	jump   time.Duration // of the wall clock beside it
	counts bool          // the run's clock counts a sleep
	tells  control.EventKind
	text   string
}

// napOf draws one: a sleep that is a trip, which the run's clock counts or not, one that is a
// doubt, or a clock that is set, which is told and costs nothing.
func napOf(r *rand.Rand, n int) nap {
	long := time.Duration(11e9 * math.Pow(7854, r.Float64())) // 11 s to 24 h
	short := time.Duration((2.5 + 6*r.Float64()) * float64(time.Second))
	switch n % 4 {
	case 0:
		return nap{"sleep, counted", long, 0, true, control.EvTrip, "stood still for"}
	case 1:
		return nap{"sleep, not counted", long, 0, false, control.EvTrip, "stood still for"}
	case 2:
		return nap{"short sleep", short, 0, true, control.EvDoubt, "stood still"}
	}
	jump := jumps[r.IntN(len(jumps))]
	return nap{fmt.Sprintf("clock set by %v", jump), 0, jump, true, control.EvNote, "clock was put"}
}

// doze lets one nap come over a run that heats, and gives how long it took to stand in the run
// file, on the computer's clock, and for how long the board's output was on behind the latest
// time.
func doze(t *testing.T, seed uint64, n int) (took, heat time.Duration, found bool, z nap) {
	r := rand.New(rand.NewPCG(seed, 2_000_000+uint64(n)))
	z = napOf(r, n)
	ov := newOven(r, n, 0.35, false)
	delay := time.Minute + time.Duration(r.Int64N(int64(2*time.Minute)))
	synctest.Test(t, func(t *testing.T) {
		l := liveOn(t, sim.Config{Seed: r.Uint64(), Plant: ov.plant, Noise: temp.Delta(ov.noise)})
		defer l.off()
		l.cfg.Model, l.cfg.Gains, l.cfg.Clock.CountsSleep = ov.model, ov.gains, z.counts
		var slept, set atomic.Int64
		now, wall := l.cfg.Clock.Now, l.cfg.Clock.Wall
		l.cfg.Clock.Wall = func() time.Time {
			return wall().Add(time.Duration(slept.Load() + set.Load()))
		}
		l.cfg.Clock.Now = func() time.Duration {
			if z.counts {
				return now() + time.Duration(slept.Load())
			}
			return now()
		}
		l.prepare()
		begun := now() + Tick // the run's time is 0 at its first step
		var woke time.Duration
		go func() {
			time.Sleep(delay)
			woke = now()
			slept.Store(int64(z.span))
			set.Store(int64(z.jump))
		}()
		_, err := l.run(delay + 20*time.Second)
		require.NoError(t, err)
		rs := records(t, l.k.Out())
		require.NoError(t, os.Remove(l.k.Out()))
		for _, e := range events(rs, z.tells) {
			if strings.Contains(e.Text, z.text) && !found {
				found, took = true, e.T+begun-woke-z.span
			}
		}
		require.Positive(t, l.heatAfter(0), "it heats")
		if z.tells == control.EvTrip {
			heat = l.heatAfter(woke + sleepBy)
		}
	})
	return took, heat, found, z
}

// TestSleepsAndJumpsInTime lets the computer sleep, and its clock be set, while a run on a real
// port heats: by the injected clock, in a bubble, since the time of a lockstep run is grants. The
// simulated board stands still while the computer sleeps.
func TestSleepsAndJumpsInTime(t *testing.T) {
	seed, times, _ := wholeSize(t)
	if times == 1 {
		times = 4 // one of each
	}
	var y tally
	for n := range times {
		took, heat, found, z := doze(t, seed, n)
		late := found && (took > sleepBy || heat > 0)
		y.add(outcome{missed: !found, late: late, took: took, off: heat})
		if !found || late {
			t.Logf("%s, seed %d/%d: found %v after %v, %v of heat behind the latest", z.name, seed, n,
				found, took, heat)
		}
	}
	y.print(t, sleepRow, "on the injected clock", sleepBy)
	if os.Getenv(partVariable) == "" {
		require.Zero(t, y.missed+y.late)
	}
}
