package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/profiles"
)

// profilesIn runs `profiles` in a home.
func profilesIn(home, args string) (out, bad string, code int) {
	var o, b bytes.Buffer
	code = run(context.Background(), append([]string{"profiles"}, strings.Fields(args)...), nil, &o,
		&b, []string{"XDG_CONFIG_HOME=" + home, "HOME=" + home})
	return o.String(), b.String(), code
}

// TestProfilesNew: what it prints is a profile, and each number has its reason.
func TestProfilesNew(t *testing.T) {
	out, bad, code := profilesIn(t.TempDir(), "new --steel 1084 --thick 3mm --use kitchen")
	require.Equal(t, exitOK, code, bad)
	p, err := profiles.Parse("x", []byte(out))
	require.NoError(t, err)
	assert.Equal(t, "kitchen-1084", p.Name)
	for _, s := range []string{"# why: 385 °F is common practice", "# why: two tempers of 2 h leave",
		"(modelled)", "# why: straightening", "# caution:"} {
		assert.Contains(t, out, s)
	}
}

func TestProfilesNewJSON(t *testing.T) {
	out, bad, code := profilesIn(t.TempDir(),
		"new --steel 5160 --thick 1/4in --use chopper --want 57HRC --by 0:05 --json")
	require.Equal(t, exitOK, code, bad)
	var a newAnswer
	require.NoError(t, json.Unmarshal([]byte(out), &a))
	assert.Equal(t, [3]float64{57, 52, 62}, [3]float64{a.HRC, a.LowHRC, a.HighHRC})
	assert.NotEmpty(t, a.Cautions)
	// The default oven heats 0.5 °C/s: 20 to 171 °C take 5 min 2 s, and 10 min are spare.
	assert.Equal(t, "23:49", a.StartBy)
	p, err := profiles.Parse("x", []byte(a.TOML))
	require.NoError(t, err)
	assert.Equal(t, a.Profile, p)
}

func TestProfilesNewSaves(t *testing.T) {
	home := t.TempDir()
	const args = "new --steel 15N20 --thick 2mm --use general --save"
	out, bad, code := profilesIn(home, args)
	require.Equal(t, exitOK, code, bad)
	file := filepath.Join(home, "strawline", "profiles", "general-15n20.toml")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, string(text)+"# saved: "+file+"\n", out)
	out, _, code = profilesIn(home, "list")
	assert.Equal(t, exitOK, code)
	assert.Contains(t, out, "general-15n20")
	_, bad, code = profilesIn(home, args)
	assert.Equal(t, exitCannotMake, code, "an old one is not written over")
	assert.Contains(t, bad, "exists already")
	again, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, text, again)
}

func TestProfilesNewRefuses(t *testing.T) {
	for args, want := range map[string]struct {
		code int
		says string
	}{
		"new --thick 3mm --use kitchen":                           {exitUsage, "--steel is missing"},
		"new --steel 1084 --use kitchen":                          {exitUsage, "--thick is missing"},
		"new --steel 1084 --thick 3mm":                            {exitUsage, "kitchen, general"},
		"new --steel 1084 --thick 3mm --use kitchem":              {exitUsage, "did you mean kitchen?"},
		"new --steel 1O84 --thick 3mm --use kitchen":              {exitNoInput, "did you mean 1084?"},
		"new --steel D2 --thick 3mm --use kitchen":                {exitData, "do not fit D2"},
		"new --steel 5160 --thick 3mm --use kitchen --want 63HRC": {exitData, "63 HRC are had with"},
		"new --steel 1084 --thick 3mm --use kitchen --by 25:00":   {exitUsage, "no time of day"},
		"new --steel 1084 --thick 300mm --use kitchen":            {exitData, "outside 0 to 100"},
		"new --steel 1084 --thick 3mm --use kitchen --want 60":    {exitUsage, "no unit"},
	} {
		out, bad, code := profilesIn(t.TempDir(), args)
		assert.Equal(t, want.code, code, args)
		assert.Contains(t, bad, want.says, args)
		assert.Equal(t, 1, strings.Count(bad, "\n"), args)
		assert.Empty(t, out, args)
	}
}
