package control

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
	"strawline/profiles"
)

func rampInfo(first profiles.Step) Info {
	first.Kind, first.Band = profiles.Ramp, 5
	return testInfo(profiles.Profile{Name: "r", Title: "r", Unit: temp.Celsius, Limit: 240,
		Longest: 20 * time.Hour, Steps: []profiles.Step{first,
			{Kind: profiles.Soak, To: first.To, For: time.Hour, Band: 5}}})
}

// The law must know where a ramp will stop: a ramp that is not told its end has the law brake all
// the way. 160 °C at 0.1 °C/s are 1,600 s.
func TestARampWithAModelKeepsItsRate(t *testing.T) {
	info := rampInfo(profiles.Step{To: 180, Rate: 0.1})
	info.Model = &ModelInfo{RiseC: 900, SlopeCS: 1.08, TimeS: 830, DeadS: 32, NoiseC: 0.3, StartS: 29}
	b := newBenchOf(t, info)
	b.run(time.Minute)
	b.until(28*time.Minute, "the end of the ramp", func(s Snapshot) bool {
		require.InDelta(t, float64(s.Set), float64(s.Temp), 5)
		return s.Step == 1
	})
}

// A start of which nothing is known tries the oven with half its heat: never where the setpoint
// is no heat-up away, or was lowered below the reading meanwhile.
func TestNoStartAboveTheSetpoint(t *testing.T) {
	for _, to := range []temp.C{10, 21} {
		b := newBenchOf(t, rampInfo(profiles.Step{To: to}))
		for b.now < 3*time.Minute {
			b.step()
			require.Zero(t, b.out.Duty, "%v to %v", b.e.Snapshot().Temp, to)
		}
	}
	b := newBenchOf(t, rampInfo(profiles.Step{To: 200}))
	b.until(time.Minute, "heat", func(s Snapshot) bool { return s.Duty > 0 })
	b.run(3 * time.Second)
	require.Empty(t, b.ask(Ask{Kind: AskSet, TempC: 10}))
	b.run(2 * time.Second)
	for range 400 {
		b.step()
		require.Zero(t, b.out.Duty)
	}
}
