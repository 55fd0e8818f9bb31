package guard_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control/guard"
)

// TestAWordThatStandsStillAtDutyZero: a chip that freezes above the setpoint makes the law take
// the duty to 0; what is hot and not heated must cool, and the word says that it does not.
func TestAWordThatStandsStillAtDutyZero(t *testing.T) {
	for n := range 4 {
		s := newShop(11, n, 0.2)
		s.run(time.Hour)
		s.hands, s.duty = true, 0
		stands := uint32(0)
		s.raw = func(v, _ uint32) uint32 {
			if stands == 0 {
				stands = v
			}
			return stands
		}
		s.run(10*time.Minute + time.Second)
		require.True(t, s.found.Has(guard.Frozen), "oven %d", n)
	}
}

// TestAStuckChipIsFoundBehindACorrection: the steps of a reading that is corrected by a slope, or
// by the thermocouple's curve, shrink a little as it goes up.
func TestAStuckChipIsFoundBehindACorrection(t *testing.T) {
	s := newShop(21, 0, 0.3)
	s.correct = func(v float64) float64 { return v - v*v/10000 }
	s.set = 190
	s.run(10 * time.Minute)
	stands := uint32(0)
	s.raw = func(v, _ uint32) uint32 {
		if stands == 0 {
			stands = v
		}
		return stands
	}
	s.run(10*time.Minute + time.Second)
	require.True(t, s.found.Has(guard.Frozen))
}

// TestAColdOvenMayStandStill: at the temperature of the room a word may repeat itself for hours.
func TestAColdOvenMayStandStill(t *testing.T) {
	s := newShop(12, 0, 0.2)
	s.run(10 * time.Minute) // its noise is known, and that the word changes
	s = &shop{rnd: s.rnd, p: s.p, oven: newShop(12, 0, 0).oven, cfg: s.cfg, st: s.st, at: s.at,
		mains: 1, cold: 25, hands: true, set: 200}
	s.raw = func(uint32, uint32) uint32 { return 22*4<<16 | 25*16 }
	s.run(2 * time.Hour)
	require.False(t, s.found.Has(guard.Frozen))
}

// TestAQuietChipMayStandStill: without noise the word stands for many minutes of a soak that does
// not move, behind a heat-up in which it changed a thousand times.
func TestAQuietChipMayStandStill(t *testing.T) {
	s := newShop(16, 0, 0)
	s.run(time.Hour)
	s.cold = 25
	s.hands = true
	s.raw = func(uint32, uint32) uint32 { return 200*4<<16 | 25*16 }
	s.run(time.Hour)
	require.False(t, s.found.Has(guard.Frozen))
}

// TestAChipWithLessNoiseThanItsStepMayStandStill: on the edge between two words it changes a
// hundred times a minute, and in the middle of one not in an hour.
func TestAChipWithLessNoiseThanItsStepMayStandStill(t *testing.T) {
	for n, noise := range []float64{0.02, 0.1, 0.12} {
		s := newShop(17, n, 0)
		at := 0.0
		s.raw = func(uint32, uint32) uint32 {
			return uint32(math.Round((at+noise*(2*s.rnd.Float64()-1))*4))<<16 | 25*16
		}
		s.hands, s.duty = true, 0.3
		for at = 30.0; at < 200; at += 0.02 { // 5 °C a minute
			s.step()
		}
		for at = 200.125; s.at < 2*time.Hour; {
			s.step()
		}
		at = 200
		s.run(time.Hour)
		require.False(t, s.found.Has(guard.Frozen), "noise %.2f", noise)
	}
}

// TestWallsThatFillAreNoWander: for hours of an undisturbed soak the duty falls as the walls come
// up, and nothing is told; the mains stand still here.
func TestWallsThatFillAreNoWander(t *testing.T) {
	for n := range 8 {
		s := newShop(13, n, 0.2)
		s.run(4 * time.Hour)
		require.False(t, s.found.Has(guard.Wander), "oven %d", n)
		require.False(t, s.found.Has(guard.Mains), "oven %d", n)
	}
}

// halved gives a sound oven half its heater, which must be found within 20 minutes.
func (s *shop) halved(t *testing.T, n int) {
	t.Helper()
	require.False(t, s.found.Has(guard.WeakHeat), "oven %d", n)
	from := s.at
	s.watts = func(d float64) float64 { return d * s.p.HeaterW / 2 }
	for s.at < from+20*time.Minute && !s.found.Has(guard.WeakHeat) {
		s.step()
	}
	require.True(t, s.found.Has(guard.WeakHeat), "oven %d", n)
}

// TestHalfTheHeaterInASoakIsFoundWithAModelThatIsOff: what comes in a settled soak is the measure,
// so that a model which takes the oven for a third stronger does not hide it.
func TestHalfTheHeaterInASoakIsFoundWithAModelThatIsOff(t *testing.T) {
	for n := range 4 {
		s := newShop(14, n, 0.2)
		s.cfg.Model.Hold /= 1.3
		s.cfg.Model.Time *= 1.3
		s.run(2 * time.Hour)
		s.halved(t, n)
	}
}

// TestHalfTheHeaterFromRestIsFoundAtLessThanFullDuty: a law that heats with what it needs only,
// or has gains for a small oven, does not reach full duty.
func TestHalfTheHeaterFromRestIsFoundAtLessThanFullDuty(t *testing.T) {
	for n := range 8 {
		for _, duty := range []float64{0.55, 0.7, 0.85} {
			s := newShop(18, n, 0.2)
			s.hands, s.duty = true, duty
			s.run(2 * time.Minute)
			require.False(t, s.found.Has(guard.WeakHeat), "oven %d, duty %.2f", n, duty)
			s = newShop(18, n, 0.2)
			s.hands, s.duty = true, duty
			s.watts = func(d float64) float64 { return d * s.p.HeaterW / 2 }
			s.run(2 * time.Minute)
			require.True(t, s.found.Has(guard.WeakHeat), "oven %d, duty %.2f", n, duty)
		}
	}
}

// TestHalfTheHeaterIsFoundFiveMinutesIntoASoak: what came in its first minutes is kept from being
// mixed with what comes behind the fault.
func TestHalfTheHeaterIsFoundFiveMinutesIntoASoak(t *testing.T) {
	for n := range 8 {
		s := newShop(19, n, 0.2)
		s.set = 155
		for s.run(time.Minute); s.oven.Probe() < 147; {
			s.run(time.Minute)
		}
		s.run(7 * time.Minute)
		s.halved(t, n)
	}
}

// TestACoolDownIsNoWeakHeat: an oven that loses twice what the model says, as one does whose door
// stood open, is heated again; for its first half minute nothing shows.
func TestACoolDownIsNoWeakHeat(t *testing.T) {
	for n := range 8 {
		s := newShop(20, n, 0.2)
		s.run(time.Hour)
		begin, lasts := s.at, 25*time.Minute
		fall := 2 * s.cfg.Model.Slope * s.cfg.Model.Hold / (200 - 22) // of the excess in a second
		y := 200.0
		s.read = func(float64) float64 {
			if s.at < begin+lasts+s.late() {
				y -= fall * (y - 22) / 4
			} else {
				y += s.cfg.Model.Slope / 4
			}
			return y
		}
		s.hands, s.duty = true, 0
		s.run(lasts)
		s.duty = 1
		s.run(3 * time.Minute)
		require.False(t, s.found.Has(guard.WeakHeat), "oven %d", n)
	}
}

// late is two of the model's dead times, but at least half a minute.
func (s *shop) late() time.Duration {
	return max(30*time.Second, time.Duration(2*s.cfg.Model.Dead*float64(time.Second)))
}

// TestAHeaterThatDoesWellIsNotStuckOn: mains 10 % high at full duty give more than the model
// sends, which at that duty is no sign of a switch that is stuck.
func TestAHeaterThatDoesWellIsNotStuckOn(t *testing.T) {
	for n := range 8 {
		s := newShop(15, n, 0.2)
		s.mains = 1.1
		s.cfg.Model.Slope /= 1.25
		s.hands, s.duty = true, 1
		for s.at < 20*time.Minute && s.oven.Probe() < 180 {
			s.step()
		}
		require.False(t, s.found.Has(guard.HeatAtZero), "oven %d", n)
	}
}
