package keeper

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/probe/board"
	"strawline/probe/sim"
	"strawline/probe/temp"
	"strawline/profiles"
)

// seedsVariable sets how many seeds TestInvariants takes, for long runs.
const seedsVariable = "STRAWLINE_SEEDS"

func seeds(t *testing.T) int {
	n := usualSeeds
	if s := os.Getenv(seedsVariable); s != "" {
		var err error
		n, err = strconv.Atoi(s)
		require.NoError(t, err, seedsVariable)
	}
	return n
}

// shortTemper is a job of less than an hour: blade in, soak, cool, and a second soak.
func shortTemper() profiles.Profile {
	say := func(l profiles.Load, heat bool) profiles.Step {
		return profiles.Step{Kind: profiles.Wait, Say: "do it", Heat: heat, Most: 30 * time.Minute, Load: l}
	}
	ramp := profiles.Step{Kind: profiles.Ramp, To: 120, Band: 6}
	soak := profiles.Step{Kind: profiles.Soak, To: 120, For: 4 * time.Minute, Band: 6}
	return profiles.Profile{Name: "short", Title: "short", Unit: temp.Celsius, Limit: 150,
		Longest: 3 * time.Hour, Steps: []profiles.Step{ramp, say(profiles.LoadIn, true), soak,
			{Kind: profiles.Cool, To: 110}, ramp, soak}}
}

// shopFaults draws up to five faults, some on top of each other.
func shopFaults(r *rand.Rand) (fs []sim.Fault) {
	kinds := []sim.Kind{sim.Open, sim.SSRShort, sim.HostSilent, sim.Restart, sim.Garbage, sim.Unplug,
		sim.DoorOpen, sim.NoHeat, sim.Weak, sim.Sag, sim.Fallen, sim.LeadShort, sim.WarmBoard}
	for range r.IntN(6) {
		f := sim.Fault{Kind: kinds[r.IntN(len(kinds))],
			At: 5*time.Second + time.Duration(r.Int64N(int64(25*time.Minute)))}
		switch f.Kind {
		case sim.SSRShort, sim.NoHeat, sim.Weak, sim.Sag, sim.Fallen, sim.LeadShort,
			sim.WarmBoard: // or it would never end
			f.For = time.Duration(1+r.IntN(180)) * time.Second
		case sim.Restart:
		default:
			f.For = time.Duration(1+r.IntN(10)) * Tick // most are doubts that pass
			if r.IntN(3) == 0 {
				f.For *= time.Duration(1 + r.IntN(50))
			}
		}
		fs = append(fs, f)
	}
	return fs
}

// witness stands beside a lockstep run: it sees the board's true output and what passes the
// cable, and knows nothing of the engine's insides.
type witness struct {
	s      *shop
	faults []sim.Fault
	now    func() time.Duration // simulated, as the keeper counts
	snap   func() control.Snapshot

	on       time.Duration // Truth.On so far
	accepted uint16
	has      bool
	moved    time.Duration // when the board last took a command
	said     int           // how many of the shop's frames were looked at
	heard    int
	tripped  time.Duration // since when a trip stands; -1 if none
	wrong    []string
}

func (w *witness) complain(format string, args ...any) {
	if len(w.wrong) < 5 {
		w.wrong = append(w.wrong, fmt.Sprintf("%v: ", w.now())+fmt.Sprintf(format, args...))
	}
}

// stood reports whether a fault of one of the kinds stood at any time from..to of the board.
func (w *witness) stood(from, to time.Duration, kinds ...sim.Kind) bool {
	for _, f := range w.faults {
		span := f.For
		if f.Kind == sim.Restart {
			span = sim.BootTime + time.Second
		}
		for _, k := range kinds {
			if f.Kind == k && f.At <= to && f.At+span >= from {
				return true
			}
		}
	}
	return false
}

// step is called behind each step of the engine, which followed a grant of 250 ms.
func (w *witness) step(duty int) {
	truth, now := w.s.board.Truth(), w.now()
	gave := truth.On - w.on
	w.on = truth.On
	for ; w.heard < len(w.s.heard); w.heard++ {
		if r, ok := w.s.heard[w.heard].f.(board.Reading); ok {
			if w.has && r.Accepted != w.accepted {
				w.moved = now
			}
			w.has, w.accepted = true, r.Accepted
		}
	}
	for ; w.said < len(w.s.said); w.said++ {
		// Where the answers are not readable, a command that was sent may have been taken.
		if isDuty(w.s.said[w.said].f) && w.stood(truth.Now-time.Second, truth.Now+Tick, sim.Garbage) {
			w.moved = now
		}
	}
	if gave > 0 && now-w.moved > board.DeadManAfter+2*Tick {
		w.complain("output on %v after the last accepted command", now-w.moved)
	}
	s := w.snap()
	if s.Phase == control.PhaseRunning {
		w.tripped = -1
	} else if w.tripped < 0 {
		w.tripped = now
	}
	if s.Phase != control.PhaseRunning {
		if duty != 0 {
			w.complain("duty %d while %s", duty, s.Phase)
		}
		late := w.tripped + Tick // the board has duty 0 in hand for the whole of the next grant
		if w.stood(truth.Now-5*time.Second, truth.Now, sim.HostSilent, sim.Garbage) {
			late = w.tripped + board.DeadManAfter + Tick
		}
		if gave > 0 && now >= late {
			w.complain("output on while %s for %v", s.Phase, now-w.tripped)
		}
	}
	if duty > 0 && !s.HasTemp {
		w.complain("duty %d without a reading", duty)
	}
}

// seen counts what happened in runs.
type seen struct {
	mu    sync.Mutex
	ends  map[string]int
	kinds map[control.EventKind]int
	hours float64
	heard int // faults
}

// partVariable moves the first seed on, for long runs in parts.
const partVariable = "STRAWLINE_PART"

func firstSeed(t *testing.T) uint64 {
	s := os.Getenv(partVariable)
	if s == "" {
		return 1
	}
	part, err := strconv.ParseUint(s, 10, 32)
	require.NoError(t, err, partVariable)
	return 1 + (part-1)*uint64(seeds(t))
}

// TestInvariants runs the whole lockstep with random faults and judges each grant by the board's
// true output, and the run file by its own records alone. Two halves of the seeds go at once.
func TestInvariants(t *testing.T) {
	sum := seen{ends: map[string]int{}, kinds: map[control.EventKind]int{}}
	from, n := firstSeed(t), uint64(seeds(t))
	t.Run("halves", func(t *testing.T) {
		for half := range uint64(2) {
			t.Run(strconv.FormatUint(half, 10), func(t *testing.T) {
				t.Parallel()
				for seed := from + half; seed < from+n; seed += 2 {
					invariants(t, seed, &sum)
				}
			})
		}
	})
	t.Logf("seeds %d to %d: %.1f simulated hours, %d faults, ends %v, events %v", from, from+n-1,
		sum.hours, sum.heard, sum.ends, sum.kinds)
	if n < 30 { // fewer may hold no trip, or no doubt that passes
		return
	}
	require.Positive(t, sum.ends["done"])
	require.Positive(t, sum.kinds[control.EvTrip])
	require.Positive(t, sum.kinds[control.EvClear])
	require.Positive(t, sum.kinds[control.EvGoOn])
}

// invariants is one seed.
func invariants(t *testing.T, seed uint64, sum *seen) {
	faults := shopFaults(rand.New(rand.NewPCG(seed, 99)))
	name := fmt.Sprintf("seed %d, faults %v", seed, faults)
	s := newShop(t, sim.Config{Seed: seed, Faults: faults})
	c := s.lockstep(t, shortTemper(), seed, GoesOn)
	if seed%3 == 0 {
		c.Blade = nil // judged by the air
	}
	busy := meddle(seed, &c)
	w := &witness{s: s, faults: faults, tripped: -1}
	var k *Keeper
	c.Records = func(r control.Record) {
		if r.Sample != nil {
			w.step(r.Sample.Duty)
			busy(r.Sample.T, k.x.ask)
		}
	}
	var err error
	k, err = Prepare(t.Context(), c)
	if err != nil { // a fault in the first seconds: nothing was heated
		require.ErrorIs(t, err, ErrNoProof, name)
		return
	}
	w.now = func() time.Duration { return k.now }
	w.snap = k.engine.Snapshot
	s.clock = w.now
	res, err := k.Run(t.Context())
	require.NoError(t, err, name)
	require.Empty(t, w.wrong, name)
	requireOffForGood(t, s)
	rs := records(t, c.Out)
	require.Empty(t, judgeFile(rs), name)
	require.Empty(t, judgeLoop(k.Info(), rs), name)
	judgeSoak(t, name, k.Info(), rs)
	judgeReplay(t, name, c.Out, res)
	require.NoError(t, os.Remove(c.Out)) // thousands of them fill a disk
	sum.mu.Lock()
	defer sum.mu.Unlock()
	sum.ends[res.Word]++
	sum.hours += res.Last.T.Hours()
	sum.heard += len(faults)
	for _, r := range rs {
		if r.Event != nil {
			sum.kinds[r.Event.Kind]++
		}
	}
}

// judgeFile reads a run file with the eyes of someone who was not there.
func judgeFile(rs []control.Record) (wrong []string) {
	const never = -time.Hour
	var (
		good            = never // when the last good reading came
		latch, link     = "none", ""
		trip, doubt     bool
		acked, reset    bool
		lastT           time.Duration
		complain        = func(t time.Duration, what string) { wrong = append(wrong, fmt.Sprintf("%v: %s", t, what)) }
		done            = func(e *control.Event, k control.AskKind) bool { return e.Ask.Kind == k && e.Word == "done" }
		goodSinceDoubt  int
		over            bool
		answered        = never
		lastEventSample = 0
	)
	for i, r := range rs {
		if e := r.Event; e != nil {
			lastEventSample = i
			switch e.Kind {
			case control.EvLatch:
				latch = e.Word
			case control.EvLink:
				link = e.Word
			case control.EvTrip:
				trip, doubt, acked, reset = true, false, false, false
			case control.EvDoubt:
				doubt, goodSinceDoubt = true, 0
			case control.EvClear:
				doubt = false
				if goodSinceDoubt < control.TrustAfter-1 { // the third stands behind this event
					complain(e.T, "heat given back too early")
				}
			case control.EvAsk:
				acked = acked || trip && done(e, control.AskAcknowledge)
				reset = reset || acked && done(e, control.AskReset)
			case control.EvGoOn:
				if !trip || !acked || !reset {
					complain(e.T, "a trip ended without a person's three acts")
				}
				trip = false
			case control.EvEnd:
				over = true
			}
			continue
		}
		s := r.Sample
		if s.T < lastT {
			complain(s.T, "time went back")
		}
		lastT = s.T
		if len(s.HasRaw) > 0 && s.HasRaw[0] {
			if latch == "none" {
				answered = s.T
			}
			if len(s.Temp) > 0 && s.Temp[0] != nil {
				good = s.T
				goodSinceDoubt++
			} else {
				goodSinceDoubt = 0
			}
		}
		if s.Duty > 0 {
			switch {
			case trip, over, doubt:
				complain(s.T, "duty while a trip or a doubt stands, or after the end")
			case s.T-good > control.MaxAge:
				complain(s.T, "duty on a reading that is too old")
			case latch != "none" || s.T-answered > control.MaxAge:
				complain(s.T, "duty without an unlatched answer")
			case link != "up":
				complain(s.T, "duty on a link that is "+link)
			}
		}
	}
	if lastEventSample == 0 || !over {
		complain(lastT, "the file has no end")
	}
	return wrong
}

// soakCount adds up the credit of each step from the samples of a run file, for a band that is
// wider by slack on both sides.
type soakCount struct {
	slack  temp.Delta
	credit map[int]time.Duration
	at     time.Duration
	has    bool // the sample before was good and inside
}

func (c *soakCount) sample(step int, st profiles.Step, s *control.Sample) {
	good := len(s.Temp) > 0 && s.Temp[0] != nil
	in := false
	if good {
		// The file keeps a modelled blade to 0.1 °C and a reading to 0.01 °C.
		judged, lost := *s.Temp[0], temp.Delta(0.005)
		if s.Blade != nil {
			judged, lost = *s.Blade, 0.05
		}
		off, most := temp.C(judged).Sub(st.To), st.Band+c.slack*lost
		in = off >= -most && off <= most
	}
	if st.Kind == profiles.Soak && c.has && in && s.T-c.at <= control.SoakApart {
		c.credit[step] += s.T - c.at
	}
	c.at, c.has = s.T, in
}

// judgeSoak counts the soak credit again from the file's samples and compares it with the
// engine's, which the samples carry too: the figures in the file are rounded, so that it lies
// between a count with the band narrower and one with it wider by what rounding takes.
func judgeSoak(t *testing.T, name string, info control.Info, rs []control.Record) {
	t.Helper()
	least := soakCount{slack: -1.01, credit: map[int]time.Duration{}}
	most := soakCount{slack: 1.01, credit: map[int]time.Duration{}}
	said := map[int]time.Duration{}
	step := 0
count:
	for _, r := range rs {
		if e := r.Event; e != nil {
			if e.Kind == control.EvStep {
				step, least.has, most.has = *e.Step, false, false
			}
			if e.Kind == control.EvEnd {
				break count
			}
			continue
		}
		s := r.Sample
		if s.Soak != nil {
			said[step] = time.Duration(*s.Soak * float64(time.Second))
		}
		if len(s.HasRaw) > 0 && s.HasRaw[0] { // a reading came in this step
			st := info.Profile.Steps[step]
			least.sample(step, st, s)
			most.sample(step, st, s)
		}
	}
	for i, d := range said {
		require.GreaterOrEqual(t, d, least.credit[i]-2*Tick, "%s: step %d", name, i)
		require.LessOrEqual(t, d, most.credit[i]+2*Tick, "%s: step %d", name, i)
	}
}

// judgeReplay folds the file and compares with what the run showed last.
func judgeReplay(t *testing.T, name, path string, res Result) {
	t.Helper()
	f, err := runlog.Open(path)
	require.NoError(t, err)
	defer f.Close()
	v := control.NewView(f.Info)
	for r, err := range f.Records() {
		require.NoError(t, err)
		v.Apply(r)
	}
	require.Equal(t, res.Last, v.Snapshot(), name)
}
