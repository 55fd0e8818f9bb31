package steel

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
)

const ownSteels = `# mine
[[steel]]
name = "1084-heat-7731"
like = "1084"
source = "mill certificate 7731"
harden = "1490F"
harden_range = ["1475F", "1525F"]
temper_range = ["350F", "450F"]
as_quenched = "66HRC"
soak = "10m"
quench = "fast oil"
normalise = "1600F"
[steel.composition]
C = 0.82
Mn = 0.7

[[steel]]
name = "old-file"
source = "a guess"
composition = { C = 1.1, Cr = 0.1 }
`

func TestOwnSteels(t *testing.T) {
	steels, err := Parse("steels.toml", []byte(ownSteels))
	require.NoError(t, err)
	require.Len(t, steels, 2)
	s, is := Find("1084-HEAT-7731", steels)
	require.True(t, is)
	assert.Equal(t, "1084", s.Base)
	assert.InDelta(t, 1490, s.Harden.At.F(), 1e-9)
	assert.InDelta(t, 350, s.Temper.Low.F(), 1e-9)
	assert.Equal(t, Range{Low: 66, High: 66, Origin: Origin{Source: "mill certificate 7731",
		Provenance: "yours"}}, s.AsQuenched)
	assert.Equal(t, 10.0, s.Soak.High)
	assert.Equal(t, "fast oil", s.Quench.Medium)
	assert.InDelta(t, 1600, s.Normalise.At.F(), 1e-9)
	assert.Equal(t, []temp.C{870, 815, 760}, s.Cycle.At, "1084's stand where none are given")
	assert.Equal(t, Composition{C: 0.82, Mn: 0.7}, s.Makeup.Typical)
	want, err := PlainCurve(0.82)
	require.NoError(t, err)
	e, err := s.Tempered(200, 2*time.Hour, 1, 0)
	require.NoError(t, err)
	assert.Equal(t, want.HRC(Soaked(200, 2*time.Hour)), e.HRC, "the certificate's own carbon")

	c, err := steels[1].Curve()
	require.NoError(t, err)
	assert.Contains(t, c.Of, "between plain carbon steels of 0.98 and 1.15 % C")
	assert.Empty(t, steels[1].Unfit())
}

func TestOwnSteelsWithoutACurve(t *testing.T) {
	steels, err := Parse("x", []byte("[[steel]]\nname=\"x\"\nsource=\"y\"\n"+
		"composition={C=0.8,Cr=1}\n[[steel]]\nname=\"z\"\nlike=\"a2\"\nsource=\"y\"\n"))
	require.NoError(t, err)
	_, err = steels[0].Curve()
	assert.ErrorContains(t, err, "no measurements of this steel")
	assert.Contains(t, steels[1].Unfit(), "do not fit A2")
}

// TestOwnSteelsRefused: each bad file, and where it says the fault is.
func TestOwnSteelsRefused(t *testing.T) {
	head := "[[steel]]\nname = \"x\"\nsource = \"y\"\nlike = \"1084\"\n"
	for _, c := range []struct {
		text         string
		line, column int
		says         string
	}{
		{"", 1, 1, "1 to 200 steels"},
		{"steel = 3", 1, 1, "1 to 200 steels"},
		{"steel = [3]", 1, 1, "begin it with"},
		{"nonsense", 1, 8, "not TOML"},
		{"[[steel]]\nname = \"é\" \"", 2, 12, "not TOML"},
		{"[[steel]]\nname = \"é\", x = 1", 2, 11, "not TOML"},
		{"x = 1\n" + head, 1, 1, "unknown key"},
		{head + "harden = \"1500\"", 5, 1, "no unit"},
		{head + "harden = 1500", 5, 1, "in quotes with its unit"},
		{head + "harden = \"9000F\"", 5, 1, "outside"},
		{head + "colour = \"red\"", 5, 1, "unknown key"},
		{head + "temper_range = [\"450F\", \"350F\"]", 5, 1, "stands first"},
		{head + "temper_range = [\"450F\"]", 5, 1, "two temperatures"},
		{head + "harden = \"1400F\"\nharden_range = [\"1475F\", \"1525F\"]", 5, 1, "outside harden_range"},
		{head + "soak = \"0m\"", 5, 1, "lasts above 0"},
		{head + "soak = 10", 5, 1, "text in quotes"},
		{head + "as_quenched = \"66\"", 5, 1, "no unit"},
		{head + "quench = \"a\\nb\"", 5, 1, "one line of text"},
		{head + "composition = 3", 5, 1, "a table belongs"},
		{head + "[steel.composition]\nMn = 1", 5, 8, "carbon is missing"},
		{head + "[steel.composition]\nC = 0.8\n  Cu = 1", 7, 3, "unknown key"},
		{head + "[steel.composition]\nC = 8", 6, 1, "outside 0 to 2.2"},
		{head + "[steel.composition]\nC = nan", 6, 1, "outside"},
		{head + "[steel.composition]\nC = \"0.8\"", 6, 1, "percent by weight"},
		{head + head, 6, 1, "there is a steel x already"},
		{strings.Replace(head, `"x"`, `"1095"`, 1), 2, 1, "there is a steel 1095 already"},
		{strings.Replace(head, `"x"`, `"a b"`, 1), 2, 1, "needs a name"},
		{strings.Replace(head, "1084", "1048", 1), 4, 1, "none of the built-in"},
		{strings.Replace(head, "source = \"y\"\n", "", 1), 1, 3, "where the figures come from"},
		{"[[steel]]\nname=\"x\"\nsource=\"y\"\n", 1, 3, "needs a composition"},
		{strings.Repeat("#", 300000), 1, 1, "256 KiB"},
	} {
		_, err := Parse("f.toml", []byte(c.text))
		var p *Problem
		if assert.True(t, errors.As(err, &p), c.text) {
			assert.Equal(t, []any{c.line, c.column}, []any{p.Line, p.Column}, "%s\n%v", c.text, err)
			assert.Contains(t, p.Error(), c.says)
			assert.NotContains(t, p.Error(), "\n")
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(ownSteels))
	f.Add([]byte("[[steel]]\nname = \"x\"\nsource = \"y\"\ncomposition = { C = 0.8 }\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		steels, err := Parse("f", data)
		var p *Problem
		if err != nil {
			require.ErrorAs(t, err, &p)
			require.Positive(t, p.Line)
			require.Positive(t, p.Column)
			require.NotContains(t, p.Error(), "\n")
			return
		}
		for _, s := range steels {
			_, is := Find(s.Name, steels)
			require.True(t, is)
			if c, err := s.Curve(); err == nil {
				require.NoError(t, c.Inside(Dose{P: 9, Hottest: 200}))
			}
		}
	})
}
