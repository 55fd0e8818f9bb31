package profiles

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/temp"
)

func TestJSONKeys(t *testing.T) {
	p := Profile{Name: "a", Title: "A", Unit: temp.Fahrenheit, Limit: 232, Longest: 9 * time.Hour,
		Steps: []Step{
			{Kind: Ramp, To: 0, Rate: 0.5, Band: 5, Limit: time.Hour, Cycle: 1},
			{Kind: Soak, To: 204.5, For: 2 * time.Hour, Band: 5, Limit: 90 * time.Second},
			{Kind: Wait, Say: "blade in", Heat: true, Most: time.Minute, Load: LoadIn},
		}}
	got, err := json.Marshal(p)
	require.NoError(t, err)
	assert.JSONEq(t, `{"name":"a","title":"A","unit":"F","limit_c":232,"longest_s":32400,"steps":[
		{"kind":"ramp","to_c":0,"rate_c_per_s":0.5,"band_c":5,"within_s":3600,"cycle":1},
		{"kind":"soak","to_c":204.5,"for_s":7200,"band_c":5,"within_s":90},
		{"kind":"wait","say":"blade in","heat":true,"most_s":60,"blade":"in"}]}`, string(got))
	p.LimitMade = true
	made, err := json.Marshal(p)
	require.NoError(t, err)
	assert.Contains(t, string(made), `"limit_c":232,"limit_made":true,`)
	p.LimitMade = false
	inside, err := json.Marshal(struct{ P Profile }{p})
	require.NoError(t, err)
	assert.JSONEq(t, `{"P":`+string(got)+`}`, string(inside), "by value inside another value")
}

func TestJSONRefusesWhatIsNoProfile(t *testing.T) {
	for _, text := range []string{`{"unit":"K"}`, `{"unit":"F","steps":[{"kind":"jump"}]}`,
		`{"unit":"F","steps":[{"kind":"wait","blade":"gone"}]}`, `{"unit":"F","limit_c":"450F"}`,
		`{"unit":"F","steps":[{"kind":3}]}`, `[`, `7`} {
		var p Profile
		err := json.Unmarshal([]byte(text), &p)
		require.Error(t, err, text)
		assert.NotContains(t, err.Error(), "float64", text)
		assert.NotContains(t, err.Error(), "profiles.", text)
	}
	_, err := json.Marshal(Step{Kind: Ramp, To: temp.C(math.NaN())})
	require.Error(t, err)
	_, err = json.Marshal(Step{Kind: 9})
	require.Error(t, err)
}

func roundTrip(t require.TestingT, p Profile) {
	data, err := json.Marshal(p)
	require.NoError(t, err)
	var back Profile
	require.NoError(t, json.Unmarshal(data, &back))
	require.Equal(t, p, back)
}

func TestJSONRoundTripIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		roundTrip(t, Profile{
			Name:    rapid.StringMatching(`[a-z0-9][a-z0-9-]{0,39}`).Draw(t, "name"),
			Title:   rapid.String().Draw(t, "title"),
			Note:    rapid.String().Draw(t, "note"),
			Unit:    temp.Unit(rapid.IntRange(0, 1).Draw(t, "unit")),
			Limit:   temp.C(rapid.Float64Range(0, 1300).Draw(t, "limit")),
			Longest: time.Duration(rapid.Int64Range(1, int64(MaxTotal)).Draw(t, "longest")),
			Steps:   anySteps(t),

			LimitMade: rapid.Bool().Draw(t, "made"),
		})
	})
}
