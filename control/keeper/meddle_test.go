package keeper

import (
	"fmt"
	"math/rand/v2"
	"time"

	"strawline/control"
	"strawline/profiles"
)

// meddle makes some of the seeds' runs a tuning test or one with a contactor, and gives a person
// who now and then changes the gains, takes that back, heats by hand or shelves an alarm.
func meddle(seed uint64, c *Config) func(time.Duration, func(control.Ask)) {
	r := rand.New(rand.NewPCG(seed, 7))
	switch seed % 5 {
	case 2:
		c.Contactor = &control.Contactor{DeadbandC: 1 + 5*r.Float64(), MinOnS: 60 * r.Float64(),
			MinOffS: 60 * r.Float64()}
	case 4:
		c.Test = &control.TestInfo{Kind: control.TestRelay, TargetC: 120, MostS: 1500}
		c.Profile.Longest = time.Hour
		c.Profile.Steps = []profiles.Step{{Kind: profiles.Ramp, To: 120, Band: 6},
			{Kind: profiles.Soak, To: 120, For: 50 * time.Minute, Band: 10}}
	}
	next, shelves := time.Duration(0), shelver(seed)
	return func(now time.Duration, ask func(control.Ask)) {
		shelves(now, ask)
		if now < next {
			return
		}
		next = now + time.Duration(1+r.IntN(900))*time.Second
		ask([]control.Ask{
			{Kind: control.AskGains, Gains: &control.Gains{Kp: 0.01 + 0.05*r.Float64(),
				TiS: 100 + 500*r.Float64(), TdS: 30 * r.Float64(), Weight: r.Float64()}},
			{Kind: control.AskUndo},
			{Kind: control.AskDuty, DutyPM: r.IntN(1001), Seconds: float64(r.IntN(700))},
			{Kind: control.AskDuty, DutyPM: 1000, Seconds: 20},
			{Kind: control.AskDuty},
		}[r.IntN(5)])
	}
}

// judgeLoop looks in a run file for what a duty by hand, a contactor and a tuning test must hold.
func judgeLoop(info control.Info, rs []control.Record) (wrong []string) {
	complain := func(t time.Duration, format string, args ...any) {
		wrong = append(wrong, fmt.Sprintf("%v: ", t)+fmt.Sprintf(format, args...))
	}
	hand, by, over, stood := time.Duration(-1), 0, false, false
	on, since := false, time.Duration(0)
	for _, r := range rs {
		if e := r.Event; e != nil {
			switch e.Kind {
			case control.EvDuty:
				if hand = -1; e.DutyPM != nil {
					hand, by = e.T, *e.DutyPM
				}
			case control.EvTest:
				over = e.Word == control.TestDone || e.Word == control.TestRefused
			case control.EvDoubt, control.EvTrip, control.EvStep, control.EvEnd, control.EvWait:
				stood = true // off at once, whatever the least time on
			}
			continue
		}
		s := r.Sample
		switch {
		case over && s.Duty > 0:
			complain(s.T, "duty %d after the test", s.Duty)
		case hand >= 0 && s.T-hand > control.HandAtMost:
			complain(s.T, "a duty by hand since %v", hand)
		case hand >= 0 && s.Duty != 0 && s.Duty != by && s.T-hand > 2*time.Second &&
			info.Shop.Contactor == nil:
			complain(s.T, "duty %d, and by hand it is %d", s.Duty, by)
		}
		if c := info.Shop.Contactor; c != nil {
			if s.Duty != 0 && s.Duty != 1000 {
				complain(s.T, "duty %d of a contactor", s.Duty)
			}
			if now := s.Duty > 0; now != on {
				least := c.MinOnS
				if now {
					least = c.MinOffS
				}
				if !(on && stood) && (s.T-since).Seconds() < least {
					complain(s.T, "switched after %v, and %.1f s is the least", s.T-since, least)
				}
				on, since, stood = now, s.T, false
			}
		}
	}
	return wrong
}
