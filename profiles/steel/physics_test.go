package steel

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"strawline/probe/temp"
)

// TestTransformations: what another program computed from each typical composition, to the tenth.
func TestTransformations(t *testing.T) {
	var file struct {
		Steels map[string]map[string]float64
	}
	readJSON(t, "ms_ac_computed.json", &file)
	require.Equal(t, 13, len(file.Steels))
	for name, want := range file.Steels {
		grade, part, _ := strings.Cut(name, "(")
		s, is := Find(grade, nil)
		require.True(t, is, grade)
		c := s.Makeup.Typical
		if strings.HasPrefix(part, "0.65C") {
			c.C, c.Cr = 0.65, 1
		}
		if grade == "W2" {
			c.Si = 0.3 // the file's own; with steels.json's 0.25 all its figures are off alike
		}
		got := map[string]temp.C{"van_bohemen": c.Ms(), "ac1_andrews": c.Ac1()}
		for i, key := range []string{"andrews_linear", "andrews_product", "steven_haynes",
			"capdevila", "ingber"} {
			got[key] = c.MsOthers()[i].At
		}
		ac3, is := c.Ac3()
		if is {
			got["ac3_andrews"] = ac3
		}
		for key, v := range want {
			if key == "ac3_andrews" && !is {
				assert.Greater(t, c.C, 0.6, "above the formula's range")
			} else if key != "grange" {
				assert.InDelta(t, v, float64(got[key]), 0.06, "%s %s", name, key)
			}
		}
	}
}

func TestMsRange(t *testing.T) {
	s, _ := Find("52100", nil)
	low, high, why, is := s.MsRange()
	assert.True(t, is)
	assert.InDelta(t, 166.1-20, float64(low), 0.1)
	assert.InDelta(t, 262.4+20, float64(high), 0.1)
	assert.Contains(t, why, "from memory")
	s, _ = Find("5160", nil)
	low, high, why, is = s.MsRange()
	assert.True(t, is)
	assert.InDelta(t, 40, float64(high-low), 1e-9)
	assert.Empty(t, why)
	for _, name := range []string{"1080", "1095", "5160"} { // an atlas, from memory
		s, _ = Find(name, nil)
		low, high, _, _ = s.MsRange()
		require.True(t, s.MsMeasured.Known())
		assert.Less(t, low, s.MsMeasured.At, name)
		assert.Greater(t, high, s.MsMeasured.At, name)
	}
	s, _ = Find("A2", nil)
	_, _, _, is = s.MsRange()
	assert.False(t, is)
}

func TestMartensite(t *testing.T) {
	assert.InDelta(t, 0.854, Martensite(200, 25), 0.001)
	assert.Zero(t, Martensite(200, 250))
	assert.Zero(t, Martensite(200, 200))
}

// TestVickers holds the table against a closed form that is good to 0.2 HRC from 45 to 66 and
// 0.36 at 68 (our research, against the standard's table).
func TestVickers(t *testing.T) {
	for h := 45.0; h <= 68; h++ {
		v, err := HV(h)
		require.NoError(t, err)
		form := (100*v - 14500) / (v + 223)
		assert.InDelta(t, h, form, 0.37, h)
		if h <= 66 {
			assert.InDelta(t, h, form, 0.21, h)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		h := rapid.Float64Range(SoftestHRC, HardestHRC).Draw(t, "hrc")
		v, err := HV(h)
		require.NoError(t, err)
		back, err := HRC(v)
		require.NoError(t, err)
		assert.InDelta(t, h, back, 1e-9)
	})
	for _, bad := range []float64{39.9, 68.1, math.NaN(), math.Inf(1)} {
		_, err := HV(bad)
		assert.Error(t, err)
		_, err = HRC(bad)
		assert.Error(t, err)
	}
	v, err := HV(40)
	require.NoError(t, err)
	assert.Equal(t, 392.0, v)
}

func TestParseHRC(t *testing.T) {
	for s, want := range map[string]float64{"60HRC": 60, "60.5 HRC": 60.5, " 61hrc ": 61} {
		got, err := ParseHRC(s)
		require.NoError(t, err, s)
		assert.Equal(t, want, got)
	}
	for _, s := range []string{"60", "HRC", "", "0HRC", "71HRC", "-5HRC", "NaNHRC", "0x3cHRC",
		"60HV", "infHRC", "60 H RC"} {
		_, err := ParseHRC(s)
		assert.Error(t, err, s)
	}
}

func TestColours(t *testing.T) {
	var file struct {
		Use struct {
			Glow       [][2]any `json:"incandescent_dim_light_c"`
			GlowWidth  float64  `json:"incandescent_uncertainty_c"`
			Short      [][2]any `json:"temper_c_short_heat"`
			ShortWidth float64  `json:"temper_uncertainty_c"`
		}
	}
	readJSON(t, "colours.json", &file)
	require.Len(t, file.Use.Glow, 13)
	require.Len(t, file.Use.Short, 11)
	same := func(rows [][2]any, width float64, name func(temp.C) Colour) {
		for i, row := range rows {
			from := temp.C(row[0].(float64))
			assert.Equal(t, Colour{row[1].(string), from, temp.Delta(width)}, name(from))
			if i > 0 {
				assert.Equal(t, rows[i-1][1], name(from-0.1).Name)
			}
		}
	}
	same(file.Use.Glow, file.Use.GlowWidth, GlowColour)
	same(file.Use.Short, file.Use.ShortWidth, TemperColour)
	assert.Equal(t, "straw", TemperColour(240).Name)
	assert.Equal(t, "none to faint straw", Words(204.4, TemperColour))
	assert.Equal(t, "pale straw to brown", Words(240, TemperColour))
	assert.Equal(t, "black", Words(20, GlowColour))
	assert.Contains(t, StrawNote, "400 °F")
	assert.InDelta(t, 465, temp.C(240).F(), 1)
	dark, dim, sun := FirstRed()
	assert.Less(t, dark, dim)
	assert.InDelta(t, 977, dim.F(), 0.1, "Draper's point")
	assert.Less(t, dim, sun)
}

// halfway is where the table's time constants were taken, as its file says.
const halfway = temp.C(140)

// TestCuringOven is Incropera and DeWitt's Example 5.3: an aluminium panel heated, held, cooled.
func TestCuringOven(t *testing.T) {
	var file struct {
		Entries []struct {
			Name     string
			Inputs   map[string]float64
			Expected map[string]float64
		}
	}
	readJSON(t, "blade.json", &file)
	require.Len(t, file.Entries, 2)
	in, want := file.Entries[0].Inputs, file.Entries[0].Expected
	panel := Plate{Thick: in["thick"], Density: in["rho"], Heat: in["c"], Emissivity: in["eps"]}
	oven := Oven(temp.C(in["T_oven"]), in["h_oven"])
	hall := Oven(temp.C(in["T_cool"]), in["h_cool"])
	cured, is := panel.Until(temp.C(in["Ti"]), temp.C(in["T_cure"]), oven)
	require.True(t, is)
	held := cured + time.Duration(in["hold"])*time.Second
	hot := panel.After(temp.C(in["Ti"]), oven, held)
	cool, is := panel.Until(hot, temp.C(in["T_final"]), hall)
	require.True(t, is)
	assert.InEpsilon(t, want["tc"], cured.Seconds(), 0.01)
	assert.InEpsilon(t, want["te"], held.Seconds(), 0.01)
	assert.InEpsilon(t, want["total"], (held + cool).Seconds(), 0.01)
	t.Logf("%.2f, %.2f, %.1f s", cured.Seconds(), held.Seconds(), (held + cool).Seconds())

	in, want = file.Entries[1].Inputs, file.Entries[1].Expected
	blade, air := Blade(in["thick"]*1000, in["eps"]), Oven(temp.C(in["T_oven"]), in["h_c"])
	assert.InEpsilon(t, want["Bi"], blade.Biot(halfway, air, Conducts), 0.01)
	assert.InEpsilon(t, want["tau"], blade.Tau(halfway, air).Seconds(), 0.01)
	assert.InEpsilon(t, want["h_total"], blade.film(halfway, air), 0.01)
	reach, is := blade.Until(temp.C(in["Ti"]), 199, air)
	require.True(t, is)
	assert.InEpsilon(t, want["t_199"], reach.Seconds(), 0.01)
}

// TestBladeTable is the table of 3 to 6 mm, bright and oxidised, still and with a fan.
func TestBladeTable(t *testing.T) {
	var file struct {
		Table []struct {
			Thick   float64 `json:"thick_mm"`
			Surface string
			Fan     bool
			H       float64 `json:"h_c"`
			Eps     float64
			Tau     float64 `json:"tau_s"`
			Reach   float64 `json:"t_195_s"`
		}
		Inputs map[string]float64 `json:"table_inputs"`
	}
	readJSON(t, "blade.json", &file)
	require.Len(t, file.Table, 12)
	assert.Equal(t, file.Inputs["rho"], Density)
	assert.Equal(t, file.Inputs["c"], Heat)
	for _, row := range file.Table {
		h, eps := Still, Oxidised
		if row.Fan {
			h = Fanned
		}
		if row.Surface == "bright" {
			h, eps = Stillest, Bright
		}
		assert.Equal(t, row.H, h)
		assert.Equal(t, row.Eps, eps)
		b, o := Blade(row.Thick, eps), Oven(temp.C(file.Inputs["T_oven"]), h)
		assert.InEpsilon(t, row.Tau, b.Tau(halfway, o).Seconds(), 0.03, row)
		reach, is := b.Until(temp.C(file.Inputs["Ti"]), 195, o)
		require.True(t, is)
		assert.InEpsilon(t, row.Reach, reach.Seconds(), 0.03, row)
	}
}

// TestPlateGoesOneWay: a plate goes towards the oven and never past it, and how a wait is cut
// does not matter.
func TestPlateGoesOneWay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Blade(rapid.Float64Range(0.2, 40).Draw(t, "mm"),
			rapid.Float64Range(0, 1).Draw(t, "emissivity"))
		o := Oven(temp.C(rapid.Float64Range(0, 1200).Draw(t, "air")),
			rapid.Float64Range(1, 60).Draw(t, "h"))
		start := temp.C(rapid.Float64Range(0, 1200).Draw(t, "start"))
		a := time.Duration(rapid.Int64Range(0, 3600e9).Draw(t, "a"))
		b := time.Duration(rapid.Int64Range(0, 3600e9).Draw(t, "b"))
		mid := p.After(start, o, a)
		assert.LessOrEqual(t, math.Abs(float64(mid-o.Air)), math.Abs(float64(start-o.Air))+1e-9)
		assert.GreaterOrEqual(t, float64(mid-o.Air)*float64(start-o.Air), -1e-9)
		assert.InDelta(t, float64(p.After(start, o, a+b)), float64(p.After(mid, o, b)), 0.01)
		if wait, is := p.Until(start, mid, o); is && a > 0 && mid != start &&
			math.Abs(float64(mid-o.Air)) > 0.1 {
			assert.InDelta(t, a.Seconds(), wait.Seconds(), 1)
		}
	})
}

func TestPlateOfNothing(t *testing.T) {
	o := Oven(200, Still)
	assert.Equal(t, o.Air, Blade(0, Oxidised).After(20, o, time.Second))
	for _, x := range []struct {
		p    Plate
		goal temp.C
	}{{Blade(0, Oxidised), 100}, {Blade(4, Oxidised), 201}, {Blade(4, Oxidised), 10},
		{Blade(4, Oxidised), temp.C(math.NaN())}} {
		_, is := x.p.Until(20, x.goal, o)
		assert.False(t, is)
	}
	wait, is := Blade(4, Oxidised).Until(20, 20, o)
	assert.True(t, is)
	assert.Zero(t, wait)
}
