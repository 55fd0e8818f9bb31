package profiles

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
)

// The three built-in tempers in words: two cycles of ramp, blade in with the heat on, two
// hours at the temperature that is common practice for the kind of knife, cool to the hand.
func TestBuiltinsInWords(t *testing.T) {
	want := map[string]string{"small-knife": "400 °F", "large-knife": "425 °F",
		"kitchen": "385 °F"}
	require.Len(t, Names(), len(want))
	for _, name := range Names() {
		at := want[name]
		require.NotEmpty(t, at, name)
		p, err := Builtin(name)
		require.NoError(t, err)
		require.NoError(t, p.Check())
		cycle := []string{"ramp to " + at, "wait: blade in (heat on, at most 1h)",
			"soak 2h at " + at + " ± 10 °F", "wait: blade out, cooled to the hand (heat off)"}
		assert.Equal(t, append(cycle, cycle...), words(p), name)
		assert.Equal(t, []int{1, 1, 1, 1, 2, 2, 2, 2}, cycles(p), name)
		for i, s := range p.Steps {
			assert.Equal(t, []Load{LoadSame, LoadIn, LoadSame, LoadOut}[i%4], s.Load, name)
		}
		assert.Equal(t, name, p.Name)
		assert.Contains(t, p.Title, at)
		assert.Contains(t, p.Note, "common practice, no source")
		assert.Equal(t, temp.Fahrenheit, p.Unit)
	}
}

// The limit must leave room for an ordinary overshoot of 10 °C above the band, protect
// (at most 30 °C above the target), and stand under an oven limited to 250 °C.
func TestBuiltinLimits(t *testing.T) {
	for _, name := range Names() {
		p, err := Builtin(name)
		require.NoError(t, err)
		soak := p.Steps[2]
		assert.Greater(t, float64(p.Limit), float64(soak.To.Add(soak.Band+10)), name)
		assert.LessOrEqual(t, float64(p.Limit), float64(soak.To)+30, name)
		assert.Less(t, float64(p.Limit), 250.0, name)
	}
}

func TestBuiltinIsAFreshCopy(t *testing.T) {
	a, err := Builtin("kitchen")
	require.NoError(t, err)
	a.Steps[0].To = 999
	b, err := Builtin("kitchen")
	require.NoError(t, err)
	assert.InDelta(t, float64(temp.F(385)), float64(b.Steps[0].To), 1e-9)
}

func TestSuggest(t *testing.T) {
	for name, want := range map[string]string{
		"small-knive": "small-knife", "smallknife": "small-knife", "Kitchen": "kitchen",
		"kitchn": "kitchen", "kicthen": "kitchen", "large": "large-knife", "kit": "kitchen",
		"sword": "", "": "", "k": "", "zz": "",
	} {
		assert.Equal(t, want, Suggest(name), name)
	}
	assert.Equal(t, "my-sword", Suggest("my-swrod", "my-sword", "my-axe"))
	assert.Equal(t, "", Suggest("my-", "my-sword", "my-axe"), "two are as near")
}

func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"", "abc", 3}, {"abc", "", 3}, {"abc", "abc", 0}, {"kitten", "sitting", 3},
		{"ab", "ba", 1}, {"flaw", "lawn", 2}, {"a", "b", 1}} {
		assert.Equal(t, c.want, distance(c.a, c.b), "%s %s", c.a, c.b)
	}
}

func TestTemper(t *testing.T) {
	p, err := Temper(temp.F(400), 2*time.Hour, 2, temp.DeltaF(10), temp.Fahrenheit)
	require.NoError(t, err)
	small, err := Builtin("small-knife")
	require.NoError(t, err)
	assert.Equal(t, small.Steps, p.Steps, "the same job in one line")
	assert.Equal(t, "Temper at 400 °F for 2h, 2 times", p.Title)
	assert.InDelta(t, 445, p.Limit.F(), 1e-9)

	one, err := Temper(200, time.Hour, 1, 5, temp.Celsius)
	require.NoError(t, err)
	assert.Equal(t, []int{0, 0, 0, 0}, cycles(one), "no repeat, no cycle")
	assert.Equal(t, "Temper at 200 °C for 1h", one.Title)
	assert.Equal(t, temp.C(225), one.Limit)

	for name, c := range map[string]struct {
		at    temp.C
		span  time.Duration
		times int
		band  temp.Delta
		want  string
	}{
		"no cycle":    {200, time.Hour, 0, 5, "times: 0 is outside 1 to 10"},
		"many cycles": {200, time.Hour, 11, 5, "times: 11 is outside 1 to 10"},
		"too hot":     {1400, time.Hour, 1, 5, "at: 1400 °C is outside 0 °C to 1300 °C"},
		"near the end": {1290, time.Hour, 1, 5,
			"limit: 1315 °C is outside 0 °C to 1300 °C"},
		"no time":    {200, 0, 1, 5, "a soak lasts above 0"},
		"wide":       {200, time.Hour, 1, 51, "a band stands between 1 °C and 50 °C"},
		"whole week": {200, 20 * time.Hour, 3, 5, "the plan takes"},
	} {
		_, err := Temper(c.at, c.span, c.times, c.band, temp.Celsius)
		require.Error(t, err, name)
		assert.IsType(t, &Problem{}, err, name)
		assert.Contains(t, err.Error(), c.want, name)
		assert.Contains(t, err.Error(), "profile temper: ", name)
	}
}
