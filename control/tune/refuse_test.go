package tune

import (
	"errors"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// edit gives a copy of a record with every sample changed by a function.
func edit(r Record, f func(i int, s *Sample)) Record {
	r = slices.Clone(r)
	for i := range r {
		f(i, &r[i])
	}
	return r
}

func opened(r Record, from, n int) Record {
	return edit(r, func(i int, s *Sample) {
		if i >= from {
			s.Y -= min(50, 50*float64(i-from)/20) * math.Exp(-max(0, float64(i-from-n))/30)
		}
	})
}

type refusal struct {
	record Record
	reason Reason
}

func TestRefusals(t *testing.T) {
	oven := Model{Kind: First, K: 500, T: 450, L: 30}
	read := newGauge(0.5, 0.25, 1, 4)
	step := exact(oven, 1, 20, read, stepped(0.3, 0.1, 200, 900))
	cold := exact(oven, 1, 20, read, stepped(0, 1, 100, 300))
	relay := relayed(oven, 0.5, 0.3, 0.15, 1.5, read, 9)
	tests := map[string]struct {
		identify func(Record) (Found, error)
		good     Record
		rows     map[string]refusal
	}{
		"step":  {StepTest, step, stepRefusals(oven, step, read)},
		"cold":  {ColdStart, cold, coldRefusals(oven, cold, read)},
		"relay": {RelayTest, relay, relayRefusals(relay)},
	}
	seen := map[Reason]bool{}
	for name, test := range tests {
		_, err := test.identify(test.good)
		require.NoError(t, err, "%s: without what is spoilt it must be good", name)
		common := map[string]refusal{
			"NaN": {edit(test.good, func(i int, s *Sample) {
				if i == 50 {
					s.Y = math.NaN()
				}
			}), Invalid},
			"time stands": {edit(test.good, func(i int, s *Sample) {
				if i == 150 {
					s.T--
				}
			}), Invalid},
			"duty above 1": {edit(test.good, func(_ int, s *Sample) { s.Duty *= 4 }), Invalid},
			"bad reading":  {edit(test.good, func(i int, s *Sample) { s.Bad = i == 150 }), Invalid},
			"door known":   {edit(test.good, func(i int, s *Sample) { s.Door = i == 250 }), DoorOpened},
			"door seen":    {opened(test.good, len(test.good)-150, 20), DoorOpened},
			"limited":      {edit(test.good, func(i int, s *Sample) { s.Limited = i == 250 }), Saturated},
			"empty":        {nil, NoTest},
		}
		for row, x := range common {
			if row == "empty" && name != "cold" {
				x.reason = TooFew
			}
			test.rows[row] = x
		}
		for row, x := range test.rows {
			t.Run(name+" "+row, func(t *testing.T) {
				_, err := test.identify(x.record)
				var refusal *Refusal
				require.True(t, errors.As(err, &refusal), "%v", err)
				assert.Equal(t, x.reason, refusal.Reason, refusal.Text)
				assert.NotEmpty(t, refusal.Text)
				t.Log(refusal.Text)
				seen[refusal.Reason] = true
			})
		}
	}
	for reason := Invalid; reason <= Unlike; reason++ {
		assert.True(t, seen[reason], "no row is refused for reason %d", reason)
	}
}

func stepRefusals(oven Model, step Record, read *gauge) map[string]refusal {
	again := func(m Model, g *gauge, du float64) Record {
		return exact(m, 1, 20, g, stepped(0.3, du, 200, 900))
	}
	weak := Model{Kind: First, K: 10, T: 100, L: 10}
	twice := edit(step, func(i int, s *Sample) { s.Duty += 0.1 * math.Floor(float64(i)/800) })
	swinging := edit(step, func(i int, s *Sample) {
		s.Y += 12 * math.Sin(float64(i)/60) * math.Min(1, float64(max(0, i-200))/100)
	})
	return map[string]refusal{
		"no step":           {again(oven, read, 0), NoTest},
		"two steps":         {twice, NoTest},
		"duty moved by 2 %": {again(oven, read, 0.02), TooSmall},
		"hardly answers":    {again(weak, newGauge(0, 0, 1, 1), 0.05), TooSmall},
		"noise":             {again(oven, newGauge(4, 0, 1, 1), 0.05), Noisy},
		"rounding":          {again(oven, newGauge(0, 4, 1, 1), 0.05), Coarse},
		"baseline wanders":  {edit(step, func(_ int, s *Sample) { s.Y += 0.02 * s.T }), Wanders},
		"ends too soon":     {step[:330], TooShort},
		"begins too late":   {step[130:], TooShort},
		"ten samples":       {step[195:205], TooFew},
		"no baseline":       {step[195:], TooFew},
		"wrong way":         {edit(step, func(_ int, s *Sample) { s.Y = 400 - s.Y }), Unlike},
		"no such curve":     {swinging, Unlike},
	}
}

func coldRefusals(oven Model, cold Record, read *gauge) map[string]refusal {
	again := func(m Model, h float64, g *gauge, u0, du float64, before, after int) Record {
		return exact(m, h, 20, g, stepped(u0, du, before, after))
	}
	weak := Model{Kind: First, K: 150, T: 450, L: 20}
	humped := edit(cold, func(i int, s *Sample) {
		s.Y += 90 * math.Exp(-math.Pow(float64(i-165)/20, 2))
	})
	return map[string]refusal{
		"no heat":       {again(oven, 1, read, 0, 0.1, 100, 300), NoTest},
		"warm start":    {again(oven, 1, read, 0.1, 0.9, 100, 300), NoTest},
		"under way":     {cold[200:], NoTest},
		"too short":     {cold[:220], TooShort},
		"too little":    {again(weak, 1, read, 0, 1, 100, 70), TooSmall},
		"few samples":   {again(oven, 10, read, 0, 1, 10, 30), TooFew},
		"noise":         {again(oven, 1, newGauge(30, 0, 1, 1), 0, 1, 100, 300), Noisy},
		"rounding":      {again(oven, 1, newGauge(0, 20, 1, 1), 0, 1, 100, 300), Coarse},
		"still moving":  {edit(cold, func(_ int, s *Sample) { s.Y -= 0.1 * s.T }), Wanders},
		"no such curve": {humped, Unlike},
	}
}

func relayRefusals(relay Record) map[string]refusal {
	ls := relay.levels()
	period := relay[ls[len(ls)-1].first].T - relay[ls[len(ls)-3].first].T
	shape := func(f func(t, swing float64) float64) Record {
		return edit(relay, func(_ int, s *Sample) { s.Y = 100 + f(s.T, s.Y-100) })
	}
	loud := shape(func(t, y float64) float64 {
		return newGauge(12, 0, 1, math.Float64bits(t)).read(y)
	})
	above := edit(relay, func(i int, s *Sample) {
		s.Duty = max(s.Duty, 0.45*math.Min(1, float64(i)))
	})
	other := shape(func(t, _ float64) float64 {
		return 8 * math.Sin(6*math.Pi*t/period) * math.Min(1, t/100)
	})
	rounded := shape(func(_, y float64) float64 { return 4 * math.Round(y/4) })
	stretched := edit(relay, func(_ int, s *Sample) { s.T += 0.0006 * s.T * s.T })
	grown := shape(func(t, y float64) float64 { return y * math.Exp(t/400) })
	climbed := shape(func(t, y float64) float64 { return y + 0.05*max(0, t-120) })
	return map[string]refusal{
		"no swings":         {relay[:ls[2].first], NoTest},
		"one period":        {relay[:ls[4].first+5], TooShort},
		"both above":        {above, NoTest},
		"small":             {shape(func(_, y float64) float64 { return y / 20 }), TooSmall},
		"noise":             {loud, Noisy},
		"rounding":          {rounded, Coarse},
		"time stretches":    {stretched, NotPeriodic},
		"grows":             {grown, NotPeriodic},
		"climbs":            {climbed, Wanders},
		"answers otherwise": {other, Unlike},
	}
}

// A fault-free record of any test is refused by the other two, or taken for what it is.
func TestEachTestKnowsItsRecord(t *testing.T) {
	oven := Model{Kind: First, K: 500, T: 450, L: 30}
	read := newGauge(0.5, 0.25, 1, 4)
	step := exact(oven, 1, 20, read, stepped(0.3, 0.1, 200, 900))
	relay := relayed(oven, 0.5, 0.3, 0.15, 1.5, read, 9)
	for name, err := range map[string]error{
		"relay as step": second(StepTest(relay)), "step as relay": second(RelayTest(step)),
		"step as cold": second(ColdStart(step[250:])),
	} {
		assert.Error(t, err, name)
	}
}

func second(_ Found, err error) error { return err }
