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
	"pgregory.net/rapid"

	"strawline/control/keeper"
	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/sim"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// correctShop has two probes on one board; figures made up.
const correctShop = `unit = "F"
[[board]]
name = "temper"
kind = "strawline board"
port = "PORT"
[[probe]]
name = "oven-air"
board = "temper"
use = "oven air"
class = "special"
[[probe]]
name = "ref"
board = "temper"
channel = 2
use = "reference"
class = "special"
[[oven]]
name = "kiln"
limit = "500F"
board = "temper"
probes = ["oven-air"]
`

// scripted is a board whose readings a function of time gives, with its own clock.
type scripted struct {
	now   time.Duration
	every time.Duration
	chip  string
	cold  temp.C // NaN: it does not say it
	at    func(channel int, now time.Duration) (temp.C, probe.Fault)
}

func (s *scripted) poll(time.Duration) probe.Batch {
	if s.now += s.every; s.now > 6*time.Hour {
		panic("nobody answers what is asked")
	}
	b := probe.Batch{Link: probe.Link{State: probe.LinkUp}}
	if s.chip != "" {
		b.Link.Board = &probe.Board{Chip: s.chip}
	}
	for c := 1; c <= 2; c++ {
		hot, fault := s.at(c, s.now)
		cold := !math.IsNaN(float64(s.cold))
		b.Readings = append(b.Readings, probe.Reading{At: s.now, Channel: c, Hot: hot, Fault: fault,
			Cold: s.cold, HasCold: cold})
	}
	return b
}

// wobble is a noise without chance: ±0.5 °C in five steps, of mean 0.
func wobble(now time.Duration) temp.C {
	return temp.C(int64(now/(250*time.Millisecond))%5-2) / 4
}

// stands is a board of two channels that stand at two temperatures.
func stands(one, two temp.C) *scripted {
	return &scripted{every: 250 * time.Millisecond, chip: "MAX31855K", cold: 24,
		at: func(c int, now time.Duration) (temp.C, probe.Fault) {
			return []temp.C{one, two}[c-1] + wobble(now), probe.FaultNone
		}}
}

// walked is what one walk gave.
type walked struct {
	out, talk string
	err       error
	found     shop.Found
	path      string
}

// walks lets a person type lines at a scripted board; the last answer of the input is its end.
func walks(t require.TestingT, dir, shopText string, s *scripted, f correctFlags, typed ...string,
) walked {
	path := filepath.Join(dir, "shop.toml")
	require.NoError(t, os.WriteFile(path, []byte(shopText), 0o600))
	var out, talked bytes.Buffer
	h := &host{out: &out, err: &talked}
	files, err := h.shopFiles(path)
	require.NoError(t, err)
	lines := make(chan string, len(typed))
	for _, l := range typed {
		lines <- l
	}
	close(lines)
	if f.steady.d == 0 {
		f.steady.d = steadyUsual
	}
	if f.wait.d == 0 {
		f.wait.d = 2 * time.Minute
	}
	clock := keeper.Clock{Now: func() time.Duration { return s.now },
		Wall: func() time.Time { return time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC) }}
	c := &correcting{talk: &talk{h: h, ctx: context.Background(), clock: clock, typed: lines}, f: &f,
		files: files, open: func(*shop.Board) (*ear, error) {
			return &ear{name: "PORT", poll: s.poll, err: func() error { return nil },
				asks:  func() []string { return nil },
				close: func(time.Duration) error { return nil }}, nil
		}}
	w := walked{path: shop.FoundPath(path)}
	w.err = c.walk("oven-air")
	w.out, w.talk = out.String(), talked.String()
	w.found, err = shop.NewStore(w.path).Load()
	require.NoError(t, err)
	return w
}

// refuses says that nothing was written, and with what words and code.
func (w walked) refuses(t *testing.T, code int, words ...string) {
	t.Helper()
	require.Error(t, w.err)
	assert.Equal(t, code, asFault(w.err).code, w.err.Error())
	for _, word := range words {
		assert.Contains(t, w.err.Error(), word)
	}
	assert.NoFileExists(t, w.path)
	assert.Empty(t, w.out)
}

func TestCorrectAtTheIcePoint(t *testing.T) {
	w := walks(t, t.TempDir(), correctShop, stands(1.3, 0), correctFlags{json: true}, "ise", "ice",
		"", "yes")
	require.NoError(t, w.err, w.talk)
	for _, words := range []string{
		`no "ise"`, "did you mean ice?", "ice must reach down to the tip", "0.00 °C (32.00 °F)",
		"error        +1.30 °C (+2.34 °F)", "±1.1 °C (±2.0 °F) for new wire of type K here",
		"ASTM E230 special", "the error is more than that", "half a step ±0.12",
		"one point says nothing of other heats",
	} {
		assert.Contains(t, w.talk, words)
	}
	var a correctAnswer
	require.NoError(t, json.Unmarshal([]byte(w.out), &a))
	assert.Equal(t, 1, strings.Count(w.out, "\n"))
	assert.Equal(t, 1.3, a.Error)
	assert.Equal(t, 1.3, a.Mean)
	assert.Equal(t, 120, a.Readings)
	assert.Equal(t, 0.8, a.Low)
	assert.Equal(t, 1.8, a.High)
	assert.Equal(t, 1.1, *a.Tolerance)
	// ±0.1 of the bath, half of a quarter, two deviations of a mean of 120, and the line's rest.
	assert.InDelta(t, math.Sqrt(0.01+0.0156+math.Pow(2*0.3536/math.Sqrt(120), 2)+
		a.Moved*a.Moved), a.Uncertainty, 0.006)
	assert.True(t, a.Written)
	e := shop.Get(w.found.Corrections, "oven-air")
	require.NotNil(t, e)
	assert.Equal(t, "2026-11-25", e.Date.String())
	assert.Equal(t, []shop.Point{{Reads: 1.3, Is: 0}}, e.Value.Points)
	assert.Equal(t, "ice and water, ±0.1 °C", e.Value.Source)
	assert.InDelta(t, 198.7, float64(e.Value.Correct(200)), 1e-9)
}

// A second point joins the first; one near an old one takes its place; --replace begins anew.
func TestCorrectJoinsPoints(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, walks(t, dir, correctShop, stands(1.3, 0), correctFlags{}, "ice", "", "yes").err)
	w := walks(t, dir, correctShop, stands(97.4, 0), correctFlags{}, "boiling", "1000", "1000m", "",
		"yes")
	require.NoError(t, w.err, w.talk)
	assert.Contains(t, w.talk, `"1000" has no unit`)
	assert.Contains(t, w.talk, "not the weather report's")
	assert.Contains(t, w.talk, "96.65 °C") // water_boiling.csv at 1000 m
	assert.Contains(t, w.talk, "±20 hPa of weather")
	assert.Contains(t, w.out, "-0.75 °C")
	v := w.found.Corrections[0].Value
	assert.Equal(t, []shop.Point{{Reads: 1.3, Is: 0}, {Reads: 97.4, Is: 96.65}}, v.Points)
	assert.Equal(t, "ice and water, ±0.1 °C; boiling water at 1000 m, ±0.64 °C", v.Source)

	w = walks(t, dir, correctShop, stands(0.8, 0), correctFlags{against: "ICE"}, "", "yes")
	require.NoError(t, w.err, w.talk)
	assert.Contains(t, w.talk, "The point that reads 1.30 °C (34.34 °F) makes room")
	v = w.found.Corrections[0].Value
	assert.Equal(t, []shop.Point{{Reads: 0.8, Is: 0}, {Reads: 97.4, Is: 96.65}}, v.Points)
	assert.Equal(t, "ice and water, ±0.1 °C; 1 earlier points", v.Source)

	w = walks(t, dir, correctShop, stands(233.4, 0), correctFlags{against: "tin", replace: true}, "",
		"yes")
	require.NoError(t, w.err, w.talk)
	assert.Contains(t, w.talk, "CAUTION: Water or a damp tool")
	assert.Equal(t, []shop.Point{{Reads: 233.4, Is: 231.93}}, w.found.Corrections[0].Value.Points)
}

// What shop.toml has wins, so that the program gives text for it and writes nothing.
func TestCorrectPastesForTheShopFile(t *testing.T) {
	own := strings.Replace(correctShop, "class = \"special\"\n", "class = \"special\"\n"+
		"[probe.correction]\npoint = [{ reads = \"0.4C\", is = \"0C\" }]\ndate = 2026-11-02\n"+
		"source = \"ice\"\n", 1)
	dir := t.TempDir()
	f := correctFlags{against: "boiling", pressure: "985hPa"}
	w := walks(t, dir, own, stands(99.9, 0), f, "")
	require.NoError(t, w.err, w.talk)
	assert.NoFileExists(t, w.path)
	assert.Contains(t, w.out, "Paste this in its place:\n[probe.correction]\npoint = [{ reads = ")
	_, pasted, _ := strings.Cut(w.out, "[probe.correction]\n")
	begin, rest, _ := strings.Cut(own, "[probe.correction]\n")
	_, end, _ := strings.Cut(rest, "source = \"ice\"\n")
	s, err := shop.Parse("shop.toml", []byte(begin+"[probe.correction]\n"+pasted+end))
	require.NoError(t, err)
	// 99.18 is between 99.04 at 980 and 99.33 at 990 hPa of water_boiling_by_pressure.csv.
	assert.Equal(t, []shop.Point{{Reads: 0.4, Is: 0}, {Reads: 99.9, Is: 99.18}},
		s.Probe("oven-air").Correction.Points)

	f.json = true
	w = walks(t, dir, own, stands(99.9, 0), f, "")
	require.NoError(t, w.err)
	var a correctAnswer
	require.NoError(t, json.Unmarshal([]byte(w.out), &a))
	assert.False(t, a.Written)
	assert.Contains(t, a.Paste, "[probe.correction]")
}

func TestCorrectAgainstAReference(t *testing.T) {
	dir := t.TempDir()
	found := "schema = 1\n[[correction]]\nof = \"ref\"\ndate = 2026-11-01\noffset = \"-2C\"\n" +
		"source = \"by its certificate\"\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "found.toml"), []byte(found), 0o600))
	w := walks(t, dir, correctShop, stands(201, 204), correctFlags{against: "reference", json: true},
		"", "yes")
	require.NoError(t, w.err, w.talk)
	var a correctAnswer
	require.NoError(t, json.Unmarshal([]byte(w.out), &a))
	assert.Equal(t, 202.0, a.Expected, "the reference's own correction counts")
	assert.Equal(t, -1.0, a.Error)
	assert.InDelta(t, math.Sqrt(1.21+0.0156), a.ExpectedPM, 0.01, "its class and its step")
	assert.Greater(t, a.Uncertainty, a.ExpectedPM)
	assert.Len(t, w.found.Corrections, 2)

	// In heat that comes and goes the readings do not stand.
	sways := stands(0, 0)
	sways.at = func(_ int, now time.Duration) (temp.C, probe.Fault) {
		return temp.C(200 + 4*math.Sin(now.Seconds()/20)), probe.FaultNone
	}
	w = walks(t, t.TempDir(), correctShop, sways, correctFlags{against: "reference"}, "", "yes")
	w.refuses(t, exitTemporary, "not within 2m0s", "they ")

	alone := strings.Replace(correctShop, `use = "reference"`, `use = "oil"`, 1)
	w = walks(t, t.TempDir(), alone, stands(0, 0), correctFlags{against: "reference"})
	w.refuses(t, exitConfig, "no other probe has the use reference", "choose thermometer")
}

func TestCorrectAgainstAThermometer(t *testing.T) {
	w := walks(t, t.TempDir(), correctShop, stands(60.5, 0), correctFlags{json: true}, "thermometer",
		"1", "1C", "", "140", "140F", "yes")
	require.NoError(t, w.err, w.talk)
	assert.Contains(t, w.talk, `"140" has no unit`)
	var a correctAnswer
	require.NoError(t, json.Unmarshal([]byte(w.out), &a))
	assert.Equal(t, 0.5, a.Error)
	assert.Equal(t, 1.0, a.ExpectedPM)
	assert.Equal(t, "a thermometer read by hand, ±1 °C", a.Source)
}

func TestCorrectRefusesNonsense(t *testing.T) {
	noCold := func(c temp.C) *scripted {
		s := stands(c, 0)
		s.cold, s.chip = temp.C(math.NaN()), ""
		return s
	}
	for _, c := range []struct {
		name, against string
		board         *scripted
		words         []string
	}{
		{"far off", "tin", stands(198, 0), []string{"+33.9 °C", "reads 198.0 °C", "is 231.9 °C",
			"is more than a correction can be, which is +25.0 °C"}},
		{"leads swapped in ice", "ice", stands(47.5, 0), []string{"47.50 °C", "0.00 °C", "24.00 °C",
			"the leads look swapped"}},
		{"leads swapped in tin", "tin", stands(-170, 0), []string{"the leads look swapped"}},
		{"tip outside", "tin", stands(25, 0), []string{"the tip is not in it", "24.00 °C"}},
		{"°F as °C at ice", "ice", noCold(32.4), []string{"32.40 °C", "look like °F"}},
		{"°F as °C at tin", "tin", noCold(449.2), []string{"look like °F", `unit = "F"`}},
		{"°C as °F at ice", "ice", noCold(-17.5), []string{"taken for °F", `unit = "C"`}},
		{"°C as °F at tin", "tin", noCold(111.4), []string{"taken for °F"}},
	} {
		w := walks(t, t.TempDir(), correctShop, c.board, correctFlags{against: c.against}, "", "yes")
		t.Log(c.name)
		w.refuses(t, exitData, append(c.words, "nothing was written")...)
	}
}

func TestCorrectNeedsSteadyReadings(t *testing.T) {
	f := correctFlags{against: "ice"}
	drifts := stands(0, 0)
	drifts.at = func(_ int, now time.Duration) (temp.C, probe.Fault) {
		return temp.C(30 - 0.05*now.Seconds()), probe.FaultNone
	}
	walks(t, t.TempDir(), correctShop, drifts, f, "", "yes").refuses(t, exitTemporary,
		"oven-air", "they moved by -1.5 °C in 30 s", "0.3 is the most")

	jumps := stands(0, 0)
	jumps.at = func(_ int, now time.Duration) (temp.C, probe.Fault) {
		return 4 * wobble(now), probe.FaultNone
	}
	walks(t, t.TempDir(), correctShop, jumps, f, "", "yes").refuses(t, exitTemporary,
		"they lie 4.0 °C apart, from -2.0 to 2.0 °C")

	broken := stands(0, 0)
	broken.at = func(int, time.Duration) (temp.C, probe.Fault) { return 0, probe.FaultOpen }
	walks(t, t.TempDir(), correctShop, broken, f, "", "yes").refuses(t, exitTemporary,
		"the last reading was: open")

	flickers := stands(0, 0)
	flickers.at = func(_ int, now time.Duration) (temp.C, probe.Fault) {
		if now%(10*time.Second) == 0 {
			return 0, probe.FaultOpen
		}
		return 0, probe.FaultNone
	}
	walks(t, t.TempDir(), correctShop, flickers, f, "", "yes").refuses(t, exitTemporary,
		"without a hole", "at least 8 over 30s")

	slow := stands(1, 1)
	slow.every = 5 * time.Second
	walks(t, t.TempDir(), correctShop, slow, f, "", "yes").refuses(t, exitTemporary,
		"6 good readings")
	f.steady.d, f.wait.d = time.Minute, 5*time.Minute
	require.NoError(t, walks(t, t.TempDir(), correctShop, slow, f, "", "yes").err)
}

func TestCorrectWritesOnlyAfterYes(t *testing.T) {
	f := correctFlags{against: "ice"}
	walks(t, t.TempDir(), correctShop, stands(1, 1), f, "", "Yes").refuses(t, exitTemporary,
		"not confirmed", "nothing was written")
	walks(t, t.TempDir(), correctShop, stands(1, 1), f, "").refuses(t, exitNoInput,
		"the input ended")
	walks(t, t.TempDir(), correctShop, stands(1, 1), correctFlags{}).refuses(t, exitNoInput)
}

// The type of the shop file and the chip's must be the same: no correction makes up for it.
func TestCorrectLooksAtTheType(t *testing.T) {
	wrong := strings.Replace(correctShop, "class = \"special\"\n", "type = \"N\"\n", 1)
	walks(t, t.TempDir(), wrong, stands(0, 0), correctFlags{against: "ice"}, "", "yes").refuses(t,
		exitConfig, "type N", "MAX31855K reads type K")
}

// Whatever noise below the bounds a probe has, what is written is its error within what was said.
func TestCorrectFindsTheError(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		off := temp.C(rapid.Float64Range(-10, 10).Draw(t, "off"))
		seed := rapid.Uint64().Draw(t, "seed")
		s := stands(0, 0)
		s.at = func(_ int, now time.Duration) (temp.C, probe.Fault) {
			seed = seed*6364136223846793005 + 1442695040888963407
			noise := float64(seed>>40)/float64(1<<24) - 0.5
			return temp.C(math.Round((float64(off)+noise)*4) / 4), probe.FaultNone
		}
		f := correctFlags{against: "ice", json: true, replace: true}
		f.wait.d = 10 * time.Minute
		w := walks(t, dir, correctShop, s, f, "", "yes")
		require.NoError(t, w.err, w.talk)
		var a correctAnswer
		require.NoError(t, json.Unmarshal([]byte(w.out), &a))
		require.InDelta(t, float64(off), a.Error, a.Uncertainty+0.005)
	})
}

func TestChipStep(t *testing.T) {
	for chip, want := range map[string]temp.Delta{"MAX31855K": 0.25, "MAX6675": 0.25,
		"MAX31856K": 0.0078125, "MCP9600K": 0.0625, "ADS1118K": 0.25, "": 0.5} {
		assert.Equal(t, want, chipStep(chip, 0.5), chip)
	}
	assert.Equal(t, temp.Delta(0.25), chipStep("", 0))
}

// The widest class stands for one that nobody knows.
func TestToleranceOfAnUnknownClass(t *testing.T) {
	d, by, ok := tolerance(thermocouple.K, "", 200)
	require.True(t, ok)
	assert.Equal(t, temp.Delta(2.5), d)
	assert.Contains(t, by, "IEC 60584-1 class 2, the widest")
	for c, want := range map[shop.Class]temp.Delta{shop.Class1: 1.5, shop.Class2: 2.5,
		shop.Standard: 2.2, shop.Special: 1.1} {
		d, _, ok = tolerance(thermocouple.K, c, 200)
		require.True(t, ok)
		assert.Equal(t, want, d, c)
	}
	_, _, ok = tolerance(thermocouple.K, shop.Class3, 200)
	assert.False(t, ok)
}

func TestCorrectBadOptions(t *testing.T) {
	p := newPerson(t)
	p.write("config/strawline/shop.toml", correctShop)
	for _, c := range []struct {
		args string
		code int
		want string
	}{
		{"", exitUsage, "the probe is missing"},
		{"oven-air ref", exitUsage, `"ref" is too much`},
		{"oven-air --steady 1s", exitUsage, "--steady 1s is not from 3s to 10m0s"},
		{"oven-air --wait 10s", exitUsage, "--wait 10s is not from --steady, 30s"},
		{"oven-air --channel 9", exitUsage, "--channel 9"},
		{"oven-air --height 1m --pressure 985hPa", exitUsage, "two ways to one figure"},
		{"oven-air --against boiling --height 1000", exitUsage, `"1000" has no unit`},
		{"oven-air --against boiling --pressure 98.5hPa", exitUsage, "450 to 1150 hPa"},
		{"oven-air --against mercury", exitUsage, `no "mercury": there is indium`},
		{"oven-ait --against ice", exitConfig, "did you mean oven-air?"},
		{"oven-air --against reference --reference oil", exitConfig, "no other one of that name"},
		{"oven-air --against ice", exitUnavailable, "PORT"},
		{"x --port /dev/none --type Q --against ice", exitUsage, "no thermocouple type"},
		{"oven-air --shop none.toml", exitNoInput, "none.toml"},
	} {
		out, bad, code := p.run(append([]string{"probes", "correct"}, strings.Fields(c.args)...)...)
		assert.Equal(t, c.code, code, "%s: %s", c.args, bad)
		assert.Empty(t, out, c.args)
		assert.Contains(t, bad, c.want, c.args)
	}
}

// TestCorrectOnAPort is the built program at a board on a pseudo-terminal that keeps the wall's
// time, in a shop that is as cold as ice: what it says is what the simulated probe is.
func TestCorrectOnAPort(t *testing.T) {
	t.Parallel()
	cfg := sim.Config{Seed: 5, Start: 1}
	cfg.Plant = coldShop(1)
	path := boardOnPty(t, cfg)
	p := newPerson(t)
	file := p.write("config/strawline/shop.toml", strings.Replace(correctShop, "PORT", path, 1))
	args := []string{"probes", "correct", "oven-air", "--steady", "3s", "--wait", "1m", "--json"}
	cmd := p.command(args...)
	var out, bad bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = strings.NewReader("ice\n\nyes\n"), &out, &bad
	require.NoError(t, cmd.Run(), bad.String())
	var a correctAnswer
	require.NoError(t, json.Unmarshal(out.Bytes(), &a), out.String())
	assert.InDelta(t, 1, a.Error, a.Uncertainty+0.05)
	assert.Less(t, a.Uncertainty, 1.0)
	assert.True(t, a.Written)
	found, err := shop.NewStore(shop.FoundPath(file)).Load()
	require.NoError(t, err)
	require.Len(t, found.Corrections, 1)
	assert.InDelta(t, a.Mean, float64(found.Corrections[0].Value.Points[0].Reads), 1e-9)
	assert.NoFileExists(t, filepath.Join(p.home, "data", "strawline"))
}

// TestCorrectIsInterrupted: a signal ends the walk at a question; nothing is written.
func TestCorrectIsInterrupted(t *testing.T) {
	t.Parallel()
	path := boardOnPty(t, sim.Config{Seed: 6})
	p := newPerson(t)
	cmd := p.command("probes", "correct", "oven-air", "--port", path, "--against", "tin", "--plain")
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	defer in.Close()
	bad, err := cmd.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	var talked strings.Builder
	buf, told := make([]byte, 512), false
	for {
		n, err := bad.Read(buf)
		talked.Write(buf[:n])
		if !told && strings.Contains(talked.String(), "Press Enter") {
			told = true
			require.NoError(t, cmd.Process.Signal(os.Interrupt))
		}
		if err != nil {
			break
		}
	}
	require.Error(t, cmd.Wait())
	assert.Equal(t, exitSignal+2, cmd.ProcessState.ExitCode(), talked.String())
	assert.Contains(t, talked.String(), "nothing was written")
	assert.NoDirExists(t, filepath.Join(p.home, "config"))
}
