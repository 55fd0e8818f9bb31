package belief

import (
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
)

// day is two tempers of an oven with doors and cooling between: 4 h 30 min to 5 h 30 min.
func day(t *testing.T, seed uint64) (hours float64) {
	s := newShop(seed)
	r := s.rng
	if r.IntN(3) == 0 {
		s.oven.BladeOut()
	}
	told := 0
	see := func(v Verdict) {
		if bad(v) {
			if told++; told <= 3 {
				t.Errorf("seed %d at %v: %+v, reads %.2f, duty %.3f, noise %v/%v", seed, s.now, v,
					s.st.prev, s.duty, s.uniform, s.sigma)
			}
		}
		if s.now%time.Minute == 0 {
			if rest, ok := s.st.AtRest(1); ok {
				require.Empty(t, Ask(nil, []Rest{rest}), "seed %d at %v", seed, s.now)
			}
		}
	}
	door := func(d time.Duration, target float64) {
		s.oven.SetDoor(true)
		s.run(d, target, see)
		s.oven.SetDoor(false)
	}
	s.run(2*time.Minute, 0, see)
	rest, ok := s.st.AtRest(1)
	require.True(t, ok, "seed %d", seed)
	room := Rest{Channel: 2, Hot: s.p.Room, Cold: temp.C(s.cold)}
	require.Empty(t, Ask(nil, []Rest{rest, room}), "seed %d", seed)
	for range 2 {
		target := 150 + 110*r.Float64()
		before := time.Duration(r.Int64N(int64(4 * time.Minute)))
		s.run(before, target, see)
		door(time.Duration(5+r.IntN(40))*time.Second, target)
		if s.oven.Loaded() {
			s.oven.BladeIn(s.p.Blade, s.p.Room)
		}
		s.run(time.Hour-before, target, see)
		door(time.Duration(5+r.IntN(40))*time.Second, target)
		s.run(time.Hour, target, see)
		if r.IntN(2) == 0 { // cooling with the door ajar for a while, or all the time
			door(time.Duration(1+r.IntN(30))*time.Minute, 0)
		}
		s.run(time.Duration(10+r.IntN(20))*time.Minute, 0, see)
	}
	return s.now.Hours()
}

// A hundred clean hours (five hundred in the long run of .ci) have no false verdict, no warning
// and no false question.
func TestCleanHours(t *testing.T) {
	want := 100.0
	if long() {
		want = 500
	}
	hours := 0.0
	for seed := uint64(1); hours < want; seed++ {
		hours += day(t, seed)
	}
	t.Logf("%.0f clean hours", hours)
}

// long says that tests may take longer.
func long() bool { return os.Getenv("STRAWLINE_CI") == "1" }
