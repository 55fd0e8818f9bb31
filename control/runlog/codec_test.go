package runlog

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/control"
)

// genSample draws samples as an engine could make them, and wilder.
func genSample(t *rapid.T) *control.Sample {
	opt := func(name string, lo, hi float64) *float64 {
		if rapid.Bool().Draw(t, name+" known") {
			return ptr(rapid.Float64Range(lo, hi).Draw(t, name))
		}
		return nil
	}
	n := rapid.IntRange(0, 8).Draw(t, "channels")
	s := &control.Sample{T: time.Duration(rapid.Int64Range(0, int64(200*time.Hour)).Draw(t, "t")),
		Duty: rapid.IntRange(0, 1000).Draw(t, "duty"), Set: opt("set", -300, 2000),
		Blade: opt("blade", -300, 2000), Soak: opt("soak", 0, 200000)}
	for i := range n {
		s.Temp = append(s.Temp, opt(fmt.Sprint("temp ", i+1), -300, 2000))
		s.Raw = append(s.Raw, rapid.Uint32().Draw(t, "raw"))
		s.HasRaw = append(s.HasRaw, rapid.Bool().Draw(t, "has raw"))
	}
	return s
}

// TestSampleRoundTrip: what Round gives is what a reader gets, bit for bit, from our decoder
// and from encoding/json; and rounding twice changes nothing.
func TestSampleRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := genSample(t)
		fields, err := appendSample(nil, s)
		require.NoError(t, err)
		kept := *s
		Round(s)
		again, err := appendSample(nil, s)
		require.NoError(t, err)
		require.Equal(t, string(fields), string(again))
		twice := *s
		Round(&twice)
		require.Equal(t, *s, twice)
		require.InDelta(t, kept.T.Seconds(), s.T.Seconds(), 0.0005000001)
		for i, v := range s.Temp {
			if v != nil {
				require.InDelta(t, *kept.Temp[i], *v, map[bool]float64{true: 0.00500001,
					false: 0.0500001}[math.Abs(*kept.Temp[i]) < 1000])
			}
		}
		r, err := decodeRecord(fields, &arena{})
		require.NoError(t, err)
		require.Equal(t, s, r.Sample)
		agree(t, append(append([]byte(`{"n":1,`), fields...), `,"h":"000000"}`...), s)
	})
}

// agree checks our decoder's sample against encoding/json's reading of the whole line.
func agree(t require.TestingT, line []byte, s *control.Sample) {
	a, err := slowDecode(line)
	require.NoError(t, err)
	require.Equal(t, time.Duration(math.Round(*a.T*1000))*time.Millisecond, s.T)
	for i, v := range a.temps() {
		var got *float64
		if i < len(s.Temp) {
			got = s.Temp[i]
		}
		require.Equal(t, v, got)
	}
	require.Equal(t, a.Set, s.Set)
	require.Equal(t, a.Blade, s.Blade)
	require.Equal(t, a.Soak, s.Soak)
	require.Equal(t, *a.Duty, s.Duty)
	var words []string
	for i, w := range s.Raw {
		word := ""
		if s.HasRaw[i] {
			word = fmt.Sprintf("%08X", w)
		}
		words = append(words, word)
	}
	if a.Raw == nil {
		require.Empty(t, words)
	} else {
		require.Equal(t, *a.Raw, strings.Join(words, ","))
	}
}

func TestEventRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.Map(rapid.SliceOf(rapid.Byte()),
			func(b []byte) string { return string(b) }))
		e := &control.Event{T: time.Duration(rapid.Int64Range(0, int64(30*time.Hour)).Draw(t, "t")),
			Kind: control.EvNote, Text: text.Draw(t, "text"), Word: text.Draw(t, "word"),
			Code: text.Draw(t, "code"), From: text.Draw(t, "was hidden"),
			SpanS:  rapid.Ptr(rapid.Float64Range(-1e9, 1e9), true).Draw(t, "span"),
			Step:   rapid.Ptr(rapid.Int(), true).Draw(t, "step"),
			DutyPM: rapid.Ptr(rapid.IntRange(0, 1000), true).Draw(t, "duty")}
		gains := func(name string) *control.Gains {
			if !rapid.Bool().Draw(t, name) {
				return nil
			}
			return &control.Gains{Kp: rapid.Float64Range(0, 10).Draw(t, "kp"), TiS: 100, TdS: 2,
				Weight: 1, From: text.Draw(t, "from")}
		}
		e.Gains, e.Was = gains("gains"), gains("was")
		if rapid.Bool().Draw(t, "asked") {
			e.Ask = &control.Ask{Kind: control.AskNote, By: text.Draw(t, "by"),
				Seconds: rapid.Float64Range(0, 1e6).Draw(t, "s"), Text: text.Draw(t, "ask"),
				Code:  text.Draw(t, "asked code"),
				Gains: gains("asked gains"), DutyPM: rapid.IntRange(0, 1000).Draw(t, "asked duty")}
		}
		fields, err := appendFields(nil, control.Record{Event: e})
		require.NoError(t, err)
		require.NotContains(t, string(fields), "\n")
		r, err := decodeRecord(fields, &arena{})
		require.NoError(t, err)
		require.Equal(t, RoundRecord(control.Record{Event: e}), r)
	})
}

// TestRoundOwnIsRoundInPlace: it gives what RoundRecord gives, and for a sample without allocating.
func TestRoundOwnIsRoundInPlace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		own := control.Record{Sample: genSample(t)}
		want := RoundRecord(own)
		RoundOwn(own)
		require.Equal(t, want, own)
		require.Zero(t, testing.AllocsPerRun(1, func() { RoundOwn(own) }))
	})
	e := control.Record{Event: &control.Event{T: 1234567, Kind: "note", Text: "\xff"}}
	want := RoundRecord(e)
	RoundOwn(e)
	require.Equal(t, want, e)
}

// TestRoundSharesNothing: whoever gave the sample keeps his own values.
func TestRoundSharesNothing(t *testing.T) {
	mine := testSample(1)
	*mine.Temp[0] = 1.23456
	r := RoundRecord(control.Record{Sample: mine})
	assert.Equal(t, 1.23456, *mine.Temp[0])
	assert.Equal(t, 1.23, *r.Sample.Temp[0])
	r.Sample.Raw[0]++
	assert.Equal(t, testSample(1).Raw, mine.Raw)
}

func TestRefusals(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(-1)
	cases := []struct {
		name string
		r    control.Record
		want string
	}{
		{"empty", control.Record{}, "a sample or an event"},
		{"both", control.Record{Sample: testSample(1), Event: &control.Event{Kind: "x"}},
			"not both"},
		{"NaN", control.Record{Sample: &control.Sample{Temp: []*float64{nil, &nan}}},
			"t2_c is NaN"},
		{"Inf", control.Record{Sample: &control.Sample{Set: &inf}}, "set_c is -Inf"},
		{"big", control.Record{Sample: &control.Sample{Blade: ptr(1e300)}}, "blade_c is 1e+300"},
		{"NaN soak", control.Record{Sample: &control.Sample{Soak: &nan}}, "soak_s is NaN"},
		{"duty", control.Record{Sample: &control.Sample{Duty: 1001}}, "duty_pm is 1001"},
		{"before", control.Record{Sample: &control.Sample{T: -time.Second}}, "before the start"},
		{"channels", control.Record{Sample: &control.Sample{Temp: make([]*float64, 9)}},
			"more than 8"},
		{"no kind", control.Record{Event: &control.Event{}}, "without a kind"},
		{"event NaN", control.Record{Event: &control.Event{Kind: "x", SpanS: &nan}}, "NaN"},
		{"long", eventRecord(0, "note", strings.Repeat("x", maxLine)), "more than a line"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := appendFields(nil, c.r)
			require.ErrorIs(t, err, ErrRefused)
			assert.ErrorContains(t, err, c.want)
		})
	}
}

// TestLongestSample: the longest numbers that a 27-hour run of two channels can have.
func TestLongestSample(t *testing.T) {
	longest := 0
	for _, v := range []float64{999.99, 1204.44, 999.97, 1371.96, -99.99, -9.87} {
		for _, blade := range []float64{999.94, 1371.96, -99.96} {
			s := testSample(1)
			s.T, s.Duty = 99999123*time.Millisecond, 1000
			s.Temp = []*float64{&v, &v}
			s.Set, s.Blade, s.Soak = &v, &blade, ptr(99998.873)
			fields, err := appendSample(nil, s)
			require.NoError(t, err)
			line, _, _ := seal(nil, 999999, fields, []byte("000000"), nil)
			assert.LessOrEqual(t, len(line), 160, "%s", line)
			longest = max(longest, len(line))
		}
	}
	t.Logf("the longest line has %d bytes", longest)
}

func TestFastDecoderRefuses(t *testing.T) {
	good := `"t_s":0.25,"raw":"0C601900,0C641900","t1_c":198.21,"t2_c":199.3,"set_c":204.44,` +
		`"blade_c":150.2,"duty_pm":312,"soak_s":12.25`
	_, err := decodeRecord([]byte(good), &arena{})
	require.NoError(t, err)
	swaps := [][2]string{
		{`"t1_c":198.21`, `"t1_c":198.21,"t1_c":198.21`}, {`"set_c":204.44`, `"set_c":1,"set_c":1`},
		{`"duty_pm":312`, `"duty_pm":312,"duty_pm":312`}, {`,"duty_pm":312`, ``},
		{`"duty_pm":312`, `"duty_pm":312,"extra":1`}, {`"soak_s":12.25`, `"soak_s":12.25,"x":1`},
		{`"t1_c"`, `"t3_c"`}, {`"t1_c"`, `"t9_c"`}, {`"t1_c"`, `"t0_c"`}, {`"set_c"`, `"Set_c"`},
		{`198.21`, `null`}, {`198.21`, `NaN`}, {`198.21`, `1e3`}, {`198.21`, `+1`},
		{`198.21`, `01`}, {`198.21`, `.5`}, {`198.21`, `5.`}, {`198.21`, `-`}, {`198.21`, ``},
		{`198.21`, `1.2.3`}, {`198.21`, `1234567890123456`}, {`198.21`, ` 1`}, {`198.21`, `"1"`},
		{`312`, `1001`}, {`312`, `3.5`}, {`312`, `-1`}, {`0.25`, `0.2501`}, {`0.25`, `-1`},
		{`0C601900,0C641900`, ``}, {`0C601900,0C641900`, `0c601900`},
		{`0C601900,0C641900`, `0C60190`}, {`0C601900,0C641900`, `0C601900,`},
		{`0C601900,0C641900`, `,,,,,,,,0C601900`}, {`0C601900,`, `0C6019000,`},
		{`"t_s":0.25`, `"t_s":1000000000`}, {`"t_s":0.25,`, ``}, {`:150.2,`, `:150.2;`},
	}
	for _, s := range swaps {
		bad := strings.Replace(good, s[0], s[1], 1)
		require.NotEqual(t, good, bad)
		_, err := decodeRecord([]byte(bad), &arena{})
		assert.Error(t, err, bad)
	}
}

// TestChainExample reads the file that testdata/runlog/chain.py made with Python's hashlib.
func TestChainExample(t *testing.T) {
	path := filepath.Join(corpus, "chain.ndjson")
	f, all := readAll(t, path)
	assert.Equal(t, "example", f.Info.Run)
	assert.Equal(t, 0.057, f.Info.Gains.Kp)
	assert.Empty(t, f.Tail.String())
	want := []control.Record{
		{Event: &control.Event{Kind: control.EvStart}},
		{Sample: &control.Sample{T: 250 * time.Millisecond, Raw: []uint32{0x0C601900, 0x0C641900},
			HasRaw: []bool{true, true}, Temp: []*float64{ptr(198.21), ptr(199.3)},
			Set: ptr(204.44), Blade: ptr(150.2), Duty: 312, Soak: ptr(12.25)}},
		{Sample: &control.Sample{T: 500 * time.Millisecond, Raw: []uint32{0, 0x0C641900},
			HasRaw: []bool{false, true}, Temp: []*float64{nil, ptr(-0.05)}}},
		{Event: &control.Event{T: 500 * time.Millisecond, Kind: control.EvStep, Step: ptr(1)}},
	}
	assert.Equal(t, want, all)

	text, err := os.ReadFile(path)
	require.NoError(t, err)
	var prev digits
	for i, line := range bytes.SplitAfter(bytes.TrimSuffix(text, []byte("\n")), []byte("\n")) {
		line = bytes.TrimSuffix(line, []byte("\n"))
		body, h, ok := unseal(line)
		require.True(t, ok)
		if i == 0 {
			prev, _ = chain(nil, nil, body)
			require.Equal(t, string(h), string(prev[:]))
			continue
		}
		fields, err := appendFields(nil, want[i-1])
		require.NoError(t, err)
		var ours []byte
		ours, prev, _ = seal(nil, uint64(i), fields, prev[:], nil)
		assert.Equal(t, string(line)+"\n", string(ours))
	}
}

// TestKeys: the keys of samples and events are snake case and a figure's ends in its unit.
func TestKeys(t *testing.T) {
	e := &control.Event{Kind: "x", Step: ptr(1), Chan: ptr(1), Code: "c", Word: "w", Text: "t",
		From: "G", SpanS: ptr(1.5), TempC: ptr(1.5)}
	units := map[string]bool{"s": true, "c": true, "pm": true}
	for _, r := range []control.Record{sampleRecord(3), {Event: e}} {
		fields, err := appendFields([]byte("{"), r)
		require.NoError(t, err)
		var m map[string]any
		require.NoError(t, json.Unmarshal(append(fields, '}'), &m))
		for k, v := range m {
			assert.Equal(t, strings.ToLower(k), k)
			if _, number := v.(float64); number && k != "step" && k != "channel" {
				assert.True(t, units[k[strings.LastIndex(k, "_")+1:]], k)
			}
		}
	}
}
