package belief

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe"
	"strawline/probe/temp"
)

// chill reads one value with a cold junction.
func (c *channel) chill(cold temp.C) (out Verdict) {
	c.now += beat
	c.word++
	c.st, out = Step(c.cfg, c.st, Input{Duty: c.duty, Reading: probe.Reading{
		At: c.now, Channel: 1, Hot: 200, Cold: cold, HasCold: cold != 0, Raw: c.word}})
	return out
}

func TestColdJunction(t *testing.T) {
	nan := temp.C(math.NaN())
	for name, k := range map[string]struct {
		cold []temp.C
		why  string
		warn string
	}{
		"cool":                      {[]temp.C{25, 25, 25, 25}, "", ""},
		"45 °C itself":              {[]temp.C{45, 45, 45, 45}, "", ""},
		"warm twice":                {[]temp.C{45.1, 45.1}, "", ""},
		"warm three times":          {[]temp.C{45.1, 45.1, 45.1}, "", WarnCold},
		"warm, then within 2 °C":    {[]temp.C{46, 46, 46, 43.1}, "", WarnCold},
		"warm, then cool":           {[]temp.C{46, 46, 46, 43}, "", ""},
		"60 °C itself":              {[]temp.C{60, 60, 60, 60}, "", WarnCold},
		"too warm once":             {[]temp.C{25, 25, 61, 25}, "", ""},
		"too warm three times":      {[]temp.C{60.1, 60.1, 60.1}, WhyCold, ""},
		"too warm, then within 2":   {[]temp.C{61, 61, 61, 58.1}, WhyCold, ""},
		"too warm, then warm":       {[]temp.C{61, 61, 61, 58}, "", WarnCold},
		"none said":                 {[]temp.C{0, 0, 0, 0}, "", ""},
		"none said after too warm":  {[]temp.C{61, 61, 61, nan}, "", ""},
		"not a number at all times": {[]temp.C{nan, nan, nan, nan}, "", ""},
	} {
		t.Run(name, func(t *testing.T) {
			c := channel{cfg: Default()}
			var v Verdict
			for _, cold := range k.cold {
				v = c.chill(cold)
			}
			assert.Equal(t, k.why, v.Why)
			assert.Equal(t, k.warn, v.Warn)
			assert.Equal(t, k.why == "", v.Good)
		})
	}
}

// 3 °C a minute is the limit of a cold junction's warming, to within a tenth.
func TestColdJunctionWarmingFast(t *testing.T) {
	for perMinute, warn := range map[float64]string{
		2.7: "", 3.3: WarnWarming, 20.0 / 60 * 6: "", -10: ""} {
		c := channel{cfg: Default()}
		var v Verdict
		for i := range 70 * 4 {
			v = c.chill(temp.C(25 + perMinute*float64(i)/240))
		}
		assert.Equal(t, warn, v.Warn, "%v °C a minute", perMinute)
		for range 120 * 4 { // it stops
			v = c.chill(30)
		}
		assert.Empty(t, v.Warn)
	}
}

// Between half and all of the limit the warning stays that stood.
func TestColdJunctionWarmingHasADeadband(t *testing.T) {
	c := channel{cfg: Default()}
	cold, perMinute := temp.C(25), 3.6
	var v Verdict
	for i := range 200 * 4 {
		if i == 80*4 {
			require.Equal(t, WarnWarming, v.Warn)
			perMinute = 2.2
		}
		cold += temp.C(perMinute / 240)
		v = c.chill(cold)
	}
	assert.Equal(t, WarnWarming, v.Warn)
}

// A reading that falls before the heat can have done anything is not judged: 5 °C and more below
// are, after 20 s; a fall that gets faster is, after 40 s.
func TestReversedNeedsTime(t *testing.T) {
	fall := func(first, more float64, seconds, hard int) (v Verdict) {
		c := channel{cfg: Default()}
		value := 22.0
		for i := range 4 * (20 + seconds) {
			if i == 4*(20+seconds-hard) {
				c.duty = 1
			}
			if n := float64(i - 80); n >= 0 {
				value -= first + more*n
			}
			c.now += beat
			c.word++
			c.st, v = Step(c.cfg, c.st, Input{Duty: c.duty, Reading: probe.Reading{
				At: c.now, Hot: temp.C(value), Cold: 15, HasCold: true, Raw: c.word}})
		}
		return v
	}
	assert.Empty(t, fall(0.1, 0.003, 27, 15).Why, "15 s of heat")
	assert.Equal(t, WhyReversed, fall(0.1, 0.003, 27, 27).Why, "27 s of heat")
	assert.Empty(t, fall(0.03, 0.0003, 45, 35).Why, "a slow fall, 35 s of heat")
	assert.Equal(t, WhyReversed, fall(0.03, 0.0003, 45, 45).Why, "a slow fall, 45 s of heat")
	assert.Empty(t, fall(0.04, 0, 45, 45).Why, "a fall that does not get faster")
}

// What is known of reversed leads survives a short fault, and ends when the leads were off or
// the reading comes out the right way.
func TestReversedStays(t *testing.T) {
	broken := func() *shop {
		s := newShop(1)
		s.reversed, s.manual = true, true
		s.run(30*time.Second, 0, func(Verdict) {})
		s.duty = 1
		require.Positive(t, s.until(WhyReversed, 0, time.Minute))
		s.duty = 0
		return s
	}
	fault := func(s *shop, n int) {
		for range n {
			s.now += beat
			s.st, _ = Step(s.cfg, s.st, Input{Reading: probe.Reading{At: s.now, Channel: 1,
				Fault: probe.FaultOpen, Raw: 0x00010001}})
		}
	}
	s := broken()
	s.run(5*time.Minute, 0, func(v Verdict) { require.Equal(t, WhyReversed, v.Why) })
	fault(s, 4)
	assert.Equal(t, WhyReversed, s.step(0).Why, "a second without contact")
	fault(s, 20)
	assert.True(t, s.step(0).Good, "five seconds without contact")

	s = broken()
	s.reversed = false
	var v Verdict
	s.run(30*time.Second, 0, func(w Verdict) { v = w })
	assert.True(t, v.Good, "well above where it began: %+v", v)
}

func TestAtRest(t *testing.T) {
	s := newShop(3)
	s.manual = true
	s.run(55*time.Second, 0, func(Verdict) {})
	_, ok := s.st.AtRest(1)
	assert.False(t, ok, "not a minute yet")
	s.run(10*time.Second, 0, func(Verdict) {})
	r, ok := s.st.AtRest(1)
	require.True(t, ok)
	assert.InDelta(t, float64(s.p.Room), float64(r.Hot), 0.2)
	assert.InDelta(t, s.cold, float64(r.Cold), 0.5)
	s.duty = 0.1
	s.step(0)
	s.duty = 0
	s.run(10*time.Minute, 0, func(Verdict) {})
	_, ok = s.st.AtRest(1)
	assert.False(t, ok, "it was heated")

	s = newShop(3)
	s.manual = true
	s.start(s.p.Room + 60)
	s.run(2*time.Minute, 0, func(Verdict) {})
	_, ok = s.st.AtRest(1)
	assert.False(t, ok, "a warm oven cools")
}

func TestAsk(t *testing.T) {
	nan := temp.C(math.NaN())
	for name, k := range map[string]struct {
		rests []Rest
		want  []Question
	}{
		"none":                 {nil, nil},
		"alone, nothing known": {[]Rest{{1, 72, nan}}, nil},
		"alone and sound":      {[]Rest{{1, 22, 28}}, nil},
		"all agree":            {[]Rest{{1, 22, 28}, {2, 24, 27}, {3, 20, nan}}, nil},
		"alone in °F":          {[]Rest{{1, 71.6, 25}}, []Question{{1, LooksF, 71.6, 25}}},
		"alone, °C taken for °F": {[]Rest{{1, -5.6, 25}},
			[]Question{{1, LooksC, -5.6, 25}}},
		"alone and far off": {[]Rest{{1, 40, 25}}, []Question{{1, ApartOwn, 40, 25}}},
		"one in °F": {[]Rest{{1, 22, 25}, {2, 72, nan}},
			[]Question{{2, LooksF, 72, 22}}},
		"one in °F, no junctions": {[]Rest{{1, 22, nan}, {2, 72, nan}},
			[]Question{{2, LooksF, 72, 22}}},
		"one too cold, no junctions": {[]Rest{{1, 22, nan}, {2, -5.6, nan}},
			[]Question{{2, LooksC, -5.6, 22}}},
		"a channel and its junction in °F": {[]Rest{{1, 71.6, 77}},
			[]Question{{1, BothF, 71.6, 22}}},
		"one differs": {[]Rest{{1, 22, 25}, {2, 21, 25}, {3, 33, nan}},
			[]Question{{3, Apart, 33, 22}}},
		"5 °C is allowed": {[]Rest{{1, 22, nan}, {2, 27, nan}}, nil},
		"two that differ, none better": {[]Rest{{1, 22, nan}, {2, 28, nan}},
			[]Question{{1, Apart, 22, 28}, {2, Apart, 28, 22}}},
	} {
		t.Run(name, func(t *testing.T) {
			got := Ask(nil, k.rests)
			require.Len(t, got, len(k.want), "%+v", got)
			for i, q := range k.want {
				assert.Equal(t, q.Channel, got[i].Channel)
				assert.Equal(t, q.Doubt, got[i].Doubt)
				assert.InDelta(t, float64(q.Hot), float64(got[i].Hot), 1e-9)
				assert.InDelta(t, float64(q.Others), float64(got[i].Others), 1e-9)
			}
		})
	}
}

func TestWear(t *testing.T) {
	var w Wear
	assert.Equal(t, w, w.Add(temp.C(math.NaN()), time.Second), "no value, no wear")
	w = w.Add(-5, time.Second)
	assert.Equal(t, Wear{Peak: -5, Seen: true}, w)
	w = w.Add(30, time.Second).Add(30.1, time.Second)
	assert.Equal(t, Wear{Peak: 30.1, Seen: true, Warm: time.Second}, w)
	w = w.Add(261, 2*time.Second).Add(40, WearGap)
	assert.Equal(t, Wear{Peak: 261, Seen: true, Warm: 33 * time.Second, Aged: 2 * time.Second}, w)
	for _, span := range []time.Duration{0, -1, WearGap + 1} {
		assert.Equal(t, w, w.Add(255, span), "%v does not count", span)
	}
}

// Wear never goes down, counts no more than has passed, and its order does not matter.
func TestWearOnlyGrows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var w Wear
		var total time.Duration
		for range rapid.IntRange(1, 50).Draw(t, "n") {
			v := temp.C(rapid.Float64Range(-40, 1300).Draw(t, "value"))
			span := time.Duration(rapid.Int64Range(-1e9, 60e9).Draw(t, "span"))
			n := w.Add(v, span)
			total += max(0, span)
			assert.GreaterOrEqual(t, n.Peak, v)
			assert.True(t, !w.Seen || n.Peak >= w.Peak)
			assert.GreaterOrEqual(t, n.Warm, w.Warm)
			assert.GreaterOrEqual(t, n.Aged, w.Aged)
			assert.LessOrEqual(t, n.Aged, n.Warm)
			assert.LessOrEqual(t, n.Warm, total)
			w = n
		}
	})
}
