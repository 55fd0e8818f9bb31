package main

import (
	"strings"
	"testing"
	"time"

	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/sim"
)

func TestLengths(t *testing.T) {
	for text, mm := range map[string]float64{
		"4mm": 4, "4 mm": 4, "0.16in": 4.064, "3/16in": 4.7625, "1/4 in": 6.35, ".5mm": 0.5,
	} {
		var v lengthValue
		require.NoError(t, v.Set(text), text)
		assert.InDelta(t, mm, v.mm, 1e-12, text)
		assert.True(t, v.given)
	}
	for text, want := range map[string]string{
		"4":      "has no unit",
		"4 m":    "has no unit",
		"mm":     "not a length",
		"-4mm":   "not a length above 0",
		"0mm":    "not a length above 0",
		"NaNmm":  "not a length",
		"1/0in":  "not a length",
		"Infin":  "not a length",
		"0x4mm":  "not a length",
		"4mm in": "not a length",
		"4mmin":  "has no unit",
	} {
		var v lengthValue
		assert.ErrorContains(t, v.Set(text), want, text)
		assert.False(t, v.given, text)
	}
}

// TestGains takes one gain in both scales: 0.1 per °F is the duty that 1.8 times 0.1 per °C
// asks for, because 1 °C is 1.8 °F.
func TestGains(t *testing.T) {
	for text, perC := range map[string]float64{
		"0.057/C": 0.057, "0.057 / °C": 0.057, "0.1/F": 0.18, "0.1/f": 0.18, "2/c": 2,
	} {
		var v gainValue
		require.NoError(t, v.Set(text), text)
		assert.InDelta(t, perC, v.perC, 1e-15, text)
	}
	for text, want := range map[string]string{
		"0.057": "has no unit", "0.057/K": "has no unit", "/C": "not a gain", "-1/C": "above 0",
		"0/C": "above 0", "inf/C": "not a gain", "": "has no unit",
	} {
		var v gainValue
		assert.ErrorContains(t, v.Set(text), want, text)
	}
}

func TestSpans(t *testing.T) {
	for text, want := range map[string]time.Duration{
		"2h": 2 * time.Hour, "120s": 2 * time.Minute, "1h30m": 90 * time.Minute, "0s": 0,
	} {
		var v spanValue
		require.NoError(t, v.Set(text), text)
		assert.Equal(t, spanValue{want, true}, v, text)
		assert.Equal(t, want.Seconds(), func() float64 {
			d, err := time.ParseDuration(v.String())
			require.NoError(t, err)
			return d.Seconds()
		}())
	}
	for text, want := range map[string]string{
		"120": "has no unit", "0": "has no unit", "-5m": "is no span", "": "is no span",
		"2 days": "is no span",
	} {
		var v spanValue
		assert.ErrorContains(t, v.Set(text), want, text)
		assert.False(t, v.given)
	}
}

func TestPaces(t *testing.T) {
	for text, want := range map[string]paceValue{
		"max": {max: true}, "1": {factor: 1}, "60": {factor: 60}, "0.5": {factor: 0.5},
	} {
		var v paceValue
		require.NoError(t, v.Set(text), text)
		assert.Equal(t, want, v, text)
		assert.Equal(t, text, v.String())
	}
	for _, text := range []string{"0", "-1", "fast", "NaN", "Inf", "1e400", ""} {
		var v paceValue
		assert.ErrorContains(t, v.Set(text), "not a pace", text)
	}
}

func TestOtherValues(t *testing.T) {
	var seed seedValue
	require.NoError(t, seed.Set("18446744073709551615"))
	assert.Equal(t, uint64(18446744073709551615), seed.n)
	for _, text := range []string{"-1", "1.5", "", "18446744073709551616", "0x7"} {
		assert.ErrorContains(t, seed.Set(text), "not a whole number", text)
	}

	var mains mainsValue
	require.NoError(t, mains.Set("60 Hz"))
	assert.Equal(t, 60, mains.hz)
	for _, text := range []string{"60", "55Hz", ""} {
		assert.ErrorContains(t, mains.Set(text), "write 50Hz or 60Hz", text)
	}

	var band deltaValue
	require.NoError(t, band.Set("9F"))
	assert.InDelta(t, 5, float64(band.d), 1e-12, "a difference has no offset")
	assert.ErrorContains(t, band.Set("-9F"), "must be above 0")
	assert.ErrorContains(t, band.Set("9"), "has no unit")

	word := wordValue{allowed: []string{personGoesOn, personAway}}
	require.NoError(t, word.Set("away"))
	assert.ErrorContains(t, word.Set("goeson"), "did you mean goes-on?")
	assert.Equal(t, "away", word.word)
}

// parsed gives the flags after reading args; what register adds is under test.
func parsed(t *testing.T, register func(*pflag.FlagSet), args string) (*pflag.FlagSet, error) {
	t.Helper()
	fs := pflag.NewFlagSet("test", pflag.ContinueOnError)
	register(fs)
	return fs, fs.Parse(strings.Fields(args))
}

func TestRunFlags(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"knife-small --port p", ""},
		{"knife-small --port p --kp 0.057/C --ti 120s --td 12s --limit 250C", ""},
		{"--at 400F --for 2h --port p", ""},
		{"--at 400F --for 2h --times 2 --band 10F --port p", ""},
		{"--at -100C --for 2h --port p", ""},
		{"--port p", "name a profile, or give --at and --for"},
		{"knife-small", ""}, // the shop file may say which port
		{"knife-small --port p --oven kiln", "leave out --shop and --oven"},
		{"knife-small --baud 19200", "--baud is for --port with --no-heater"},
		{"knife-small --port p --no-heater --baud 1200", "not from 2400"},
		{"a b --port p", `"b" is too much`},
		{"a --at 400F --for 2h --port p", "leave out --at and --for, or the profile"},
		{"--at 400F --port p", "--at and --for belong together"},
		{"--for 2h --port p", "--at and --for belong together"},
		{"--at 400F --for 0s --port p", "--for must be above 0"},
		{"a --times 2 --port p", "--times and --band are for --at and --for"},
		{"a --band 10F --port p", "--times and --band are for --at and --for"},
		{"--at 400F --for 2h --times 11 --port p", "--times 11 is not from 1 to 10"},
		{"a --kp 0.057/C --port p", "--kp and --ti belong together"},
		{"a --td 3s --port p", "--td needs --kp and --ti"},
		{"a --kp 0.057/C --ti 0s --port p", "--ti must be above 0"},
	} {
		var f runFlags
		fs, err := parsed(t, f.register, c.args)
		require.NoError(t, err, c.args)
		err = f.check(fs.Args())
		if c.want == "" {
			assert.NoError(t, err, c.args)
			continue
		}
		assert.ErrorContains(t, err, c.want, c.args)
		assert.Equal(t, exitUsage, asFault(err).code, c.args)
	}
}

func TestDemoFlags(t *testing.T) {
	var f demoFlags
	register := func(fs *pflag.FlagSet) { f.register(fs, "knife", paceValue{factor: 60}) }
	_, err := parsed(t, register, "--fault open@40m --fault door@1h --person goes-on --seed 7")
	require.NoError(t, err)
	require.Len(t, f.faults, 2)
	assert.Equal(t, sim.Open, f.faults[0].Kind)
	assert.Equal(t, 40*time.Minute, f.faults[0].At)
	assert.Equal(t, sim.DoorOpen, f.faults[1].Kind)
	assert.Equal(t, time.Hour, f.faults[1].At)
	assert.Equal(t, demoFlags{
		profile: "knife", pace: paceValue{factor: 60}, seed: seedValue{7, true},
		faults: f.faults, person: f.person,
		blade: bladeFlags{text: "demo blade", steel: "1084", thick: lengthValue{4, true},
			finish: f.blade.finish},
	}, f)
	assert.Equal(t, personGoesOn, f.person.word)

	f = demoFlags{}
	_, err = parsed(t, register, "")
	require.NoError(t, err)
	assert.Equal(t, personAway, f.person.word)

	for args, want := range map[string]string{
		"--fault open":       "open@40m",
		"--fault fire@4m":    `"fire"`,
		"--fault open@4":     "open@4",
		"--person nobody":    `no "nobody"`,
		"--pace quick":       "not a pace",
		"--seed x":           "not a whole number",
		"--fault open@-4m":   "open@-4m",
		"--fault ssr-short@": "ssr-short@",
	} {
		f = demoFlags{}
		_, err := parsed(t, register, args)
		assert.ErrorContains(t, err, want, args)
	}
}

func TestBoardFlags(t *testing.T) {
	for _, c := range []struct {
		args string
		sets bool
		want string
	}{
		{"--port p", false, ""},
		{"--port p --limit 260C --guard 1 --mains 60Hz --window 2s", true, ""},
		{"--port p --guard 8", true, ""},
		{"--limit 260C", true, "say which port"},
		{"--port p --guard 0", false, "--guard 0 is not from 1 to 8"},
		{"--port p --guard 9", true, "--guard 9 is not from 1 to 8"},
		{"--port p --window 1s", true, "--window 1s is not from 2s to 1m0s"},
		{"--port p --window 61s", true, "--window 1m1s is not from 2s to 1m0s"},
	} {
		var f boardFlags
		fs, err := parsed(t, f.register, c.args)
		require.NoError(t, err, c.args)
		assert.Equal(t, c.sets, f.sets(), c.args)
		err = f.check(fs)
		if c.want == "" {
			assert.NoError(t, err, c.args)
			continue
		}
		assert.ErrorContains(t, err, c.want, c.args)
	}
}

// TestEditDistance holds the distance against a few counted by hand.
func TestEditDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"", "abc", 3}, {"port", "port", 0}, {"prot", "port", 1},
		{"port", "ports", 1}, {"part", "port", 1}, {"kitten", "sitting", 3},
	} {
		assert.Equal(t, c.want, editDistance(c.a, c.b), c.a+" "+c.b)
		assert.Equal(t, c.want, editDistance(c.b, c.a), c.b+" "+c.a)
	}
	assert.Equal(t, "port", nearest("prot", []string{"pace", "port", "person"}))
	assert.Empty(t, nearest("zzz", []string{"pace", "port", "person"}))
}

// TestLengthUnitsAgree: a length in inches is the length in mm of 25.4 times the number.
func TestLengthUnitsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Float64Range(0.001, 100).Draw(t, "n")
		var inch, mm lengthValue
		require.NoError(t, inch.Set(rapidNumber(n)+"in"))
		require.NoError(t, mm.Set(rapidNumber(n*25.4)+"mm"))
		assert.InEpsilon(t, mm.mm, inch.mm, 1e-9)
	})
}
