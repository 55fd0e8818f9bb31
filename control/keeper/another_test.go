package keeper

import (
	"context"
	"errors"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/probe/plant"
	"strawline/probe/port"
	"strawline/probe/sim"
)

// exchanged is a name that leads to one board and, once it was swapped, to the other. Both boards
// go on through it.
type exchanged struct {
	is, other *shop
	now       time.Duration
	swaps     []time.Duration // times at which the one is pulled out and the other plugged in
}

func newExchanged(t *testing.T, other sim.Config, swaps ...time.Duration) *exchanged {
	x := &exchanged{is: newShop(t, sim.Config{Seed: 1}), other: newShop(t, other), swaps: swaps}
	x.other.board.Pull(true)
	return x
}

func (x *exchanged) open() (port.Stream, error) { return x.is.open() }

// Grant gives both boards their time. At a swap the name is gone for the rest of a grant.
func (x *exchanged) Grant(sent uint64) (said uint64, err error) {
	x.now += Tick
	if len(x.swaps) > 0 && x.now >= x.swaps[0] {
		x.swaps = x.swaps[1:]
		x.is.board.Pull(true)
		defer func() {
			x.is, x.other = x.other, x.is
			x.is.board.Pull(false)
		}()
	}
	if said, err = x.is.board.Grant(sent); err == nil {
		_, err = x.other.board.Grant(0)
	}
	return said, err
}

// config is a run of an hour and a half through the name, with a person who goes on after trips.
func (x *exchanged) config(t *testing.T) Config {
	c := x.is.config(t, longSoak(150, time.Hour))
	c.Open = x.open
	c.Sim = &Simulation{Grants: x, Oven: plant.A(), Person: GoesOn}
	return c
}

// TestNoHeatThroughAnotherBoard: a board that takes the name of the run's board gets no heat, be it
// one that starts at an opening or one that runs on, although a person tries to go on every two
// minutes; nor are its readings taken. The run says what it found. When the first board is back and
// a person goes on, the run ends as it should.
func TestNoHeatThroughAnotherBoard(t *testing.T) {
	for _, apart := range []bool{false, true} {
		x := newExchanged(t, sim.Config{Seed: 2, Name: "straw-two", Apart: apart, Start: 200},
			10*time.Minute, 20*time.Minute)
		first, second := x.is, x.other
		c := x.config(t)
		var on time.Duration // of the first board when it was pulled out
		c.Records = func(r control.Record) {
			if e := r.Event; e != nil && e.Kind == control.EvTrip && on == 0 {
				on = first.board.Truth().On
			}
			if r.Sample != nil && r.Sample.T > 10*time.Minute && r.Sample.T < 20*time.Minute {
				require.Zero(t, r.Sample.Duty, r.Sample.T)
				require.Empty(t, r.Sample.Temp, "of another oven")
			}
		}
		res, _ := run(t, c)
		require.Equal(t, "done", res.Word, res.Why)
		require.Zero(t, second.board.Truth().On)
		for _, s := range second.said {
			require.False(t, isDuty(s.f), "%v", s.f)
		}
		require.Positive(t, on)
		require.Greater(t, first.board.Truth().On, on, "it has heated on afterwards")

		rs := records(t, c.Out)
		const found = "found straw-two (MAX31855K, channels 1, ceiling 320 °C, start "
		var seen []control.Event
		for _, e := range events(rs, control.EvLink) {
			if e.Word == "another board" {
				seen = append(seen, e)
			}
		}
		require.Len(t, seen, 1)
		require.Contains(t, seen[0].Text, found)
		require.Contains(t, seen[0].Text, " in the place of straw-sim (MAX31855K, ")
		require.Less(t, seen[0].T, 10*time.Minute+5*time.Second)
		trips, on2 := events(rs, control.EvTrip), events(rs, control.EvGoOn)
		require.NotEmpty(t, trips)
		require.Equal(t, "another board is on the port: "+seen[0].Text, trips[0].Text)
		require.Len(t, on2, 1, "while the other board was there nobody could go on")
		require.Greater(t, on2[0].T, 20*time.Minute)
		require.InDelta(t, 3600, *events(rs, control.EvSoaked)[0].SpanS, 1)
	}
}

// TestARunIsNotTakenUpOnAnotherBoard, which is said with both names; on its own it is.
func TestARunIsNotTakenUpOnAnotherBoard(t *testing.T) {
	x := newExchanged(t, sim.Config{Seed: 2, Name: "straw-two"}, time.Hour)
	c := x.config(t)
	ctx, stop := context.WithCancelCause(t.Context())
	half := c.Out + ".half"
	c.Records = func(r control.Record) {
		if r.Sample == nil || r.Sample.T != 5*time.Minute {
			return
		}
		data, err := os.ReadFile(c.Out)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(half, data, 0o600))
		stop(errors.New("enough"))
	}
	k, err := Prepare(ctx, c)
	require.NoError(t, err)
	_, err = k.Run(ctx)
	require.NoError(t, err)

	again := func(name string) error {
		s := newShop(t, sim.Config{Seed: 3, Name: name})
		c := s.lockstep(t, longSoak(150, time.Hour), 3, Away)
		c.Resume, c.Out = true, half
		k, err := Prepare(t.Context(), c)
		if err != nil {
			return err
		}
		ctx, stop := context.WithCancel(t.Context())
		stop()
		_, err = k.Run(ctx)
		return err
	}
	require.EqualError(t, again("straw-two"),
		"another board is on the port: it calls itself straw-two, and the run began with straw-sim")
	require.NoError(t, again(""))
}
