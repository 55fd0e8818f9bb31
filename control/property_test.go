package control

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe"
	"strawline/probe/belief"
	"strawline/probe/temp"
	"strawline/profiles"
)

// ledger judges each step of an engine from the inputs alone: it knows nothing of the engine's
// insides and counts soak and ages by itself.
type ledger struct {
	lastGood, lastAnswer time.Duration // -1: none
	restarted, latched   bool
	person               bool // a go on was asked since the last reason for a trip
}

// TestNoHeatWithoutAReason drives an engine with everything a shop can do to it and asserts at
// each step that heat stands only on a good reading and an unlatched answer younger than 1.5 s,
// with the link up, and that a trip gives heat back only after a person's three acts.
func TestNoHeatWithoutAReason(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, err := profiles.Temper(temp.F(400), 10*time.Minute, 2, temp.DeltaF(10), temp.Fahrenheit)
		require.NoError(t, err)
		info := testInfo(*p)
		switch rapid.IntRange(0, 3).Draw(t, "kind of run") {
		case 1:
			info.Shop.Contactor = &Contactor{DeadbandC: 2, MinOnS: 10, MinOffS: 5}
		case 2:
			info.Profile.Steps = []profiles.Step{{Kind: profiles.Soak, To: 150, For: time.Hour, Band: 20}}
			info.Test = &TestInfo{Kind: TestRelay, TargetC: 150, MostS: 900}
			info.Model = &ModelInfo{SlopeCS: 1, DeadS: 1}
		case 3:
			info.Model = &ModelInfo{SlopeCS: 1, DeadS: 30, NoiseC: 0.3}
		}
		e, err := New(Config{Info: info, Belief: belief.Default()})
		require.NoError(t, err)
		l := ledger{lastGood: -1, lastAnswer: -1}
		now, y := time.Duration(0), 22.0
		acked, reset := false, false
		credit := time.Duration(0)
		kinds := []AskKind{AskAcknowledge, AskReset, AskGoOn, AskConfirm, AskSkip, AskStay, AskMore,
			AskSet, AskUndo, AskSilence, AskNote, AskGains, AskDuty}
		n := rapid.IntRange(40, 400).Draw(t, "steps")
		for i := range n {
			now += rapid.SampledFrom([]time.Duration{tick, tick, tick, tick, tick, time.Second,
				3 * time.Second, 12 * time.Second}).Draw(t, "dt")
			in := Input{Batch: probe.Batch{Link: probe.Link{State: probe.LinkUp, Heats: true}}}
			if rapid.IntRange(0, 40).Draw(t, "link") == 0 {
				in.Batch.Link = probe.Link{State: probe.LinkGone}
			}
			if rapid.IntRange(0, 60).Draw(t, "boot") == 0 && i > 0 {
				in.Batch.Boots = append(in.Batch.Boots, probe.Board{Name: "b"})
			}
			y += rapid.Float64Range(-1, 3).Draw(t, "rise")
			r := probe.Reading{At: now, Channel: 1, Hot: temp.C(y), Cold: 22, HasCold: true, Raw: uint32(i)}
			switch rapid.IntRange(0, 30).Draw(t, "fault") {
			case 0:
				r.Fault = probe.FaultOpen
			case 1:
				r.Hot = temp.C(math.NaN())
			case 2:
				r.Latches = probe.LatchHighLimit
			case 3:
				r.Hot = 900
			}
			dropped := rapid.IntRange(0, 8).Draw(t, "drop") == 0 || in.Batch.Link.State != probe.LinkUp
			if !dropped {
				in.Batch.Readings = append(in.Batch.Readings, r)
			}
			before := e.Phase()
			if rapid.IntRange(0, 3).Draw(t, "asks") == 0 {
				a := Ask{Kind: rapid.SampledFrom(kinds).Draw(t, "ask"), Seconds: 60, TempC: 190,
					DutyPM: rapid.SampledFrom([]int{0, 500, 1000}).Draw(t, "by hand"),
					Gains:  &Gains{Kp: rapid.Float64Range(-0.1, 11).Draw(t, "kp"), TiS: 100, Weight: 1}}
				in.Asks = append(in.Asks, a)
			}
			if before == PhaseTripped {
				for _, a := range in.Asks {
					acked = acked || a.Kind == AskAcknowledge
					reset = reset || a.Kind == AskReset && acked
				}
			} else {
				acked, reset = false, false
			}
			out := e.Step(now, in)
			if !dropped {
				if r.Good() && !math.IsNaN(float64(r.Hot)) {
					l.lastGood = now
				}
				if r.Latches == 0 {
					l.lastAnswer = now
				}
			}
			if out.Duty < 0 || out.Duty > 1000 {
				t.Fatalf("duty %d", out.Duty)
			}
			if c := info.Shop.Contactor; c != nil && out.Duty != 0 && out.Duty != 1000 {
				t.Fatalf("duty %d of a contactor", out.Duty)
			}
			if out.Duty > 0 {
				switch {
				case info.Test != nil && !e.test.goes():
					t.Fatalf("heat after the test")
				case l.lastGood < 0 || now-l.lastGood > 1500*time.Millisecond:
					t.Fatalf("heat without a good reading for %v", now-l.lastGood)
				case l.lastAnswer < 0 || now-l.lastAnswer > 1500*time.Millisecond:
					t.Fatalf("heat without an answer")
				case in.Batch.Link.State != probe.LinkUp || len(in.Batch.Boots) > 0:
					t.Fatalf("heat on a link that is %v", in.Batch.Link.State)
				case !dropped && (r.Latches != 0 || r.Fault != 0 || math.IsNaN(float64(r.Hot))):
					t.Fatalf("heat on a bad reading")
				case e.Phase() != PhaseRunning:
					t.Fatalf("heat while %s", e.Phase())
				}
			}
			if before == PhaseTripped && e.Phase() == PhaseRunning && !(acked && reset) {
				t.Fatalf("a trip ended without acknowledge and reset")
			}
			if e.bladeIn != e.view.s.BladeIn {
				t.Fatalf("the blade is in for the engine: %v, for a screen: %v", e.bladeIn, !e.bladeIn)
			}
			var c time.Duration
			for _, x := range e.credits {
				c += x
			}
			if d := c - credit; d < 0 || d > SoakApart {
				t.Fatalf("credit moved by %v in one step", d)
			}
			credit = c
			for _, rec := range out.Records {
				if s := rec.Sample; s != nil {
					for _, f := range append([]*float64{s.Set, s.Blade, s.Soak}, s.Temp...) {
						if f != nil && (math.IsNaN(*f) || math.IsInf(*f, 0)) {
							t.Fatalf("a record has a figure that is none")
						}
					}
				}
			}
		}
	})
}

// TestAReplayShowsTheSame folds the records a second time and compares what a screen would show.
func TestAReplayShowsTheSame(t *testing.T) {
	b := newBench(t, temper(t, 5*time.Minute))
	v := NewView(testInfo(temper(t, 5*time.Minute)))
	n := 0
	for b.e.Phase() != PhaseClosed && b.now < 3*time.Hour {
		switch n++; {
		case n%9000 == 0:
			b.asks = append(b.asks, Ask{Kind: AskConfirm})
		case n%2500 == 0:
			b.asks = append(b.asks, Ask{Kind: AskStay, Seconds: 30})
		case n == 3000:
			b.read = func(r *probe.Reading) bool { r.Fault = probe.FaultOpen; return true }
		case n == 3010:
			b.read = nil
		}
		if b.e.Phase() == PhaseEnded {
			b.asks = append(b.asks, Ask{Kind: AskAnswer})
		}
		b.step()
		for _, r := range b.out.Records {
			v.Apply(r)
		}
		if n%100 == 0 {
			require.Equal(t, b.e.Snapshot(), v.Snapshot())
		}
	}
	require.Equal(t, PhaseClosed, b.e.Phase())
	require.Positive(t, b.count(EvDoubt))
}

func TestAClonedViewGoesOnByItself(t *testing.T) {
	b := atSoak(t, time.Hour)
	was := b.e.view.Snapshot()
	c := b.e.view.Clone()
	b.run(time.Minute)
	require.Equal(t, was, c.Snapshot(), "the clone has not moved")
	require.NotEqual(t, was, b.e.view.Snapshot())
}
