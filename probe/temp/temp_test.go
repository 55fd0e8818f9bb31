package temp

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The points are by the definition of the Fahrenheit scale: 32 °F freezes, 212 °F boils, and
// 1 °C is 1.8 °F; -40 is where the scales meet.
var points = []struct{ c, f float64 }{
	{0, 32}, {100, 212}, {-40, -40}, {25, 77}, {1000, 1832}, {-273.15, -459.67}, {37, 98.6},
}

func TestScales(t *testing.T) {
	for _, p := range points {
		assert.InDelta(t, p.f, C(p.c).F(), 1e-9)
		assert.InDelta(t, p.c, float64(F(p.f)), 1e-9)
		assert.InDelta(t, p.f, C(p.c).In(Fahrenheit), 1e-9)
		assert.InDelta(t, p.c, C(p.c).In(Celsius), 0)
	}
	assert.InDelta(t, 45, Delta(25).F(), 1e-12)
	assert.InDelta(t, 45, Delta(25).In(Fahrenheit), 1e-12)
	assert.InDelta(t, 25, Delta(25).In(Celsius), 0)
	assert.InDelta(t, 5, float64(DeltaF(9)), 1e-12)
	assert.Equal(t, "°C", Celsius.String())
	assert.Equal(t, "°F", Fahrenheit.String())
}

func TestText(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{F(400).Text(Fahrenheit, 1), "400.0 °F"},
		{F(400).Text(Celsius, 0), "204 °C"},
		{C(-17.8).Text(Celsius, 1), "-17.8 °C"},
		{C(-0.04).Text(Celsius, 1), "0.0 °C"},
		{C(-0.4).Text(Celsius, 0), "0 °C"},
		{C(-40).Text(Fahrenheit, 0), "-40 °F"},
		{Delta(1.4).Text(Celsius, 1), "+1.4 °C"},
		{Delta(5).Text(Fahrenheit, 0), "+9 °F"},
		{Delta(-1.4).Text(Celsius, 1), "-1.4 °C"},
		{Delta(0).Text(Celsius, 1), "+0.0 °C"},
		{Delta(-0.01).Text(Celsius, 1), "+0.0 °C"},
	} {
		assert.Equal(t, c.want, c.got)
	}
}

func TestParse(t *testing.T) {
	for _, c := range []struct {
		text string
		c    float64
		unit Unit
	}{
		{"0C", 0, Celsius},
		{"32F", 0, Fahrenheit},
		{"212f", 100, Fahrenheit},
		{"100c", 100, Celsius},
		{"-100C", -100, Celsius},
		{"+25C", 25, Celsius},
		{"77 °F", 25, Fahrenheit},
		{" 25 ° C ", 25, Celsius},
		{"25°C", 25, Celsius},
		{"1e2C", 100, Celsius},
		{".5C", 0.5, Celsius},
		{"-273.15C", -273.15, Celsius},
		{"-40F", -40, Fahrenheit},
		{"1832\t°F", 1000, Fahrenheit},
	} {
		got, unit, err := Parse(c.text)
		require.NoError(t, err, c.text)
		assert.InDelta(t, c.c, float64(got), 1e-9, c.text)
		assert.Equal(t, c.unit, unit, c.text)
	}
}

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"", "no unit"}, {"400", "no unit"}, {"400 °", "no unit"}, {"400K", "no unit"},
		{"400 deg", "no unit"}, {"400F0", "no unit"}, {"400℃", "no unit"},
		{"F", "not a number"}, {"°C", "not a number"}, {"  C", "not a number"},
		{"fourC", "not a number"}, {"4O0F", "not a number"}, {"4,5C", "not a number"},
		{"1 2C", "not a number"}, {"--5C", "not a number"}, {"400FF", "not a number"},
		{"400FC", "not a number"}, {"°400C", "not a number"}, {"400°°C", "not a number"},
		{"nanC", "not a number"}, {"infC", "not a number"}, {"-InfF", "not a number"},
		{"infinityC", "not a number"}, {"1e999C", "not a number"}, {"-1e999F", "not a number"},
		{"0x1p4C", "not a number"}, {"0x10C", "not a number"}, {"1_000C", "not a number"},
		{"-273.16C", "below absolute zero"}, {"-459.68F", "below absolute zero"},
		{"-1e300C", "below absolute zero"},
	} {
		_, _, err := Parse(c.text)
		require.ErrorContains(t, err, c.want, c.text)
		assert.ErrorContains(t, err, strconv.Quote(c.text), "the complaint quotes the text")
	}
}

func TestParseDelta(t *testing.T) {
	for _, c := range []struct {
		text string
		d    float64
		unit Unit
	}{
		{"9F", 5, Fahrenheit}, {"5 °C", 5, Celsius}, {"-9F", -5, Fahrenheit}, {"0F", 0, Fahrenheit},
		{"-1000C", -1000, Celsius}, // a difference may be as large as it likes
	} {
		got, unit, err := ParseDelta(c.text)
		require.NoError(t, err, c.text)
		assert.InDelta(t, c.d, float64(got), 1e-9, c.text)
		assert.Equal(t, c.unit, unit)
	}
	for _, text := range []string{"", "10", "F", "nanF", "1e999C", "0x1C"} {
		_, _, err := ParseDelta(text)
		assert.Error(t, err, text)
	}
}

func TestScalesAreInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := C(rapid.Float64Range(-273.15, 3000).Draw(t, "c"))
		require.InDelta(t, float64(c), float64(F(c.F())), 1e-9)
		d := Delta(rapid.Float64Range(-3000, 3000).Draw(t, "d"))
		require.InDelta(t, float64(d), float64(DeltaF(d.F())), 1e-9)
		require.InDelta(t, float64(d), float64(c.Add(d).Sub(c)), 1e-9)
		// A difference means the same whichever scale it is taken in.
		require.InDelta(t, d.F(), c.Add(d).F()-c.F(), 1e-8)
	})
}

// What Text writes, Parse reads back in the same unit, to half a unit of the last decimal.
func TestTextIsRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := C(rapid.Float64Range(-273, 3000).Draw(t, "c"))
		u := Unit(rapid.IntRange(0, 1).Draw(t, "unit"))
		decimals := rapid.IntRange(1, 6).Draw(t, "decimals")
		got, unit, err := Parse(c.Text(u, decimals))
		require.NoError(t, err)
		require.Equal(t, u, unit)
		require.InDelta(t, float64(c), float64(got), 0.51*math.Pow10(-decimals))
		d, unit, err := ParseDelta(Delta(c).Text(u, decimals))
		require.NoError(t, err)
		require.Equal(t, u, unit)
		require.InDelta(t, float64(c), float64(d), 0.51*math.Pow10(-decimals))
	})
}

// What Parse reads is a finite temperature that carries a unit at its end, and a difference as
// well; what it refuses is refused with nothing beside the error.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"400F", "204.4 °C", "-100C", " 25 ° c ", "", "400", "nanC", "0x1pF",
		"1e999C", "-273.16C", "1_0C", "°F", "\xffC", "+.5e1f"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, u, err := Parse(s)
		d, du, derr := ParseDelta(s)
		if err != nil {
			if c != 0 || u != 0 {
				t.Fatalf("%q: %v beside %v", s, c, err)
			}
			return
		}
		v := float64(c)
		if math.IsNaN(v) || math.IsInf(v, 0) || c < Zero {
			t.Fatalf("%q is %v", s, c)
		}
		if end := strings.ToUpper(strings.TrimSpace(s)); !strings.HasSuffix(end, u.String()[2:]) {
			t.Fatalf("%q was read in %v", s, u)
		}
		if derr != nil || du != u {
			t.Fatalf("%q: a temperature in %v, as a difference %v in %v", s, u, derr, du)
		}
		if math.Abs(d.In(u)-c.In(u)) > 1e-9*(1+math.Abs(d.In(u))) {
			t.Fatalf("%q: %g as a temperature, %g as a difference", s, c.In(u), d.In(u))
		}
	})
}
