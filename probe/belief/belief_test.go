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

const beat = 250 * time.Millisecond

// channel drives one channel the way an engine does.
type channel struct {
	cfg  Config
	st   State
	now  time.Duration
	word uint32
	duty float64
}

func (c *channel) read(v temp.C, fault probe.Fault) Verdict {
	c.now += beat
	c.word++
	var out Verdict
	c.st, out = Step(c.cfg, c.st, Input{Duty: c.duty, Reading: probe.Reading{
		At: c.now, Channel: 1, Hot: v, Fault: fault, Raw: c.word}})
	return out
}

// feed gives the reasons for a row of values, "" for a good one.
func (c *channel) feed(values ...temp.C) (why []string) {
	for _, v := range values {
		why = append(why, c.read(v, probe.FaultNone).Why)
	}
	return why
}

func TestGatesNameTheirReason(t *testing.T) {
	inf := temp.C(math.Inf(1))
	for name, c := range map[string]struct {
		values []temp.C
		want   []string
	}{
		"steady":            {[]temp.C{200, 200.25, 200}, []string{"", "", ""}},
		"not a number":      {[]temp.C{200, temp.C(math.NaN()), 200}, []string{"", WhyImpossible, ""}},
		"infinite":          {[]temp.C{inf, -inf, 200}, []string{WhyImpossible, WhyImpossible, ""}},
		"ends of the range": {[]temp.C{-40}, []string{""}},
		"top of the range":  {[]temp.C{1300}, []string{""}},
		"below the range":   {[]temp.C{-40.01}, []string{WhyImpossible}},
		"above the range":   {[]temp.C{1300.01}, []string{WhyImpossible}},
		"exactly the jump":  {[]temp.C{200, 205}, []string{"", ""}},
		"one spike":         {[]temp.C{200, 260, 200}, []string{"", WhyJump, ""}},
		"two spikes apart":  {[]temp.C{200, 260, 200, 140, 200}, []string{"", WhyJump, "", WhyJump, ""}},
		"a door, sudden": {[]temp.C{200, 150, 148, 146, 144},
			[]string{"", WhyJump, WhyJump, "", ""}},
		"wild values never persist": {[]temp.C{200, 150, 100, 150, 100, 150},
			[]string{"", WhyJump, WhyJump, WhyJump, WhyJump, WhyJump}},
		"a fault in between starts the count again": {
			[]temp.C{200, 150, 150, temp.C(math.NaN()), 150, 150, 150},
			[]string{"", WhyJump, WhyJump, WhyImpossible, WhyJump, WhyJump, ""}},
	} {
		t.Run(name, func(t *testing.T) {
			ch := channel{cfg: Default()}
			assert.Equal(t, c.want, ch.feed(c.values...))
		})
	}
}

func TestChipFaultHasItsOwnWord(t *testing.T) {
	for f := probe.FaultOpen; f <= probe.FaultColdJunction; f++ {
		c := channel{cfg: Default()}
		c.feed(200)
		v := c.read(200, f)
		assert.False(t, v.Good)
		assert.Equal(t, f.String(), v.Why)
		assert.True(t, math.IsNaN(float64(v.Filtered)), "no value stands beside a refusal")
		assert.True(t, c.read(200.25, probe.FaultNone).Good, "good again with a finite value")
	}
}

func TestRealStepRestartsTheFilterWhereItLeads(t *testing.T) {
	c := channel{cfg: Default()}
	c.feed(200, 200, 200, 200, 150, 149)
	v := c.read(148, probe.FaultNone)
	assert.True(t, v.Good)
	assert.InDelta(t, 148, float64(v.Filtered), 1e-12)
}

// An opened door moves the probe by 4.4 °C/s (our reference oven); that must stay good.
func TestOpenedDoorIsBelieved(t *testing.T) {
	c := channel{cfg: Default()}
	c.feed(200, 200, 200, 200, 200, 200)
	v := temp.C(200)
	for range 60 {
		v -= 1.1
		assert.Empty(t, c.read(v, probe.FaultNone).Why)
	}
	// A ramp is followed with the delay of the filter, 2 s, and no more: 8.8 °C at 4.4 °C/s.
	assert.InDelta(t, float64(v)+8.8, float64(c.st.filtered), 0.6)
}

// hold feeds readings that all have word 7 and one value.
func (c *channel) hold(n int, v temp.C) (out Verdict) {
	for range n {
		c.word = 6 // the next reading has word 7
		out = c.read(v, probe.FaultNone)
	}
	return out
}

// keep feeds readings with the word and the value as they stand.
func (c *channel) keep(n int, v temp.C) (out Verdict) {
	for range n {
		c.word--
		out = c.read(v, probe.FaultNone)
	}
	return out
}

// rising heats from 20 °C with 0.25 °C a reading for 60 s; the last value is 80 °C.
func rising(duty float64) *channel {
	c := &channel{cfg: Default(), duty: duty}
	for i := range 241 {
		c.word = 1000
		c.read(20+temp.C(i)/4, probe.FaultNone)
	}
	return c
}

func TestFrozenWhileRising(t *testing.T) {
	c := rising(0.3)
	assert.True(t, c.hold(240, 80).Good, "59.75 s after the first")
	v := c.hold(1, 80)
	assert.Equal(t, Verdict{Why: WhyFrozen}, Verdict{Good: v.Good, Why: v.Why})
	c.duty = 0
	assert.Equal(t, WhyFrozen, c.hold(1, 80).Why, "taking the heat away does not thaw it")
	c.word = 8
	assert.True(t, c.read(80, probe.FaultNone).Good, "another word does")

	c = rising(0.2)
	assert.True(t, c.hold(2000, 80).Good, "not above the duty that raises suspicion")

	c = rising(0.3)
	c.hold(240, 80)
	c.duty = 0.1
	c.hold(1, 80)
	c.duty = 0.3
	assert.True(t, c.hold(239, 80).Good, "a pause in heating starts the clock again")

	c = rising(0.9)
	c.duty = 0.3
	assert.True(t, c.hold(20000, 80).Good, "the heat was reduced: it may stand still")

	c = rising(0.3)
	c.word = 8
	c.cfg.Frozen = time.Hour
	assert.True(t, c.hold(241, 80).Good)
}

// A slow rise, 0.0625 °C/s and so a code every 4 s, is given more time; and if the last code
// was late, it was coming to an end.
func TestFrozenInASlowRise(t *testing.T) {
	for name, k := range map[string]struct {
		late int // readings that the last code was late
		want int // readings until it is frozen; 0 never
	}{"steady": {0, 4 * 144}, "slower at last": {24, 0}} {
		c := &channel{cfg: Default(), duty: 0.3}
		for i := range 80 {
			c.word = uint32(i)
			c.keep(16, 19+temp.C(i)/4)
		}
		c.keep(k.late, 19+79.0/4)
		got := 0
		for i := 0; i < 4*1000 && got == 0; i++ {
			c.word = 80
			if c.keep(1, 39).Why == WhyFrozen {
				got = i
			}
		}
		assert.InDelta(t, k.want, got, 24, name)
	}
}

// What makes a repeated word suspicious when nothing is known but the duty.
func TestFrozenByExtraHeat(t *testing.T) {
	for name, k := range map[string]struct {
		value  temp.C // °C, with no cold junction said
		before float64
		span   int // readings
		duty   float64
		after  int // readings until it is frozen; 0 never
	}{
		// 40 s beyond 0.05 of a mean that climbs with 15 s: 40/0.95 + 15 = 57 s, and a minute.
		"cold oven, full duty":           {20, 0, 8, 1, 470},
		"cold oven, duty 0.3":            {20, 0, 8, 0.3, 4 * (178 + 60)},
		"cold oven, little duty":         {20, 0, 8, 0.2, 0},
		"warm from the first, any duty":  {200, 0.25, 8, 0.25, 0},
		"warm from the first, full duty": {200, 0.25, 8, 1, 4 * 180}, // three minutes of it
		// 0.252 is left of a duty that is not known, of at most 1, after six times 15 min.
		"held for 90 min, then duty 0.9": {200, 0.25, 4 * 5400, 0.9, 4 * (67 + 15 + 60)},
	} {
		t.Run(name, func(t *testing.T) {
			c := channel{cfg: Default(), duty: k.before}
			c.hold(k.span, k.value)
			c.duty = k.duty
			got := 0
			for i := 1; i <= 4000 && got == 0; i++ {
				if c.hold(1, k.value).Why == WhyFrozen {
					got = i
				}
			}
			assert.InDelta(t, k.after, got, 16)
		})
	}
}

// Of a lively time and a quiet one the quiet one counts, whichever came first.
func TestNoiseTakesTheQuietest(t *testing.T) {
	for _, sd := range [][2]float64{{0.3, 0.01}, {0.01, 0.3}, {0.3, 0.3}} {
		rng := newNoise(3)
		var k lively
		for i := range 4 * 600 {
			k.add(math.Round(4*(200.1+sd[i/1200]*rng.gauss()))/4, true)
		}
		assert.Equal(t, sd[0] == sd[1], k.bits > 0.1, "%v: %v", sd, k.bits)
	}
}

// The noise of a chip is bounded from above by what it shows: never livelier than it is.
func TestNoiseIsNeverOverrated(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sd := rapid.Float64Range(0, 0.6).Draw(t, "sd")
		drift := rapid.OneOf(rapid.Float64Range(-0.04, 0.04),
			rapid.Float64Range(-2, 2)).Draw(t, "°C/s")
		rng := newNoise(rapid.Uint64().Draw(t, "seed"))
		mean := rapid.Float64Range(20, 300).Draw(t, "mean")
		var k lively
		last := math.NaN()
		for i := range 4 * 600 {
			code := math.Round(4*(mean+drift*float64(i)/4+sd*rng.gauss())) / 4
			k.add(code, code != last)
			last = code
		}
		// A reading falls on the likeliest code, centred on the mean, with this chance.
		likeliest := math.Erf(0.125 / sd / math.Sqrt2)
		if k.bits > 0 {
			assert.LessOrEqual(t, k.bits, -math.Log(likeliest)*1.0001)
		}
		if sd < 0.04 {
			assert.Zero(t, k.bits, "a chip quieter than this says nothing")
		}
	})
}

func TestFrozenWithoutChipWords(t *testing.T) {
	c := channel{cfg: Default(), duty: 1}
	var v Verdict
	for i := range 300 { // text boards give Raw 0 and a moving value
		c.word = math.MaxUint32
		v = c.read(200+temp.C(i%2)/4, probe.FaultNone)
	}
	assert.True(t, v.Good)
}

func TestAge(t *testing.T) {
	cfg := Default()
	assert.Equal(t, WhyNone, Age(cfg, State{}, 0).Why)
	c := channel{cfg: cfg}
	c.feed(200)
	at := c.now
	assert.True(t, Age(cfg, c.st, at+1500*time.Millisecond).Good)
	assert.Equal(t, WhyStale, Age(cfg, c.st, at+1500*time.Millisecond+1).Why)
	c.read(0, probe.FaultOpen)
	assert.Equal(t, "open", Age(cfg, c.st, c.now+time.Hour).Why, "the first cause stays")
}

func TestZeroConfigBelievesNothing(t *testing.T) {
	c := channel{}
	for _, why := range c.feed(200, 20, -3) {
		assert.Equal(t, WhyImpossible, why)
	}
}

// The filter alone reaches the textbook variance alpha/(2-alpha) of white noise, also when
// the interval is not the nominal one. The median test in front repeats a value now and then
// and so lets a little more through: a fifth at most.
func TestNoiseReduction(t *testing.T) {
	const tf = 2.0 // s
	for _, h := range []float64{0.25, 1} {
		a := 1 - math.Exp(-h/tf)
		textbook := a / (2 - a)
		plain := Default()
		plain.Window = 1
		got := varianceRatio(plain, h)
		assert.InEpsilon(t, textbook, got, 0.05, "interval %v s", h)
		assert.Less(t, varianceRatio(Default(), h), 1.2*textbook, "interval %v s", h)
	}
}

// varianceRatio is the output's variance over the input's for Gaussian noise of 0.5 °C.
func varianceRatio(cfg Config, h float64) float64 {
	const n = 200000
	rng := newNoise(7)
	var st State
	var in, out, in2, out2 float64
	for i := range n {
		x := 0.5 * rng.gauss()
		var v Verdict
		st, v = Step(cfg, st, Input{Reading: probe.Reading{Hot: 200 + temp.C(x),
			At: time.Duration(float64(i) * h * 1e9), Raw: uint32(i)}})
		y := float64(v.Filtered) - 200
		in, in2, out, out2 = in+x, in2+x*x, out+y, out2+y*y
	}
	return (out2/n - out*out/n/n) / (in2/n - in*in/n/n)
}

func TestStepAllocatesNothing(t *testing.T) {
	cfg, st := Default(), State{}
	in := Input{Duty: 0.3, Reading: probe.Reading{Hot: 200}}
	require.Zero(t, testing.AllocsPerRun(1000, func() {
		in.Reading.At += beat
		in.Reading.Raw++
		st, _ = Step(cfg, st, in)
	}))
}

func BenchmarkStep(b *testing.B) {
	cfg, st := Default(), State{}
	in := Input{Duty: 0.3, Reading: probe.Reading{Hot: 200}}
	b.ReportAllocs()
	for b.Loop() {
		in.Reading.At += beat
		in.Reading.Raw++
		in.Reading.Hot = 200 + temp.C(in.Reading.Raw%5)/4
		st, _ = Step(cfg, st, in)
	}
}
