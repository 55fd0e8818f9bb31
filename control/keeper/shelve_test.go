package keeper

import (
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/alarm"
	"strawline/probe/sim"
)

// shelver is a person who now and then shelves an alarm or brings one back, also such as may not
// be shelved. It draws from numbers of its own, so that it changes nothing else of a seed.
func shelver(seed uint64) func(time.Duration, func(control.Ask)) {
	r := rand.New(rand.NewPCG(seed, 11))
	codes := []string{alarm.OffPlan, alarm.OffPlan, alarm.WeakHeat, alarm.BoardWarm}
	for _, d := range alarm.First() {
		codes = append(codes, d.Code)
	}
	next := time.Duration(0)
	return func(now time.Duration, ask func(control.Ask)) {
		if now < next {
			return
		}
		next = now + time.Duration(1+r.IntN(300))*time.Second
		a := control.Ask{Kind: control.AskShelve, Code: codes[r.IntN(len(codes))],
			Seconds: float64(r.IntN(2000)), Text: "because"}
		if r.IntN(4) == 0 {
			a = control.Ask{Kind: control.AskUnshelve, Code: a.Code}
		}
		ask(a)
	}
}

// TestShelvingLeavesAWholeRunAsItIs: the same seed and faults give the same samples, doubts, trips
// and ends whether a person shelves alarms or not.
func TestShelvingLeavesAWholeRunAsItIs(t *testing.T) {
	hidden, tripped := 0, 0
	run := func(seed uint64, shelves func(time.Duration, func(control.Ask))) []control.Record {
		faults := shopFaults(rand.New(rand.NewPCG(seed, 99)))
		s := newShop(t, sim.Config{Seed: seed, Faults: faults})
		c := s.lockstep(t, shortTemper(), seed, GoesOn)
		var k *Keeper
		c.Records = func(r control.Record) {
			if r.Sample != nil {
				shelves(r.Sample.T, k.x.ask)
			}
		}
		var err error
		k, err = Prepare(t.Context(), c)
		if err != nil { // a fault in the first seconds: nothing was heated
			require.ErrorIs(t, err, ErrNoProof)
			return nil
		}
		_, err = k.Run(t.Context())
		require.NoError(t, err)
		var out []control.Record
		for _, r := range records(t, c.Out) {
			e := r.Event
			switch {
			case e == nil:
			case e.Kind == control.EvAlarm:
				if e.Word == alarm.G.String() {
					hidden++
				}
				continue
			case e.Ask != nil && (e.Ask.Kind == control.AskShelve || e.Ask.Kind == control.AskUnshelve):
				continue
			case e.Kind == control.EvTrip:
				tripped++
			}
			out = append(out, r)
		}
		return out
	}
	n := 4
	if os.Getenv(seedsVariable) != "" {
		n = seeds(t)
	}
	for seed := uint64(1); seed <= uint64(n); seed++ {
		// The simulated person does not look in a step that has asks already: it has as many here.
		as := shelver(seed)
		bare := run(seed, func(now time.Duration, ask func(control.Ask)) {
			as(now, func(control.Ask) { ask(control.Ask{Kind: control.AskUnshelve}) })
		})
		shelved := run(seed, shelver(seed))
		require.Len(t, shelved, len(bare), "seed %d", seed)
		for i := range bare {
			require.Equal(t, bare[i], shelved[i], "seed %d", seed)
		}
	}
	t.Logf("%d seeds: %d times shelved, %d trips", n, hidden, tripped/2)
	require.Positive(t, hidden)
	require.Positive(t, tripped)
}
