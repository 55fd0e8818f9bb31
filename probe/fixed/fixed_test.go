package fixed

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/temp"
)

// rows reads a table of testdata/fixed without its heading.
func rows(t *testing.T, name string) (out [][]float64) {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "fixed", name))
	require.NoError(t, err)
	defer f.Close()
	cells, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	for _, row := range cells[1:] {
		var v []float64
		for _, c := range row {
			x, err := strconv.ParseFloat(c, 64)
			require.NoError(t, err)
			v = append(v, x)
		}
		out = append(out, v)
	}
	return out
}

// The release's own check values, K at MPa.
func TestSaturationOfTheRelease(t *testing.T) {
	for mpa, k := range map[float64]float64{0.1: 372.755919, 1: 453.035632, 10: 584.149488} {
		assert.InDelta(t, k, saturation(mpa), 5e-7, "%v MPa", mpa)
	}
}

func TestBoilingAgainstTheTables(t *testing.T) {
	table := rows(t, "water_boiling.csv")
	require.Len(t, table, 32)
	for _, r := range table {
		p, err := Atmosphere(Metres(r[0]))
		require.NoError(t, err)
		assert.InDelta(t, r[1], float64(p)/10, 0.0051, "kPa at %v m", r[0])
		b, err := BoilingAtHeight(Metres(r[0]))
		require.NoError(t, err)
		assert.InDelta(t, r[2], float64(b.Is), 0.01, "at %v m; asked is 0.1", r[0])
	}
	table = rows(t, "water_boiling_by_pressure.csv")
	require.Len(t, table, 38)
	for _, r := range table {
		c, err := BoilingAt(HPa(r[0]))
		require.NoError(t, err)
		assert.InDelta(t, r[1], float64(c), 0.0051, "at %v hPa", r[0])
	}
	c, err := BoilingAt(1013.25)
	require.NoError(t, err)
	assert.InDelta(t, 99.974, float64(c), 0.0005)
}

// The ends of what J. D. Hooker measured in the Himalaya about 1850, as textbooks of regression
// print them (from memory). His figures are rounded and scatter by half a °F.
func TestBoilingAgainstHooker(t *testing.T) {
	for inHg, f := range map[float64]float64{29.211: 210.8, 15.376: 180.6} {
		c, err := BoilingAt(HPa(inHg * hPaPerInHg))
		require.NoError(t, err)
		assert.InDelta(t, f, c.F(), 1, "%v inHg", inHg)
	}
}

func TestWeatherIsSaid(t *testing.T) {
	slope, err := Slope(1013.25)
	require.NoError(t, err)
	assert.InDelta(t, 0.0277, float64(slope), 0.0001)
	b, err := BoilingAtHeight(0)
	require.NoError(t, err)
	assert.InDelta(t, math.Hypot(0.55, 0.2), float64(b.Within), 0.01, "20 hPa and the pot")
	high, err := BoilingAtHeight(3000)
	require.NoError(t, err)
	assert.Greater(t, high.Within, b.Within)
	known, err := Boiling(1013.25)
	require.NoError(t, err)
	assert.InDelta(t, math.Hypot(3*0.0277, 0.2), float64(known.Within), 0.001)
	assert.Less(t, known.Within, b.Within)
	assert.Equal(t, "boiling water at 1013 hPa", known.Full)
	assert.Contains(t, b.Source, "±20 hPa of weather")
}

// The water boils hotter under more air and cooler on a mountain, and nothing is not a number.
func TestBoilingIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(450, 1149).Draw(t, "hPa")
		b := rapid.Float64Range(a+0.001, 1150).Draw(t, "more")
		low, err := BoilingAt(HPa(a))
		require.NoError(t, err)
		high, err := BoilingAt(HPa(b))
		require.NoError(t, err)
		require.Greater(t, high, low)
		h := Metres(rapid.Float64Range(-500, 5500).Draw(t, "m"))
		p, err := BoilingAtHeight(h)
		require.NoError(t, err)
		require.True(t, p.Is > 80 && p.Is < 102 && p.Within > Pot && p.Within < 1.5, "%v", p)
	})
}

func TestPlacesThatAreNone(t *testing.T) {
	for _, p := range []HPa{0, -1, 449, 1151, HPa(math.NaN()), HPa(math.Inf(1))} {
		_, err := BoilingAt(p)
		assert.ErrorContains(t, err, "450 to 1150 hPa", "%v", p)
		_, err = Boiling(p)
		assert.Error(t, err)
	}
	for _, h := range []Metres{-501, 5501, Metres(math.NaN())} {
		_, err := Atmosphere(h)
		assert.ErrorContains(t, err, "-500 to 5500 m", "%v", h)
		_, err = BoilingAtHeight(h)
		assert.Error(t, err)
	}
}

func TestParse(t *testing.T) {
	for s, want := range map[string]float64{
		"985hPa": 985, " 985 hpa ": 985, "985mbar": 985, "98.5kPa": 985, "29.1inHg": 985.439,
		"29.921 INHG": 1013.241,
	} {
		p, err := ParsePressure(s)
		require.NoError(t, err, s)
		assert.InDelta(t, want, float64(p), 0.01, s)
	}
	for s, want := range map[string]float64{
		"420m": 420, "1380ft": 420.624, "-400 m": -400, "0m": 0, "5280 FT": 1609.344,
	} {
		h, err := ParseHeight(s)
		require.NoError(t, err, s)
		assert.InDelta(t, want, float64(h), 0.001, s)
	}
	for s, why := range map[string]string{
		"985": "has no unit", "": "has no unit", "hPa": "is not a number", "0x3d9hPa": "is not a number",
		"1e3hPa": "", "nanhPa": "is not a number", "infhPa": "is not a number", "98.5hPa": "no air pressure",
		"985kPa": "no air pressure", "760mm": "has no unit", "1_000hPa": "is not a number",
	} {
		_, err := ParsePressure(s)
		if why == "" {
			assert.NoError(t, err, s)
			continue
		}
		assert.ErrorContains(t, err, why, s)
	}
	for s, why := range map[string]string{
		"420": "has no unit", "420 yd": "has no unit", "m": "is not a number", "8848m": "no height",
		"29029ft": "no height", "1,2m": "is not a number",
	} {
		_, err := ParseHeight(s)
		assert.ErrorContains(t, err, why, s)
	}
}

// Every melting point of ours is that of the table.
func TestMetalsAgainstTheTable(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "fixed", "fixed_points.json"))
	require.NoError(t, err)
	var table []struct {
		Name string  `json:"name"`
		C    float64 `json:"t_c"`
	}
	require.NoError(t, json.Unmarshal(text, &table))
	words := map[string]string{"salt": "sodium chloride", "solder": "tin-lead eutectic"}
	last := temp.C(0)
	for _, p := range Metals() {
		word := p.Name + " "
		if w := words[p.Name]; w != "" {
			word = w
		}
		found := false
		for _, row := range table {
			if strings.HasPrefix(row.Name, word) {
				found = true
				assert.Equal(t, row.C, float64(p.Is), p.Name)
			}
		}
		assert.True(t, found, p.Name)
		assert.Greater(t, p.Is, last, "%s: the coldest first", p.Name)
		last = p.Is
		assert.NotEmpty(t, p.Source)
		assert.NotEmpty(t, p.How)
		all := strings.Join(p.Cautions, " ")
		assert.Contains(t, all, "damp", p.Name)
		if p.Name == "lead" || p.Name == "solder" {
			assert.Contains(t, all, "fumes")
		}
		if p.Name == "zinc" {
			assert.Contains(t, all, "dissolves")
		}
		for _, sign := range []string{p.Name, strings.ToUpper(p.Name)} {
			q, ok := Metal(sign)
			assert.True(t, ok)
			assert.Equal(t, p.Name, q.Name)
		}
	}
	tin, ok := Metal(" Sn ")
	assert.True(t, ok)
	assert.Equal(t, temp.C(231.928), tin.Is)
	_, ok = Metal("mercury")
	assert.False(t, ok)
}

// What 0.1 % of impurities does: share × R T² / L, with the heats of fusion in J/mol from memory.
func TestWithinOfMetals(t *testing.T) {
	heats := map[string]float64{"indium": 3281, "tin": 7030, "lead": 4774, "zinc": 7068,
		"antimony": 19790, "aluminium": 10711, "silver": 11280, "gold": 12552, "copper": 13263}
	for _, p := range Metals() {
		heat, metal := heats[p.Name]
		if !metal {
			assert.Equal(t, temp.Delta(1), p.Within, p.Name)
			continue
		}
		k := float64(p.Is) + 273.15
		falls := 0.001 * 8.314462618 * k * k / heat
		assert.InDelta(t, falls, float64(p.Within), 0.08, p.Name)
	}
}

func TestIce(t *testing.T) {
	ice := Ice()
	assert.Equal(t, temp.C(0), ice.Is)
	assert.Equal(t, Bath, ice.Within)
}
