package keeper

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/probe/sim"
	"strawline/probe/temp"
	"strawline/profiles"
)

// day is a sound oven in a lockstep run, with what a shop does to it.
type day struct {
	r     *rand.Rand
	board *sim.Board
	oven  oven
	steps []profiles.Step
	ask   func(control.Ask)
	span  time.Duration // after which the run is stopped
	stop  func(error)

	step  int
	open  time.Duration // since when the door is, by nobody in the profile; 0 not
	shut  time.Duration // when it will be
	moved bool
	next  time.Duration // when something happens again
}

// profile gives a real job: the tempers that are built in, one made on the spot, or a heat with
// nothing in it.
func (d *day) profile(t *testing.T) profiles.Profile {
	names := profiles.Names()
	switch i := d.r.IntN(6); {
	case i < len(names):
		p, err := profiles.Builtin(names[i])
		require.NoError(t, err)
		return *p
	case i == 3:
		p, err := profiles.Temper(temp.F(350+5*float64(d.r.IntN(18))), time.Hour, 2, temp.DeltaF(10),
			temp.Fahrenheit)
		require.NoError(t, err)
		return *p
	}
	to := temp.C(math.Round(140 + 70*d.r.Float64()))
	p := longSoak(to, 5*time.Hour)
	p.Limit = to.Add(35)
	if d.r.IntN(2) == 0 {
		p.Steps[0].Rate = (2 + 6*d.r.Float64()) / 60
	}
	return p
}

// record is called behind each record: doors, blades, mains and setpoints at moments of chance.
func (d *day) record(r control.Record) {
	if e := r.Event; e != nil {
		if e.Kind == control.EvStep {
			d.step = *e.Step
		}
		return
	}
	now := r.Sample.T
	if now > d.span {
		d.stop(errors.New("enough"))
	}
	waits := d.steps[d.step].Kind == profiles.Wait // then the door is the person's
	if d.open > 0 {
		d.standing(now, waits)
		return
	}
	if now < d.next || waits {
		return
	}
	first := d.next == 0
	d.next = now + time.Duration(15+d.r.IntN(40))*time.Minute
	if first {
		return
	}
	switch d.r.IntN(5) {
	case 0, 1:
		d.open, d.moved = now, false
		d.shut = now + time.Duration(5+d.r.IntN(21))*time.Second
		d.board.Door(true)
	case 2, 3:
		d.board.Mains(0.9 + 0.2*d.r.Float64())
	default:
		to := float64(d.steps[d.step].To) - 25 + 40*d.r.Float64()
		d.ask(control.Ask{Kind: control.AskSet, TempC: math.Round(to), By: personName})
	}
}

// standing has the door open, and in its middle perhaps a blade goes in or out.
func (d *day) standing(now time.Duration, waits bool) {
	if !d.moved && now >= (d.open+d.shut)/2 && !waits {
		d.moved = true
		switch d.r.IntN(4) {
		case 0:
			d.board.BladeIn(d.oven.plant.Blade, d.oven.plant.Room)
		case 1:
			d.board.BladeIn(d.oven.plant.Blade, 260)
		case 2:
			d.board.BladeOut()
		}
	}
	if now >= d.shut {
		d.open = 0
		d.board.Door(false)
	}
}

// peace is what the run files of sound ovens have of what they should not have.
type peace struct {
	hours            float64
	trips, doubts    []string
	alarms           map[string]int
	told             map[string]int // messages
	crowded, chatter int
	notes            []string
}

// add reads a run file.
func (p *peace) add(name string, rs []control.Record) {
	var raised []time.Duration
	last := ""
	turns := map[string][]time.Duration{} // each time that an alarm comes
	for _, r := range rs {
		e := r.Event
		if e == nil {
			continue
		}
		what := fmt.Sprintf("%s: %v %s", name, e.T, e.Text)
		switch e.Kind {
		case control.EvTrip:
			p.trips = append(p.trips, what)
		case control.EvDoubt:
			p.doubts = append(p.doubts, what)
		case control.EvOven:
			p.told[e.Text]++
		case control.EvUnlike:
			p.told["unlike: "+e.Text]++
		case control.EvAlarm:
			if e.Word != "B" {
				continue
			}
			p.alarms[e.Code]++
			if n := len(raised); n > 0 && e.T-raised[n-1] < 10*time.Minute {
				p.crowded++
				p.notes = append(p.notes, fmt.Sprintf("%s: %s at %v, %v after %s", name, e.Code, e.T,
					e.T-raised[n-1], last))
			}
			raised, last = append(raised, e.T), e.Code
			turns[e.Code] = append(turns[e.Code], e.T)
			if ts := turns[e.Code]; len(ts) >= 3 && e.T-ts[len(ts)-3] <= time.Minute {
				p.chatter++
				p.notes = append(p.notes, fmt.Sprintf("%s: %s chatters at %v", name, e.Code, e.T))
			}
		}
	}
	p.hours += rs[len(rs)-1].Sample.T.Hours()
}

// clean runs one day.
func clean(t *testing.T, seed uint64, n int, span time.Duration) (string, []control.Record) {
	r := rand.New(rand.NewPCG(seed, 1_000_000+uint64(n)))
	d := &day{r: r, span: span}
	d.oven = newOven(r, n, [...]float64{0, 0.1, 0.25, 0.5, 0.8}[n%5], n%3 == 2)
	noise := temp.Delta(d.oven.noise)
	if noise == 0 {
		noise = -1
	}
	s := newShop(t, sim.Config{Seed: r.Uint64(), Plant: d.oven.plant, Noise: noise})
	s.quiet = true
	p := d.profile(t)
	cfg := s.lockstep(t, p, seed, Away)
	cfg.Model, cfg.Gains, cfg.Sim.Oven = d.oven.model, d.oven.gains, d.oven.plant
	if p.Name == "long" {
		cfg.Blade = nil
	}
	ctx, stop := context.WithCancelCause(t.Context())
	defer stop(nil)
	d.board, d.steps, d.stop = s.board, p.Steps, stop
	cfg.Records = d.record
	name := fmt.Sprintf("seed %d/%d, %s", seed, n, p.Name)
	k, err := Prepare(ctx, cfg)
	require.NoError(t, err, name)
	d.ask = k.x.ask
	_, err = k.Run(ctx)
	require.NoError(t, err, name)
	rs := records(t, cfg.Out)
	require.NoError(t, os.Remove(cfg.Out))
	return name, rs
}

// TestSoundOvensAreLeftInPeace runs sound ovens through doors, cold and hot blades, mains within
// ±10 %, setpoints that are changed, nothing in them, slow probes, quiet and noisy chips: no trip,
// no doubt, at most one alarm in ten minutes, and none that chatters. What a person does beside the
// profile comes a quarter of an hour apart or more.
func TestSoundOvensAreLeftInPeace(t *testing.T) {
	seed, _, days := wholeSize(t)
	span := 10 * time.Hour
	if days == 2 {
		span = 4 * time.Hour
	}
	sum := peace{alarms: map[string]int{}, told: map[string]int{}}
	var mu sync.Mutex
	t.Run("halves", func(t *testing.T) {
		for half := range 2 {
			t.Run(fmt.Sprint(half), func(t *testing.T) {
				t.Parallel()
				for i := half; i < days; i += 2 {
					t.Run(fmt.Sprint(i), func(t *testing.T) {
						name, rs := clean(t, seed, i, span)
						mu.Lock()
						defer mu.Unlock()
						sum.add(name, rs)
					})
				}
			})
		}
	})
	sum.print(t)
	if os.Getenv(partVariable) == "" {
		assert.Empty(t, sum.trips, "trips of sound ovens")
		assert.Empty(t, sum.doubts, "doubts of sound ovens")
		assert.Zero(t, sum.crowded, "two alarms in ten minutes")
		assert.Zero(t, sum.chatter, "alarms that chatter")
	}
}

// print writes the lines that .ci/long reads, and what is to be looked into.
func (p *peace) print(t *testing.T) {
	for _, n := range slices.Concat(p.trips, p.doubts, p.notes) {
		t.Log(n)
	}
	t.Logf("clean %.1f hours; trips %d; doubts %d; crowded %d; chatter %d", p.hours, len(p.trips),
		len(p.doubts), p.crowded, p.chatter)
	for _, code := range slices.Sorted(maps.Keys(p.alarms)) {
		t.Logf("alarm %s %d", code, p.alarms[code])
	}
	for _, text := range slices.Sorted(maps.Keys(p.told)) {
		t.Logf("message %d; %s", p.told[text], text)
	}
}
