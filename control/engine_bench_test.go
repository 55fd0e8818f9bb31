package control_test

import (
	"testing"
	"time"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/temp"
	"strawline/profiles"
)

// benchEngine is an engine in a soak, as the keeper makes it, with so many channels.
func benchEngine(b *testing.B, channels int) (*control.Engine, func()) {
	b.Helper()
	info := control.Info{Schema: 1, Unit: "C", Start: time.Date(2026, 1, 5, 8, 0, 0, 0, time.UTC),
		Gains: control.CautiousGains(), Shop: control.Shop{LimitC: 250, BoardLimC: 260, CeilingC: 300},
		Profile: profiles.Profile{Name: "b", Unit: temp.Celsius, Limit: 240, Longest: 1 << 62,
			Steps: []profiles.Step{{Kind: profiles.Soak, To: 200, For: 1 << 61, Band: 5}}}}
	for range channels {
		info.Shop.Channels = append(info.Shop.Channels, "probe")
	}
	e, err := control.New(control.Config{Info: info, Belief: belief.Default(),
		Keep: runlog.RoundRecord})
	if err != nil {
		b.Fatal(err)
	}
	now := time.Duration(0)
	batch := probe.Batch{Link: probe.Link{State: probe.LinkUp, Heats: true}}
	return e, func() {
		now += 250 * time.Millisecond
		batch.Readings = batch.Readings[:0]
		for c := range channels {
			batch.Readings = append(batch.Readings, probe.Reading{At: now, Channel: c + 1, Cold: 22,
				Hot: temp.C(200 + 0.1*float64(now/time.Second%5)), Raw: uint32(now / time.Millisecond)})
		}
		e.Step(now, control.Input{Batch: batch})
	}
}

// BenchmarkEngineStep prints the time and the allocations of one step, of which there are four
// a second, with the records that it makes for the run file.
func BenchmarkEngineStep(b *testing.B) {
	for name, n := range map[string]int{"1-channel": 1, "2-channels": 2} {
		b.Run(name, func(b *testing.B) {
			_, step := benchEngine(b, n)
			for range 1000 {
				step()
			}
			b.ReportAllocs()
			for b.Loop() {
				step()
			}
		})
	}
}

// BenchmarkEngineSnapshot prints what it takes to hand a screen a Snapshot.
func BenchmarkEngineSnapshot(b *testing.B) {
	e, step := benchEngine(b, 2)
	for range 1000 {
		step()
	}
	b.ReportAllocs()
	for b.Loop() {
		s := e.Snapshot()
		if s.Info == nil {
			b.Fatal("no snapshot")
		}
	}
}
