package keeper

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/probe/board"
	"strawline/probe/plant"
	"strawline/probe/port"
	"strawline/probe/sim"
	"strawline/probe/temp"
	"strawline/profiles"
)

func TestMain(m *testing.M) {
	if path := os.Getenv(keptChild); path != "" {
		os.Exit(keepOn(path))
	}
	goleak.VerifyTestMain(m)
}

// testClock is a clock of the time package, which inside a synctest bubble is the bubble's.
func testClock() Clock {
	start := time.Now()
	return Clock{
		Now:  func() time.Duration { return time.Since(start) },
		Wall: time.Now,
		Sleep: func(ctx context.Context, d time.Duration) {
			select {
			case <-ctx.Done():
			case <-time.After(d):
			}
		},
		Tick: func(d time.Duration) (<-chan time.Time, func()) {
			t := time.NewTicker(d)
			return t.C, t.Stop
		},
	}
}

// shop is a simulated board reached through memory, with a tap on the cable.
type shop struct {
	board *sim.Board
	mem   *sim.Memory

	mu     sync.Mutex
	tap    *tap          // the present opening; nil before the first
	gone   error         // what the next openings give
	stuck  chan struct{} // if set, a Write waits for it, or for its own stream's Close
	hangs  chan struct{} // if set, a Read waits for it
	clock  func() time.Duration
	quiet  bool     // nothing is kept of what passes
	said   []spoken // what the host wrote, in order
	heard  []spoken // what the host read
	closes []time.Duration
}

// spoken is one frame and when it passed the tap.
type spoken struct {
	at time.Duration
	f  board.Frame
}

func simSeed(seed uint64) sim.Config { return sim.Config{Seed: seed} }

func newShop(t testing.TB, c sim.Config) *shop {
	s := &shop{board: sim.New(c), clock: func() time.Duration { return 0 }}
	t.Cleanup(func() { s.board.Close() })
	var err error
	s.mem, err = s.board.Memory()
	require.NoError(t, err)
	return s
}

// open is the shop's port.Opener.
func (s *shop) open() (port.Stream, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.gone != nil {
		return nil, s.gone
	}
	c, err := s.mem.Open()
	if err != nil {
		return nil, err
	}
	s.tap = &tap{Conn: c, s: s, shut: make(chan struct{})}
	s.board.Opened()
	return s.tap, nil
}

// tap is an opening of the simulated link that sees and counts what passes.
type tap struct {
	*sim.Conn
	s    *shop
	sent uint64
	out  board.Decoder
	in   board.Decoder
	once sync.Once
	shut chan struct{}
}

func (c *tap) Write(p []byte) (int, error) {
	c.s.mu.Lock()
	stuck := c.s.stuck
	c.s.mu.Unlock()
	if stuck != nil {
		select {
		case <-stuck:
		case <-c.shut:
		}
		return 0, context.Canceled
	}
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	n, err := c.Conn.Write(p)
	c.sent += uint64(n)
	if c.s.quiet {
		return n, err
	}
	c.out.Feed(p[:n], func(f board.Frame, err error) {
		if err == nil {
			c.s.said = append(c.s.said, spoken{c.s.clock(), f})
		}
	})
	return n, err
}

func (c *tap) Read(p []byte) (int, error) {
	c.s.mu.Lock()
	hangs := c.s.hangs
	c.s.mu.Unlock()
	if hangs != nil {
		<-hangs
	}
	n, err := c.Conn.Read(p)
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	if c.s.quiet {
		return n, err
	}
	c.in.Feed(p[:n], func(f board.Frame, err error) {
		if err == nil {
			c.s.heard = append(c.s.heard, spoken{c.s.clock(), f})
		}
	})
	return n, err
}

func (c *tap) Close() error {
	c.once.Do(func() { close(c.shut) })
	c.s.mu.Lock()
	c.s.closes = append(c.s.closes, c.s.clock())
	c.s.mu.Unlock()
	return c.Conn.Close()
}

// grant gives the board its next 250 ms with all that the host has written.
func (s *shop) grant() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	sent := uint64(0)
	if s.tap != nil {
		sent = s.tap.sent
	}
	_, err := s.board.Grant(sent)
	return err
}

func (s *shop) last(list *[]spoken, is func(board.Frame) bool) (spoken, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := len(*list) - 1; i >= 0; i-- {
		if is((*list)[i].f) {
			return (*list)[i], true
		}
	}
	return spoken{}, false
}

func isDuty(f board.Frame) bool { _, ok := f.(board.Duty); return ok }

func temper(t testing.TB, soak time.Duration, times int) profiles.Profile {
	t.Helper()
	p, err := profiles.Temper(temp.F(400), soak, times, temp.DeltaF(10), temp.Fahrenheit)
	require.NoError(t, err)
	return *p
}

// longSoak goes to a temperature and stays there, asking nobody.
func longSoak(to temp.C, span time.Duration) profiles.Profile {
	return profiles.Profile{Name: "long", Title: "long", Unit: temp.Celsius, Limit: 240,
		Longest: span + 4*time.Hour, Steps: []profiles.Step{
			{Kind: profiles.Ramp, To: to, Band: 5},
			{Kind: profiles.Soak, To: to, For: span, Band: 5},
		}}
}

// config is a run of p in the shop, on a real port as far as the keeper knows.
func (s *shop) config(t testing.TB, p profiles.Profile) Config {
	return Config{Open: s.open, Run: "t", Profile: p, Unit: p.Unit, Gains: control.CautiousGains(),
		Oven: "A", Limit: 250, Roles: []string{"oven air"}, Clock: testClock(),
		Blade: &control.BladeInfo{ThickMM: 4}, Out: filepath.Join(t.TempDir(), "run.jsonl")}
}

// lockstep is the same with the simulated person, in lockstep.
func (s *shop) lockstep(t testing.TB, p profiles.Profile, seed uint64, who Person) Config {
	c := s.config(t, p)
	c.Sim = &Simulation{Board: s.board, Oven: plant.A(), Seed: seed, Person: who}
	return c
}

// records reads a whole run file back.
func records(t testing.TB, path string) []control.Record {
	t.Helper()
	f, err := runlog.Open(path)
	require.NoError(t, err)
	defer f.Close()
	require.Empty(t, f.Lost())
	all, err := f.All()
	require.NoError(t, err)
	return all
}

func events(rs []control.Record, kind control.EventKind) (es []control.Event) {
	for _, r := range rs {
		if r.Event != nil && r.Event.Kind == kind {
			es = append(es, *r.Event)
		}
	}
	return es
}
