package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/control/keeper"
	"strawline/control/runlog"
	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/plant"
	"strawline/probe/port"
	"strawline/probe/sim"
	"strawline/probe/temp"
	"strawline/profiles"
)

// track makes readings four times a second of a function of time.
func track(from, to time.Duration, f func(s float64) float64) (out []mark) {
	for at := from; at < to; at += 250 * time.Millisecond {
		out = append(out, mark{at, temp.C(f(at.Seconds()))})
	}
	return out
}

// swung is an oven that swings by ±amp in 5 min, its reference 1.4 °C lower and half as lively.
func swung(amp float64) surveyed {
	wave := func(s float64) float64 { return math.Sin(2 * math.Pi * s / 300) }
	return surveyed{From: 0, To: 30 * time.Minute,
		Oven:      track(0, time.Hour, func(s float64) float64 { return 204 + amp*wave(s) }),
		Reference: track(0, time.Hour, func(s float64) float64 { return 202.6 + amp/2*wave(s) })}
}

func TestSurveyOfASwing(t *testing.T) {
	s, err := sums(swung(6))
	require.NoError(t, err)
	assert.InDelta(t, 1.4, float64(s.Offset), 0.01)
	assert.InDelta(t, 202.6, float64(s.At), 0.01)
	// The mean of a sine over 10 s of 300 s keeps sin(π/30)/(π/30) of it; the crest falls into
	// the middle of a bin.
	kept := math.Sin(math.Pi/30) / (math.Pi / 30)
	assert.InDelta(t, 6*kept, float64(s.Swing), 0.05)
	assert.InDelta(t, 12*kept, float64(s.OvenSwing), 0.1)
	assert.InDelta(t, 204, float64(s.Set), 0.01, "what the oven says, where nothing was set")
	assert.InDelta(t, -1.4-3, float64(s.Low), 0.05)
	assert.InDelta(t, -1.4+3, float64(s.High), 0.05)
	assert.Equal(t, -s.Low, s.Most)
	assert.Equal(t, 180, s.Bins)
	assert.Zero(t, s.Spread)
	assert.Equal(t, "the door was not opened", s.Recovered)

	in := swung(6)
	set := temp.C(200)
	in.Set = &set
	in.More = [][]mark{track(0, time.Hour, func(float64) float64 { return 209 })}
	s, err = sums(in)
	require.NoError(t, err)
	assert.InDelta(t, 5.6, float64(s.High), 0.05)
	assert.InDelta(t, 209-202.6, float64(s.Spread), 0.01)
	assert.Equal(t, 3, s.Probes)
	assert.InDelta(t, 1.4, float64(s.Offset), 0.01, "a third probe does not change it")
}

// The door's fall goes back by an exponential that can be computed.
func TestSurveyRecovery(t *testing.T) {
	in := surveyed{To: 20 * time.Minute, Door: 20 * time.Minute,
		Oven: track(0, time.Hour, func(float64) float64 { return 200 })}
	fall := func(s float64) float64 {
		if s < 1200 {
			return 200
		}
		return 200 - 40*math.Exp(-(s-1200)/120)
	}
	in.Reference = track(0, time.Hour, fall)
	s, err := sums(in)
	require.NoError(t, err)
	back := 120 * math.Log(40) // until 1 °C is left
	assert.InDelta(t, back, s.Recovery.Seconds(), 10)
	assert.Zero(t, s.Swing, "the door is not of the stay")
	assert.Empty(t, s.Recovered)

	in.Reference = track(0, 25*time.Minute, fall)
	s, err = sums(in)
	require.NoError(t, err)
	assert.Zero(t, s.Recovery)
	assert.Contains(t, s.Recovered, "not back within 5m0s")

	in.Reference = in.Oven
	s, err = sums(in)
	require.NoError(t, err)
	assert.Equal(t, "the reference did not leave its swing", s.Recovered)
}

func TestSurveyRefusesWhatSaysNothing(t *testing.T) {
	in := swung(6)
	in.To = 9 * time.Minute
	_, err := sums(in)
	assert.ErrorContains(t, err, "at least 10m0s")

	in = swung(6)
	in.Reference = track(0, time.Hour, func(s float64) float64 { return 150 + s/60 })
	_, err = sums(in)
	assert.ErrorContains(t, err, "the reference went +29.8 °C through the stay of 30m0s")

	in = swung(6)
	in.Reference = in.Reference[:len(in.Reference)/4] // 15 of 60 min
	_, err = sums(in)
	assert.ErrorContains(t, err, "only 90 of 180 times of 10s")

	in = swung(6)
	in.Reference, in.Hand = in.Reference[:2], true
	_, err = sums(in)
	assert.ErrorContains(t, err, "2 readings of the reference are too few")

	// A slow board's readings are joined over more time.
	in = swung(0)
	for i := range in.Reference {
		in.Reference[i].at *= 40 // every 10 s
	}
	s, err := sums(in)
	require.NoError(t, err)
	assert.Equal(t, 30*time.Second, s.Bin)
	assert.InDelta(t, 1.4, float64(s.Offset), 1e-9)
}

// The words stand beside the classes' figures, as the facts of the standard have them.
func TestYardstick(t *testing.T) {
	for _, c := range []struct {
		most, within temp.Delta
		want         string
	}{
		{4, 0, "within what class 2 allows, ±6 °C / ±10 °F (AMS 2750"},
		{2.7, 0, "within what class 1 allows, ±3 °C / ±5 °F"},
		{2.9, 0, "within what class 2 allows"}, // 5.2 °F
		{5.6, 0, "within what class 3 allows, ±8 °C / ±15 °F"},
		{9.9, 0, "within what class 4 allows, ±10 °C / ±20 °F"},
		{13, 0, "within what class 5 allows, ±14 °C / ±25 °F"},
		{20, 0, "within what class 6 allows, ±28 °C / ±50 °F"},
		{28, 0, "more than class 6 allows"},
		{4, 2, "class 2 allows, ±6 °C / ±10 °F; with the uncertainty on top within what class 3"},
	} {
		got := yardstick(c.most, c.within)
		assert.Contains(t, got, c.want)
		assert.Contains(t, got, "this is no certificate")
	}
}

// simulatedRun is a temper in the simulated shop with a probe where the blade lies. It gives the
// run file and what the two probes really were.
func simulatedRun(t *testing.T, dir string, correct float64) (path string, air, blade []mark) {
	t.Helper()
	p, err := profiles.Temper(temp.F(400), time.Hour, 1, temp.DeltaF(10), temp.Fahrenheit)
	require.NoError(t, err)
	board := sim.New(sim.Config{Seed: 4, BladeProbe: true})
	t.Cleanup(func() { board.Close() })
	m, err := board.Memory()
	require.NoError(t, err)
	path = filepath.Join(dir, "run.jsonl")
	cfg := keeper.Config{Open: opened(board, func() (port.Stream, error) {
		c, err := m.Open()
		if err != nil {
			return nil, err
		}
		return c, nil
	}), Run: "knife", Profile: *p, Unit: temp.Fahrenheit, Gains: control.CautiousGains(), Oven: "kiln",
		Limit: 250, Roles: []string{string(shop.OvenAir), string(shop.Reference)}, Out: path,
		Corrections: []control.Correction{{OffsetC: correct}, {}}, Clock: realClock(),
		Sim: &keeper.Simulation{Board: board, Oven: plant.A(), Seed: 4, Person: keeper.Away},
		Records: func(r control.Record) {
			if r.Sample != nil {
				now := board.Truth()
				air = append(air, mark{r.Sample.T, now.Probe})
				if c := float64(now.Blade); !math.IsNaN(c) {
					blade = append(blade, mark{r.Sample.T, now.Blade})
				}
			}
		}}
	k, err := keeper.Prepare(t.Context(), cfg)
	require.NoError(t, err)
	_, err = k.Run(t.Context())
	require.NoError(t, err)
	return path, air, blade
}

// TestSurveyOfARecordedRun: what the command says of a simulated temper is what the oven and the
// blade in it were, which the command never sees.
func TestSurveyOfARecordedRun(t *testing.T) {
	t.Parallel()
	p := newPerson(t)
	p.write("config/strawline/shop.toml", correctShop)
	path, air, blade := simulatedRun(t, p.home, -2)
	out, bad, code := p.run("probes", "survey", "kiln", "--from", path, "--json")
	require.Equal(t, exitOK, code, bad)
	var a surveyAnswer
	require.NoError(t, json.Unmarshal([]byte(out), &a))
	assert.Equal(t, 1, strings.Count(out, "\n"))

	f, err := runlog.Open(path)
	require.NoError(t, err)
	defer f.Close()
	records, err := f.All()
	require.NoError(t, err)
	begin, end, set, ok := longestSoak(&f.Info, records)
	require.True(t, ok)
	assert.InDelta(t, float64(temp.F(400)), float64(set), 1e-9)
	assert.GreaterOrEqual(t, (end - begin).Seconds(), 3600.0)
	from := begin + (end-begin)/2
	mean := func(track []mark) (sum float64) {
		n := 0.0
		for _, m := range track {
			if m.at >= from && m.at < end {
				sum, n = sum+float64(m.c), n+1
			}
		}
		return sum / n
	}
	// Half a quarter of a degree in each of two chips, and what the filter forgets.
	assert.InDelta(t, mean(air)-2-mean(blade), a.Offset, 0.15, "corrected: the oven reads 2 °C less")
	assert.InDelta(t, mean(blade), a.At, 0.15)
	assert.InDelta(t, set.In(temp.Celsius), a.Set, 0.005)
	assert.Equal(t, "the heat that was set", a.SetFrom)
	assert.Less(t, a.Swing, 2.0, "a blade is a heavy thing")
	assert.Positive(t, a.Class)
	assert.InDelta(t, 1800, a.Stay, 400)
	assert.Equal(t, "SIMULATED reference, channel 2", a.Against)
	assert.True(t, a.Simulated)
	assert.False(t, a.Written)
	assert.NoFileExists(t, a.File, "a simulated run never counts in the shop's own figures")

	out, bad, code = p.run("probes", "survey", "kiln", "--from", path, "--reference", "ref")
	require.Equal(t, exitOK, code, bad)
	for _, words := range []string{"kiln against SIMULATED ref, ", "type K, ASTM E230 special", "offset ",
		"swing ", "plus-minus ±", "about 204.44 °C (400.00 °F), the heat that was set", "no certificate",
		"recovery   not known: the door was not opened", "never stored"} {
		assert.Contains(t, out, words)
	}
	for _, c := range []struct {
		args string
		code int
		want string
	}{
		{"--channel 1", exitData, "the oven is run by channel 1"},
		{"--channel 3", exitData, "no channel of it is a reference"},
		{"--since 1s --until 5m", exitData, "says nothing of an oven's swing"},
		{"--since 0s --until 10m", exitData, "was not at rest"},
		{"--door 1s", exitUsage, "is not after the stay's begin"},
	} {
		args := append([]string{"probes", "survey", "kiln", "--from", path}, strings.Fields(c.args)...)
		out, bad, code := p.run(args...)
		assert.Equal(t, c.code, code, "%s: %s", c.args, bad)
		assert.Empty(t, out)
		assert.Contains(t, bad, c.want, c.args)
	}
}

// surveys lets a person type at a scripted board.
func surveys(t *testing.T, dir string, s *scripted, f surveyFlags, typed <-chan string) (out, talked string,
	err error) {
	t.Helper()
	path := filepath.Join(dir, "shop.toml")
	require.NoError(t, os.WriteFile(path, []byte(correctShop), 0o600))
	var o, e bytes.Buffer
	h := &host{out: &o, err: &e}
	files, err := h.shopFiles(path)
	require.NoError(t, err)
	clock := keeper.Clock{Now: func() time.Duration { return s.now },
		Wall: func() time.Time { return time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC) }}
	v := &surveying{talk: &talk{h: h, ctx: context.Background(), clock: clock, typed: typed}, f: &f,
		files: files, oven: &files.shop.Ovens[0], open: func(*shop.Board) (*ear, error) {
			return &ear{name: "PORT", poll: s.poll, err: func() error { return nil },
				asks:  func() []string { return nil },
				close: func(time.Duration) error { return nil }}, nil
		}}
	err = v.run()
	return o.String(), e.String(), err
}

// TestSurveyLive: a stay, the door, and the stored check that --last says again.
func TestSurveyLive(t *testing.T) {
	dir := t.TempDir()
	found := "schema = 1\n[[correction]]\nof = \"oven-air\"\ndate = 2026-11-01\noffset = \"1C\"\n" +
		"source = \"tin\"\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "found.toml"), []byte(found), 0o600))
	typed := make(chan string, 4)
	typed <- "" // the stay begins
	s := stands(203, 200)
	door, agreed := time.Duration(0), false
	s.at = func(c int, now time.Duration) (temp.C, probe.Fault) {
		at := []temp.C{203, 200}[c-1] + wobble(now)
		if now > 25*time.Minute && door == 0 {
			// The stay of 20 min is over: the question of the door stands.
			door = now
			typed <- "door"
		}
		if door > 0 && now > door+6*time.Minute && !agreed {
			agreed = true
			typed <- "yes"
		}
		if door > 0 {
			at -= temp.C(30 * math.Exp(-(now-door).Seconds()/60))
		}
		return at, probe.FaultNone
	}
	f := surveyFlags{reference: "ref", stay: spanValue{d: 20 * time.Minute}}
	out, talked, err := surveys(t, dir, s, f, typed)
	require.NoError(t, err, talked)
	assert.Contains(t, out, "offset     +4.00 °C (+7.20 °F)", "with the oven's own correction")
	assert.Contains(t, out, "recovery   3m") // 60 s × ln 30 is 204 s, to the next 10 s
	assert.Contains(t, out, "within what class 2 allows")
	stored, err := shop.NewStore(filepath.Join(dir, "found.toml")).Load()
	require.NoError(t, err)
	e := shop.Get(stored.Checks, "kiln")
	require.NotNil(t, e)
	assert.Equal(t, "ref", e.Value.Against)
	assert.Equal(t, temp.Delta(4), e.Value.Offset)
	assert.InDelta(t, 204, e.Value.Recovery.Seconds(), 11)
	assert.Len(t, stored.Corrections, 1)

	h := &host{out: new(bytes.Buffer)}
	files, err := h.shopFiles(filepath.Join(dir, "shop.toml"))
	require.NoError(t, err)
	for _, json := range []bool{false, true} {
		require.NoError(t, h.lastCheck(&surveyFlags{json: json}, files, &files.shop.Ovens[0],
			shop.Date{Year: 2026, Month: 12, Day: 7}))
	}
	last := h.out.(*bytes.Buffer).String()
	assert.Contains(t, last, "kiln: last check 12 days ago, +7.2 °F; at 200.00 °C (392.00 °F) against ref")
	assert.Contains(t, last, `"days":12,"against":"ref","at_c":200,"offset_c":4}`)
}

func TestSurveyByHand(t *testing.T) {
	typed := make(chan string, 8)
	typed <- ""
	s := stands(203, 0)
	n := 0
	s.at = func(c int, now time.Duration) (temp.C, probe.Fault) {
		if c == 1 && now > time.Duration(n)*4*time.Minute && n < 4 {
			n++
			typed <- []string{"390", "390F", "391F", "392F"}[n-1]
		}
		if c == 1 && now > 19*time.Minute && n == 4 {
			n++
			typed <- "yes"
		}
		return 203 + wobble(now), probe.FaultNone
	}
	f := surveyFlags{reference: referenceTyped, stay: spanValue{d: 18 * time.Minute}, json: true}
	require.NoError(t, f.within.Set("1C"))
	out, talked, err := surveys(t, t.TempDir(), s, f, typed)
	require.NoError(t, err, talked)
	assert.Contains(t, talked, `"390" has no unit`)
	var a surveyAnswer
	require.NoError(t, json.Unmarshal([]byte(out), &a))
	assert.InDelta(t, 203-float64(temp.F(391)), a.Offset, 0.1)
	assert.InDelta(t, 2/1.8, a.Swing, 0.01)
	assert.Equal(t, 1.0, a.Within)
	assert.True(t, a.Written)
	assert.Contains(t, a.NoRecovery, "by hand")
}

func TestSurveyBadOptions(t *testing.T) {
	p := newPerson(t)
	p.write("config/strawline/shop.toml", correctShop)
	for _, c := range []struct {
		args string
		code int
		want string
	}{
		{"", exitUsage, "the oven is missing"},
		{"kiln", exitUsage, "--reference PROBE, or --reference typed"},
		{"kilm --reference ref", exitConfig, "did you mean kiln?"},
		{"kiln --reference ref --for 5m", exitUsage, "--for 5m0s is less than 10m0s"},
		{"kiln --reference typed", exitUsage, "--within 1C"},
		{"kiln --reference ref --since 1m --until 2m", exitUsage, "are for --from"},
		{"kiln --from x --since 1m", exitUsage, "--since and --until belong together"},
		{"kiln --from x --since 2m --until 1m", exitUsage, "is not after"},
		{"kiln --from x --reference typed", exitUsage, "no typed reference"},
		{"kiln --from none.jsonl", exitNoInput, "none.jsonl"},
		{"kiln --last --reference ref", exitUsage, "--last only says"},
		{"kiln --reference oil", exitConfig, "none of that name"},
		{"kiln --reference oven-air", exitConfig, "another probe than the oven's own"},
		{"kiln --reference ref", exitUnavailable, "PORT"},
	} {
		out, bad, code := p.run(append([]string{"probes", "survey"}, strings.Fields(c.args)...)...)
		assert.Equal(t, c.code, code, "%s: %s", c.args, bad)
		assert.Empty(t, out, c.args)
		assert.Contains(t, bad, c.want, c.args)
	}
	out, _, code := p.run("probes", "survey", "kiln", "--last")
	assert.Equal(t, exitOK, code)
	assert.Equal(t, "kiln: never checked\n", out)
}
