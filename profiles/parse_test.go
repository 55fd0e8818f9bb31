package profiles

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
)

const shelf = "../testdata/profiles"

func parseFile(t *testing.T, name string) *Profile {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(shelf, name))
	require.NoError(t, err)
	p, err := Parse(name, data)
	require.NoError(t, err)
	require.NoError(t, p.Check())
	return p
}

// Each bad file says in its first line what is to be found: "# want LINE:COLUMN TEXT".
func TestBadFiles(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(shelf, "bad", "*.toml"))
	require.NoError(t, err)
	require.Greater(t, len(files), 60)
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".toml"), func(t *testing.T) {
			data, err := os.ReadFile(file)
			require.NoError(t, err)
			first, _, _ := strings.Cut(string(data), "\n")
			where, text, ok := strings.Cut(strings.TrimPrefix(first, "# want "), " ")
			require.True(t, ok)
			line, column, _ := strings.Cut(where, ":")

			_, err = Parse("my.toml", data)
			var p *Problem
			require.ErrorAs(t, err, &p)
			assert.Contains(t, err.Error(), "profile my.toml, line "+line+", column "+column+": ")
			assert.Contains(t, err.Error(), text)
			assert.NotContains(t, err.Error(), "\n")
			for _, goType := range []string{"toml:", "interface", "map[", "int64", "float64",
				"struct", "profiles."} {
				assert.NotContains(t, err.Error(), goType)
			}
		})
	}
}

func TestEveryKey(t *testing.T) {
	p := parseFile(t, "good/full.toml")
	assert.Equal(t, "every-key", p.Name)
	assert.Equal(t, "Made up to hold every key of the format.", p.Note)
	assert.Equal(t, temp.Celsius, p.Unit)
	assert.Equal(t, 20*time.Hour, p.Longest)
	assert.Equal(t, []string{
		"ramp to 850 °C at 300 °C/h",
		"soak 10m at 850 °C ± 5 °C",
		"cool to 60 °C",
		"wait: blade in (heat off)",
		"soak 1h30m at 200 °C ± 10 °C",
		"wait: look at the colour (heat on, at most 20m)",
		"soak 1h30m at 200 °C ± 10 °C",
		"wait: look at the colour (heat on, at most 20m)",
		"wait: blade out (heat off)",
	}, words(p))
	assert.InDelta(t, 10, float64(p.Steps[0].Band), 1e-9)
	assert.Equal(t, 4*time.Hour, p.Steps[0].Limit)
	assert.Equal(t, []int{0, 0, 0, 0, 1, 1, 2, 2, 0}, cycles(p))
	assert.Equal(t, []Load{LoadIn, LoadOut}, []Load{p.Steps[3].Load, p.Steps[8].Load})
}

func words(p *Profile) (out []string) {
	for _, s := range p.Steps {
		out = append(out, s.Words(p.Unit))
	}
	return out
}

func cycles(p *Profile) (out []int) {
	for _, s := range p.Steps {
		out = append(out, s.Cycle)
	}
	return out
}

func TestTwoWaysToWriteTheSame(t *testing.T) {
	assert.Equal(t, parseFile(t, "good/inline.toml"), parseFile(t, "good/dotted.toml"))
}

func TestWhatIsNotGiven(t *testing.T) {
	p := parseFile(t, "good/inline.toml")
	assert.Equal(t, "two-ways", p.Title, "the name stands in for a title")
	assert.Equal(t, temp.Fahrenheit, p.Unit, "the limit's unit")
	var plan time.Duration
	for _, d := range Lengths(p.Steps) {
		plan += d
	}
	assert.Equal(t, (plan + 2*time.Hour).Round(time.Second), p.Longest)
	// 184.4 °C at 0.5 °C/s are 6 min, and an hour of patience.
	assert.Equal(t, 66*time.Minute, p.Steps[0].Limit)
	// The first soak begins in the band: an hour of patience. The second comes after a wait
	// with the heat off, so that its heating is planned as well.
	assert.Equal(t, time.Hour, p.Steps[1].Limit)
	assert.Greater(t, p.Steps[3].Limit, time.Hour)
}

func TestWaitKeepsHeatOffUnlessAsked(t *testing.T) {
	doc := "name = \"a\"\nlimit = \"450F\"\nband = \"10F\"\n[[step]]\nramp = \"400F\"\n" +
		"[[step]]\nwait = \"look\"\n"
	p, err := Parse("a.toml", []byte(doc))
	require.NoError(t, err)
	assert.False(t, p.Steps[1].Heat)
	p, err = Parse("a.toml", []byte(doc+"heat = true\n"))
	require.NoError(t, err)
	assert.True(t, p.Steps[1].Heat)
	assert.Equal(t, time.Hour, p.Steps[1].Most, "60 min at most unless less is given")
}

func TestFileTooLarge(t *testing.T) {
	_, err := Parse("big.toml", make([]byte, biggestFile+1))
	assert.ErrorContains(t, err, "larger than 256 KiB")
}

func TestFileNameCannotSteerATerminal(t *testing.T) {
	_, err := Parse("\x1b[2Ja.toml", nil)
	assert.NotContains(t, err.Error(), "\x1b")
}

func TestSpans(t *testing.T) {
	for text, want := range map[string]time.Duration{
		"2h": 2 * time.Hour, "20m": 20 * time.Minute, "90s": 90 * time.Second,
		"1h30m": 90 * time.Minute, "1h 30m": 90 * time.Minute, " 2 h ": 2 * time.Hour,
		"1.5h": 90 * time.Minute, "0s": 0, "1h1m1s": time.Hour + time.Minute + time.Second,
		"0.001s": time.Millisecond, "1000h": 1000 * time.Hour,
	} {
		got, err := ParseSpan(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "2", "h", "2d", "-2h", "+2h", "30m1h", "1h1h", "2hours",
		"1e3h", "0x1h", "1..5h", "inf", "infh", "NaNs", "1_0m", "1001h", "2ms"} {
		_, err := ParseSpan(text)
		assert.Error(t, err, text)
	}
	for want, d := range map[string]time.Duration{
		"2h": 2 * time.Hour, "20m": 20 * time.Minute, "1h30m": 90 * time.Minute, "0s": 0,
		"10s": 10 * time.Second, "1h0m10s": time.Hour + 10*time.Second,
	} {
		assert.Equal(t, want, SpanText(d))
	}
}

func TestRates(t *testing.T) {
	for text, want := range map[string]float64{ // °C/h
		"180F/h": 100, "100C/h": 100, "1 °C/min": 60, "9F/min": 300,
	} {
		got, err := ParseRate(text)
		require.NoError(t, err, text)
		assert.InDelta(t, want/3600, got, 1e-12, text)
	}
	for _, text := range []string{"", "300", "300F", "300/h", "F/h", "300F/s", "300F/hour"} {
		_, err := ParseRate(text)
		assert.Error(t, err, text)
	}
}

func TestProblemIsOneType(t *testing.T) {
	_, err := Builtin("smal-knife")
	var p *Problem
	require.True(t, errors.As(err, &p))
	assert.Equal(t, "profile smal-knife: there is no such profile: did you mean small-knife?",
		err.Error())
}
