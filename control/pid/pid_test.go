package pid

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func tuned() Config {
	return Config{K: 0.02, Ti: 150, Td: 15, N: 8, B: 0.6, Max: 1}
}

func TestRefused(t *testing.T) {
	good := Input{H: 0.25, R: 200, Y: 190, FF: 0.1}
	st := Preset(tuned(), 0.3, 200, 190)
	// The law must run with what each row then spoils.
	_, out, err := Step(tuned(), st, good)
	require.NoError(t, err)
	require.Greater(t, out.U, 0.0)
	cfgOf := func(change func(*Config)) Config { c := tuned(); change(&c); return c }
	inOf := func(change func(*Input)) Input { in := good; change(&in); return in }
	stOf := func(change func(*State)) State { s := st; change(&s); return s }
	rows := map[string]struct {
		cfg  Config
		st   State
		in   Input
		want error
	}{
		"zero config":   {Config{}, st, good, ErrConfig},
		"no gain":       {cfgOf(func(c *Config) { c.K = 0 }), st, good, ErrConfig},
		"negative gain": {cfgOf(func(c *Config) { c.K = -1 }), st, good, ErrConfig},
		"no Ti":         {cfgOf(func(c *Config) { c.Ti = 0 }), st, good, ErrConfig},
		"endless Ti":    {cfgOf(func(c *Config) { c.Ti = math.Inf(1) }), st, good, ErrConfig},
		"Td below 0":    {cfgOf(func(c *Config) { c.Td = -1 }), st, good, ErrConfig},
		"Td no number":  {cfgOf(func(c *Config) { c.Td = math.NaN() }), st, good, ErrConfig},
		"no N":          {cfgOf(func(c *Config) { c.N = 0 }), st, good, ErrConfig},
		"b above 1":     {cfgOf(func(c *Config) { c.B = 1.1 }), st, good, ErrConfig},
		"b no number":   {cfgOf(func(c *Config) { c.B = math.NaN() }), st, good, ErrConfig},
		"limits equal":  {cfgOf(func(c *Config) { c.Min = 1 }), st, good, ErrConfig},
		"endless limit": {cfgOf(func(c *Config) { c.Max = math.Inf(1) }), st, good, ErrConfig},
		"no such mode":  {cfgOf(func(c *Config) { c.AntiWindup = 3 }), st, good, ErrConfig},
		"no Tt":         {cfgOf(func(c *Config) { c.AntiWindup = BackCalculation }), st, good, ErrConfig},
		"Tf below 0":    {cfgOf(func(c *Config) { c.Tf = -1 }), st, good, ErrConfig},
		"no interval":   {tuned(), st, inOf(func(i *Input) { i.H = 0 }), ErrInput},
		"backwards":     {tuned(), st, inOf(func(i *Input) { i.H = -0.25 }), ErrInput},
		"NaN interval":  {tuned(), st, inOf(func(i *Input) { i.H = math.NaN() }), ErrInput},
		"endless wait":  {tuned(), st, inOf(func(i *Input) { i.H = math.Inf(1) }), ErrInput},
		"NaN setpoint":  {tuned(), st, inOf(func(i *Input) { i.R = math.NaN() }), ErrInput},
		"NaN reading":   {tuned(), st, inOf(func(i *Input) { i.Y = math.NaN() }), ErrInput},
		"Inf reading":   {tuned(), st, inOf(func(i *Input) { i.Y = math.Inf(-1) }), ErrInput},
		"NaN forward":   {tuned(), st, inOf(func(i *Input) { i.FF = math.NaN() }), ErrInput},
		"NaN applied": {tuned(), st,
			inOf(func(i *Input) { i.Applied, i.HasApplied = math.NaN(), true }), ErrInput},
		"overflow": {cfgOf(func(c *Config) { c.K = 1 }), st,
			inOf(func(i *Input) { i.Y = -math.MaxFloat64 }), ErrInput},
		"NaN integral":   {tuned(), stOf(func(s *State) { s.I = math.NaN() }), good, ErrState},
		"NaN derivative": {tuned(), stOf(func(s *State) { s.D = math.NaN() }), good, ErrState},
		"NaN preset":     {tuned(), Preset(tuned(), math.NaN(), 200, 190), good, ErrState},
		"Inf preset":     {tuned(), Preset(tuned(), 0.3, 200, math.Inf(1)), good, ErrState},
	}
	for name, row := range rows {
		t.Run(name, func(t *testing.T) {
			next, out, err := Step(row.cfg, row.st, row.in)
			require.ErrorIs(t, err, row.want)
			assert.Zero(t, out, "an error must not come with an output")
			if !errors.Is(err, ErrState) { // a NaN is not equal to itself
				assert.Equal(t, row.st, next)
			}
		})
	}
}

// moment is an interval, s, in which nothing can move by as much as the tests look at.
const moment = 1e-12

func drawConfig(t *rapid.T, name string) Config {
	return Config{
		K:          rapid.Float64Range(1e-3, 1).Draw(t, name+" K"),
		Ti:         rapid.Float64Range(5, 2000).Draw(t, name+" Ti"),
		Td:         rapid.SampledFrom([]float64{0, 1, 15, 90}).Draw(t, name+" Td"),
		N:          rapid.Float64Range(2, 20).Draw(t, name+" N"),
		B:          rapid.Float64Range(0, 1).Draw(t, name+" b"),
		Tf:         rapid.SampledFrom([]float64{0, 2, 30}).Draw(t, name+" Tf"),
		Tt:         rapid.Float64Range(5, 500).Draw(t, name+" Tt"),
		AntiWindup: drawMode(t, name),
		Max:        1,
	}
}

func drawMode(t *rapid.T, name string) AntiWindup {
	modes := []AntiWindup{Conditional, None, BackCalculation}
	return rapid.SampledFrom(modes).Draw(t, name+" mode")
}

func drawInput(t *rapid.T, name string) Input {
	in := Input{
		H:  rapid.Float64Range(0.05, 10).Draw(t, name+" h"),
		R:  rapid.Float64Range(20, 300).Draw(t, name+" r"),
		Y:  rapid.Float64Range(20, 300).Draw(t, name+" y"),
		FF: rapid.Float64Range(-0.2, 0.5).Draw(t, name+" ff"),
	}
	if rapid.Bool().Draw(t, name+" told") {
		in.HasApplied, in.Applied = true, rapid.Float64Range(0, 1).Draw(t, name+" applied")
	}
	return in
}

// drawRun takes some samples so that every part of the State holds something.
func drawRun(t *rapid.T, cfg Config) (State, Input) {
	var in Input
	st := Preset(cfg, rapid.Float64Range(0, 1).Draw(t, "u0"),
		rapid.Float64Range(20, 300).Draw(t, "r0"), rapid.Float64Range(20, 300).Draw(t, "y0"))
	for range rapid.IntRange(0, 6).Draw(t, "samples") {
		in = drawInput(t, "run")
		next, _, err := Step(cfg, st, in)
		require.NoError(t, err)
		st = next
	}
	in.R = st.R
	return st, in
}

func TestPresetContinuous(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cfg := drawConfig(t, "cfg")
		u := rapid.Float64Range(0, 1).Draw(t, "u")
		in := drawInput(t, "in")
		in.H, in.HasApplied, in.Applied = moment, rapid.Bool().Draw(t, "told u"), u
		_, out, err := Step(cfg, PresetForward(cfg, u, in.FF, in.R, in.Y), in)
		require.NoError(t, err)
		require.InDelta(t, u, out.U, 1e-8)
		in.FF = 0
		_, out, err = Step(cfg, Preset(cfg, u, in.R, in.Y), in)
		require.NoError(t, err)
		require.InDelta(t, u, out.U, 1e-8)
	})
}

func TestZeroStateStartsFromOff(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cfg := drawConfig(t, "cfg")
		in := drawInput(t, "in")
		in.H, in.HasApplied = moment, false
		st, out, err := Step(cfg, State{}, in)
		require.NoError(t, err)
		require.True(t, st.Begun)
		require.InDelta(t, 0, out.U, 1e-8)
	})
}

// A retune followed by the last sample again, after next to no time, does not move what the
// law wants.
func TestRetuneContinuous(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		was, next := drawConfig(t, "was"), drawConfig(t, "next")
		st, last := drawRun(t, was)
		now := Retune(was, next, st)
		last.H, last.Y = moment, st.Yf
		last.Applied, last.HasApplied = st.V, true // nothing to track
		_, out, err := Step(next, now, last)
		require.NoError(t, err)
		require.InDelta(t, st.V, out.V, 1e-8*(1+math.Abs(st.V))) // a moment is not nothing
		if was.Td > 0 {                                          // the derivative goes on from what the filter holds, in the new gain
			require.InDelta(t, st.D/(was.K*was.Td)*next.K*next.Td, now.D, 1e-9)
		}
	})
	require.Equal(t, State{}, Retune(tuned(), Config{}, State{}), "what has not begun stays so")
}

// The default never moves the integral so that the output goes further into a limit.
func TestConditionalNeverDeeper(t *testing.T) {
	cut := 0
	rapid.Check(t, func(t *rapid.T) {
		cfg := drawConfig(t, "cfg")
		cfg.AntiWindup = Conditional
		st, _ := drawRun(t, cfg)
		in := drawInput(t, "in")
		next, out, err := Step(cfg, st, in)
		require.NoError(t, err)
		free := cfg.K / cfg.Ti * in.H * (st.R - st.Yf)
		moved := next.I - st.I
		const tiny = 1e-9
		if moved > tiny {
			require.LessOrEqual(t, out.V, cfg.Max+tiny)
		}
		if moved < -tiny {
			require.GreaterOrEqual(t, out.V, cfg.Min-tiny)
		}
		// What it does move is the plain increment or a part of it, and all of it inside.
		require.LessOrEqual(t, math.Abs(moved), math.Abs(free)+tiny)
		require.GreaterOrEqual(t, moved*free, -tiny)
		if !in.HasApplied && out.V > cfg.Min+tiny && out.V < cfg.Max-tiny {
			require.InDelta(t, free, moved, tiny)
		}
		if math.Abs(moved-free) > tiny {
			cut++
		}
	})
	require.Positive(t, cut, "no sample met a limit: the test shows nothing")
}

// An applied output away from the one asked for holds the integral too; rounding does not.
func TestConditionalHearsWhatWasApplied(t *testing.T) {
	cfg := tuned()
	st := Preset(cfg, 0.5, 200, 190) // the error is above zero: the integral wants to rise
	rise := func(applied float64) float64 {
		next, _, err := Step(cfg, st, Input{H: 1, R: 200, Y: 190, Applied: applied, HasApplied: true})
		require.NoError(t, err)
		return next.I - st.I
	}
	fall := func(applied float64) float64 { // too hot: the integral wants to fall
		low := Preset(cfg, 0.5, 200, 210)
		next, _, err := Step(cfg, low, Input{H: 1, R: 200, Y: 210, Applied: applied, HasApplied: true})
		require.NoError(t, err)
		return next.I - low.I
	}
	free := cfg.K / cfg.Ti * 10
	assert.InDelta(t, -free, fall(0.5005), 1e-12)
	assert.InDelta(t, -free, fall(0), 1e-12)
	assert.Zero(t, fall(1))
	assert.InDelta(t, free, rise(0.5), 1e-12)
	assert.InDelta(t, free, rise(0.4995), 1e-12)
	assert.InDelta(t, free, rise(1), 1e-12)
	assert.Zero(t, rise(0))
}

func TestStepAllocatesNothing(t *testing.T) {
	cfg, st := tuned(), Preset(tuned(), 0.3, 200, 190)
	require.Zero(t, testing.AllocsPerRun(1000, func() {
		st, _, _ = Step(cfg, st, Input{H: 0.25, R: 200, Y: 190})
	}))
}

func BenchmarkStep(b *testing.B) {
	cfg, st := tuned(), Preset(tuned(), 0.3, 200, 190)
	cfg.Tf = 2
	b.ReportAllocs()
	for b.Loop() {
		next, _, err := Step(cfg, st, Input{H: 0.25, R: 200, Y: 190})
		if err != nil {
			b.Fatal(err)
		}
		st = next
	}
}
