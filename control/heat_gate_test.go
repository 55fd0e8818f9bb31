package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe"
	"strawline/probe/temp"
)

// heating is a bench in its heat-up, the law at work.
func heating(t testing.TB) *bench {
	b := newBench(t, temper(t, time.Hour))
	b.run(time.Minute)
	require.Positive(t, b.out.Duty)
	return b
}

// TestEachReasonAloneTakesTheHeatAway puts one thing in the way of the heat at a time, with
// nothing else of the engine noticing it: the last look before a duty depends on no other.
func TestEachReasonAloneTakesTheHeatAway(t *testing.T) {
	old := 1500*time.Millisecond + 1
	for name, in := range map[string]func(e *Engine, dt *time.Duration){
		"tripped":           func(e *Engine, _ *time.Duration) { e.phase = PhaseTripped },
		"ended":             func(e *Engine, _ *time.Duration) { e.phase = PhaseEnded },
		"closed":            func(e *Engine, _ *time.Duration) { e.phase = PhaseClosed },
		"no setpoint":       func(e *Engine, _ *time.Duration) { e.hasSet = false },
		"his own heater":    func(e *Engine, _ *time.Duration) { e.cfg.Info.Shop.NoHeater = true },
		"a doubt":           func(e *Engine, _ *time.Duration) { e.doubt.stand = true },
		"a bad reading":     func(e *Engine, _ *time.Duration) { e.lead.good = false },
		"an old reading":    func(e *Engine, _ *time.Duration) { e.lead.at = e.now - old },
		"a silent link":     func(e *Engine, _ *time.Duration) { e.link.State = probe.LinkSilent },
		"a latched board":   func(e *Engine, _ *time.Duration) { e.latches = probe.LatchOpen },
		"a reading board":   func(e *Engine, _ *time.Duration) { e.link.Heats = false },
		"two good readings": func(e *Engine, _ *time.Duration) { e.doubt.run = 2 },
		"a long gap":        func(_ *Engine, dt *time.Duration) { *dt = 10*time.Second + 1 },
	} {
		b, dt := heating(t), tick
		in(b.e, &dt)
		require.Zero(t, b.e.wanted(dt), name)
		require.False(t, b.e.loop.on, "%s: the law begins anew", name)
		require.Empty(t, b.e.loop.word, "%s: and says nothing meanwhile", name)
	}
	for name, in := range map[string]func(e *Engine, dt *time.Duration){
		"nothing":             func(*Engine, *time.Duration) {},
		"a reading of 1.5 s":  func(e *Engine, _ *time.Duration) { e.lead.at = e.now - old + 1 },
		"three good readings": func(e *Engine, _ *time.Duration) { e.doubt.run = 3 },
		"a step of 10 s":      func(_ *Engine, dt *time.Duration) { *dt = 10 * time.Second },
	} {
		b, dt := heating(t), tick
		in(b.e, &dt)
		require.Equal(t, b.out.Duty, b.e.wanted(dt), name)
		require.True(t, b.e.loop.on, name)
	}
}

// TestAReadingCarriesItsDutyFor1500Milliseconds and no longer: steps go on without new readings.
func TestAReadingCarriesItsDutyFor1500Milliseconds(t *testing.T) {
	b := heating(t)
	duty := b.out.Duty
	b.read = func(*probe.Reading) bool { return false }
	for range 6 {
		b.step()
		require.Equal(t, duty, b.out.Duty)
	}
	b.step()
	require.Zero(t, b.out.Duty)
}

// TestTheHeatSentIsCounted keeps a sum of its own of the duty times the time it stood, since the
// last reading and since the law last had one, over lost readings and a duty by hand.
func TestTheHeatSentIsCounted(t *testing.T) {
	b := atSoak(t, time.Hour)
	b.run(10 * time.Minute)
	area, sent, most, n := 0.0, 0.0, 0.0, 0
	b.read = func(*probe.Reading) bool { n++; return n%4 != 1 && n%4 != 2 }
	for i := range 400 {
		if i == 100 {
			b.asks = append(b.asks, Ask{Kind: AskDuty, DutyPM: 700, Seconds: 50})
		}
		was := float64(b.out.Duty) / 1000 * tick.Seconds()
		area, sent = area+was, sent+was
		at := b.e.lead.at
		b.step()
		if b.e.lead.at > at { // a new reading begins a new mean
			area = 0
			if b.e.loop.hand.until == 0 {
				sent = 0
			}
		}
		require.InDelta(t, area, b.e.loop.area, 1e-9, "step %d", i)
		require.InDelta(t, sent, b.e.loop.sent, 1e-9, "step %d", i)
		most = max(most, sent)
	}
	require.InDelta(t, 0.7*50, most, 1, "what the law is told of a duty by hand")
}

// TestAfterADoubtTheLawGoesOnFromWhatHeld: no heat with the reading that ends the doubt, which
// is the law's first, and about what held before with the next.
func TestAfterADoubtTheLawGoesOnFromWhatHeld(t *testing.T) {
	b := atSoak(t, time.Hour)
	b.run(20 * time.Minute)
	hold := 0
	for range 480 {
		b.step()
		hold += b.out.Duty
	}
	hold /= 480
	b.spoilt(2*time.Second, func(r *probe.Reading) { r.Fault = probe.FaultOpen })
	require.Zero(t, b.out.Duty)
	for b.e.doubt.stand {
		require.Zero(t, b.out.Duty)
		b.step()
	}
	require.Zero(t, b.out.Duty, "the first reading of the law")
	require.Equal(t, b.e.lead.at, b.e.loop.looked)
	require.Zero(t, b.e.loop.sent)
	require.Zero(t, b.e.loop.area)
	b.step()
	require.InDelta(t, hold, b.out.Duty, 100, "what is left is the reading's noise and 3 s of cooling")
}

// TestAfterATripTheLawBeginsAnew: an oven that has cooled is heated up, not held.
func TestAfterATripTheLawBeginsAnew(t *testing.T) {
	b := atSoak(t, time.Hour)
	b.run(20 * time.Minute)
	require.Equal(t, "holding", b.e.Snapshot().Law)
	require.Empty(t, b.ask(Ask{Kind: AskHeatOff}))
	b.until(2*time.Hour, "cooling", func(s Snapshot) bool { return s.Temp < 120 })
	for _, k := range []AskKind{AskAcknowledge, AskReset, AskGoOn} {
		require.Empty(t, b.ask(Ask{Kind: k}))
	}
	b.run(2 * time.Second)
	require.Equal(t, "heating", b.e.Snapshot().Law)
	over := temp.Delta(-500)
	for range 4 * 3600 {
		b.step()
		over = max(over, b.oven.Probe().Sub(temp.F(400)))
	}
	require.InDelta(t, 0, float64(over), 1.5, "as from cold")
}
