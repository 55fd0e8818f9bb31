package guard_test

import (
	"time"

	"strawline/control/guard"
)

// fault is one injection: what is done to a shop, when, and by when it must be found.
type fault struct {
	name string
	find guard.Findings // any of these will do
	cold bool           // from the start of the heat-up, else in the soak
	by   time.Duration
	do   func(s *shop)
}

// message says that nobody needs to act on what was injected.
func (f fault) message() bool { return f.find&^of(guard.Door, guard.Mains, guard.Wander) == 0 }

func of(fs ...guard.Finding) (set guard.Findings) {
	for _, f := range fs {
		set |= 1 << f
	}
	return set
}

func faults() []fault {
	off := func(s *shop) { s.watts = func(float64) float64 { return 0 } }
	full := func(s *shop) {
		s.hands, s.duty = true, 1
		s.watts = func(d float64) float64 { return d * s.p.HeaterW / 2 }
	}
	// From cold the engine's law heats with 0.87 of the heater or more; the law of this bench may give
	// so little for two minutes that nothing can be told from the noise.
	cold := func(do func(*shop)) func(*shop) {
		return func(s *shop) {
			s.hands, s.duty = true, 0.87
			do(s)
		}
	}
	half := func(s *shop) { s.watts = func(d float64) float64 { return d * s.p.HeaterW / 2 } }
	stuck := func(s *shop) { s.watts = func(float64) float64 { return s.p.HeaterW } }
	lead := func(s *shop) { s.read = func(float64) float64 { return s.cold } }
	return []fault{
		{"stuck on in a soak", of(guard.HeatAtZero), false, 150 * time.Second, stuck},
		{"stuck on while cooling", of(guard.HeatAtZero), false, 150 * time.Second, func(s *shop) {
			s.hands, s.duty = true, 0
			s.run(time.Duration(s.rnd.IntN(900)) * time.Second)
			stuck(s)
		}},
		{"no heat from cold", of(guard.NoHeat), true, 120 * time.Second, cold(off)},
		{"no heat in a soak", of(guard.NoHeat), false, 120 * time.Second, off},
		{"half the power from cold", of(guard.WeakHeat), true, 120 * time.Second, full},
		{"half the power in a soak", of(guard.WeakHeat), false, 20 * time.Minute, half},
		{"lead shorted, hot", of(guard.LeadShort), false, 10 * time.Second, lead},
		{"lead shorted, cold", of(guard.NoHeat), true, 120 * time.Second, cold(lead)},
		{"probe fallen out", of(guard.FellOut, guard.NoHeat), false, 180 * time.Second,
			func(s *shop) {
				v := float64(s.oven.Probe())
				s.read = func(float64) float64 {
					v += (float64(s.p.Room) - v) * 0.25 / s.p.ProbeLag
					return v
				}
			}},
		{"word stands still in a soak", of(guard.Frozen), false, 10 * time.Minute, func(s *shop) {
			word, has := uint32(0), false
			s.raw = func(v, _ uint32) uint32 {
				if !has {
					word, has = v, true
				}
				return word
			}
		}},
		{"cold junction warms", of(guard.BoardWarm), false, 10 * time.Second, func(s *shop) {
			s.watch = func() { s.cold = min(65, s.cold+2.0/60/4) }
			for s.cold < 45 {
				s.step()
			}
		}},
		{"door open for 20 s", of(guard.Door), false, 15 * time.Second, func(s *shop) {
			s.oven.SetDoor(true)
			end := s.at + 20*time.Second
			s.watch = func() { s.oven.SetDoor(s.at < end) }
		}},
		{"mains sag by 10 %", of(guard.Mains), false, 10 * time.Minute,
			func(s *shop) { s.mains = 0.9 }},
		{"wander up by 5 °C", of(guard.Wander), false, 30 * time.Minute, wanders(5)},
		{"wander down by 5 °C", of(guard.Wander), false, 30 * time.Minute, wanders(-5)},
	}
}

// wanders moves the reading by so many °C in ten minutes.
func wanders(by float64) func(*shop) {
	return func(s *shop) {
		from := s.at
		s.read = func(y float64) float64 {
			return y + by*min(1, (s.at-from).Seconds()/600)
		}
	}
}

// inject gives how long the fault took to be found, and whether that was in time; before says
// what a sound oven was already said to have.
func inject(f fault, seed uint64, n int) (took time.Duration, ok bool, before guard.Findings) {
	s := newShop(seed, n, 0.1+0.2*float64(n%3)/2)
	if !f.cold {
		if f.find.Has(guard.Wander) { // which is judged behind 50 minutes of a settled soak
			s.run(50 * time.Minute)
		}
		s.run(50*time.Minute + time.Duration(s.rnd.IntN(3600*4))*250*time.Millisecond)
		before = s.found
		s.found = 0
	} else {
		s.run(5 * time.Second)
	}
	from := s.at
	f.do(s)
	if f.name == "cold junction warms" || f.name == "stuck on while cooling" {
		from = s.at
	}
	for s.at < from+2*f.by && s.found&f.find == 0 {
		s.step()
		if f.name == "stuck on in a soak" && float64(s.oven.Probe()) > s.set+10 &&
			s.found&f.find == 0 {
			return s.at - from, false, before
		}
	}
	return s.at - from, s.found&f.find != 0 && s.at-from <= f.by, before
}

// trips are the findings that a clean oven must never have.
func trips() (set guard.Findings) {
	for f := range guard.Count {
		if k := f.Kind(); k == guard.Trip || k == guard.Doubt {
			set |= 1 << f
		}
	}
	return set
}

// clean runs a sound oven for so many hours through what a shop does to it, and gives what was
// found of it.
func clean(seed uint64, n, hours int) guard.Findings {
	s := newShop(seed, n, [...]float64{0, 0.05, 0.15, 0.3, 0.5}[n%5])
	for range hours {
		switch s.rnd.IntN(4) {
		case 0: // cools for a while, then another setpoint
			s.set = 150 + 80*s.rnd.Float64()
			s.lst.I = 0
		case 1:
			s.hands, s.duty = true, 0
			s.run(10 * time.Minute)
			s.hands = false
		case 2:
			s.mains = 0.9 + 0.2*s.rnd.Float64()
		}
		s.run(time.Duration(5+s.rnd.IntN(30)) * time.Minute)
		s.oven.SetDoor(true)
		s.run(time.Duration(5+s.rnd.IntN(25)) * time.Second)
		switch s.rnd.IntN(4) {
		case 0:
			s.oven.BladeIn(s.p.Blade, 22)
		case 1:
			s.oven.BladeIn(s.p.Blade, 260)
		case 2:
			s.oven.BladeOut()
		}
		s.run(time.Duration(s.rnd.IntN(10)) * time.Second)
		s.oven.SetDoor(false)
		for s.at%time.Hour != 0 {
			s.step()
		}
	}
	return s.found
}
