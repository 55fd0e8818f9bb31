package steel

import (
	"encoding/json"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/temp"
)

// inputs are those of any check value.
type inputs struct {
	Cr, Mn, Si, Ni, Mo float64
	C                  float64  // percent of carbon, or the parameter's constant
	At                 *float64 `json:"t_c"`
	F                  *float64 `json:"t_f"`
	K                  float64
	Hours              float64      `json:"h"`
	Minutes            float64      `json:"min"`
	CHours             float64      `json:"C_h"`
	Ref                float64      `json:"ref_c"`
	Cycles             [][2]float64 `json:"cycles"`
	Rate               float64      `json:"rate_k_per_h"`
	Fit                string
	HRC                float64
	Ms                 float64 `json:"ms_c"`
	Alpha              float64
	Set                string
	Points, Degree     int
	LbPerGal           float64 `json:"lb_per_gal"`
	From               float64 `json:"steel_from_f"`
	To                 float64 `json:"to_f"`
	CpSteel            float64 `json:"cp_steel"`
	CpOil              float64 `json:"cp_oil"`
	OilLbPerGal        float64 `json:"oil_lb_per_gal"`
}

func (in inputs) made() Composition {
	return Composition{C: in.C, Mn: in.Mn, Si: in.Si, Cr: in.Cr, Ni: in.Ni, Mo: in.Mo}
}

func (in inputs) temp() temp.C {
	if in.F != nil {
		return temp.F(*in.F)
	}
	return temp.C(*in.At)
}

func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

// sums are the kinds of check value, each with the code that must give it. A few are no part of
// the program and are worked out here: they check the facts that the program was built on.
func sums() map[string]func(testing.TB, inputs) float64 {
	others := func(i int) func(testing.TB, inputs) float64 {
		return func(_ testing.TB, in inputs) float64 { return float64(in.made().MsOthers()[i].At) }
	}
	return map[string]func(testing.TB, inputs) float64{
		"ms_andrews_linear":  others(0),
		"ms_andrews_product": others(1),
		"ms_steven_haynes":   others(2),
		"ms_capdevila":       others(3),
		"ms_ingber":          others(4),
		"ms_van_bohemen":     func(_ testing.TB, in inputs) float64 { return float64(in.made().Ms()) },
		"ac1_andrews":        func(_ testing.TB, in inputs) float64 { return float64(in.made().Ac1()) },
		"ac3_andrews": func(t testing.TB, in inputs) float64 {
			at, is := in.made().Ac3()
			assert.True(t, is)
			return float64(at)
		},
		// A mill's own scale: 273 instead of 273.15, and 20 instead of 18.
		"hj_273": func(_ testing.TB, in inputs) float64 {
			at, span := *in.At-0.15, hours(in.Minutes/60)
			return Parameter(temp.C(at), span) + (at+273.15)*(in.C-HollomonJaffe)/1000
		},
		"hj": func(t testing.TB, in inputs) float64 {
			assert.Equal(t, HollomonJaffe, in.C)
			return Parameter(in.temp(), hours(in.Hours))
		},
		// The same parameter with the time in seconds needs C − log10 3600.
		"hj_c_seconds": func(_ testing.TB, in inputs) float64 {
			return Parameter(100, time.Second)*1000/373.15 - HollomonJaffe + in.CHours
		},
		"hj_rankine_ratio": func(_ testing.TB, in inputs) float64 {
			const rankine = 671.67 // 100 °C
			return rankine * HollomonJaffe / 1000 / Parameter(100, time.Hour)
		},
		"fit_best_c": bestConstant,
		"hj_equivalent_hours": func(_ testing.TB, in inputs) float64 {
			return Soaked(in.temp(), hours(in.Hours)).Hours(temp.C(in.Ref))
		},
		"hj_additive_hours": func(_ testing.TB, in inputs) float64 {
			var d Dose
			for _, c := range in.Cycles {
				d = d.Add(temp.C(c[0]), hours(c[1]))
			}
			return d.Hours(temp.C(in.Ref))
		},
		"hj_ramp_minutes_closed_form": func(_ testing.TB, in inputs) float64 {
			return RampHours(in.temp(), in.Rate, in.C) * 60
		},
		"temper_fit": func(t testing.TB, in inputs) float64 {
			var carbon float64
			_, err := fmt.Sscanf(in.Fit, "%fC", &carbon)
			require.NoError(t, err)
			c, err := PlainCurve(carbon)
			require.NoError(t, err)
			d := Soaked(in.temp(), hours(in.Hours))
			require.NoError(t, c.Inside(d))
			return c.HRC(d)
		},
		"hrc_to_hv_table": func(t testing.TB, in inputs) float64 {
			hv, err := HV(in.HRC)
			require.NoError(t, err)
			return hv
		},
		"km_retained": func(t testing.TB, in inputs) float64 {
			assert.Equal(t, 0.011, in.Alpha)
			return 1 - Martensite(temp.C(in.Ms), temp.C(*in.At))
		},
		// A balance of heat: a pound of steel into so many pounds of oil.
		"oil_rise_f": func(_ testing.TB, in inputs) float64 {
			return in.LbPerGal * in.CpSteel * (in.From - in.To) / (in.CpOil * in.OilLbPerGal)
		},
		// The peak of Planck's law over frequency is at 2.8214394 kT/h.
		"wien_freq_thz": func(_ testing.TB, in inputs) float64 {
			return 2.8214394 * 1.380649e-23 * in.K / 6.62607015e-34 / 1e12
		},
	}
}

// bestConstant finds the constant C that brings one laboratory's points closest to one cubic a
// steel, in steps of a fifth.
func bestConstant(t testing.TB, in inputs) float64 {
	const grange = "Grange and Baughman, 1956"
	require.Equal(t, grange, in.Set)
	steels := map[string][]point{}
	for _, p := range measured(t) {
		if p.source == grange {
			steels[p.steel] = append(steels[p.steel], p)
		}
	}
	best, least := 0.0, math.Inf(1)
	for i := range 36 {
		c, squares := 15+float64(i)/5, 0.0
		for _, points := range steels {
			var x, y []float64
			for _, p := range points {
				x = append(x, kelvins(p.at)*(c+math.Log10(p.span.Hours()))/6000-2.5)
				y = append(y, p.hrc)
			}
			if len(x) < 8 {
				continue
			}
			fit := polynomial(x, y, in.Degree+1)
			for k := range x {
				squares += math.Pow(y[k]-value(fit, x[k]), 2)
			}
		}
		if squares < least {
			best, least = c, squares
		}
	}
	return best
}

// TestCheckValues holds every check value against the code, its source beside it.
func TestCheckValues(t *testing.T) {
	var file struct {
		Entries []struct {
			Name, Kind, Source, Provenance string
			Inputs                         json.RawMessage
			Expected, Tolerance            float64
		}
	}
	readJSON(t, "check_values.json", &file)
	require.Equal(t, 48, len(file.Entries))
	kinds := sums()
	used := map[string]bool{}
	for _, e := range file.Entries {
		t.Run(e.Name, func(t *testing.T) {
			sum, is := kinds[e.Kind]
			require.True(t, is, "no sum for %s", e.Kind)
			used[e.Kind] = true
			var in inputs
			require.NoError(t, json.Unmarshal(e.Inputs, &in))
			got := sum(t, in)
			assert.InDelta(t, e.Expected, got, e.Tolerance, "%s; %s", e.Source, e.Provenance)
			t.Logf("%.5g, source %.5g ± %.2g (%s; %s)", got, e.Expected, e.Tolerance, e.Source,
				e.Provenance)
		})
	}
	assert.Len(t, used, len(kinds), "a sum that no check value uses")
}
