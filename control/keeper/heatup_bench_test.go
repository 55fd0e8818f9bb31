package keeper

import (
	"context"
	"encoding/csv"
	"errors"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"strawline/control"
	"strawline/probe/plant"
	"strawline/probe/sim"
	"strawline/probe/temp"
	"strawline/profiles"
)

const heatUpTo, heatUpSpan = temp.C(200), 9000 * time.Second

// heatUpCase is one line of testdata/control/heatup.csv.
type heatUpCase struct {
	oven                             string
	gain, lag, delay                 float64
	bound, simcOvershoot, simcSettle float64
}

func heatUpCases(t testing.TB) (cs []heatUpCase) {
	f, err := os.Open("../../testdata/control/heatup.csv")
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	for _, row := range rows[1:] {
		var v [6]float64
		for i := range v {
			v[i], err = strconv.ParseFloat(row[i+1], 64)
			require.NoError(t, err)
		}
		cs = append(cs, heatUpCase{row[0], v[0], v[1], v[2], v[3], v[4], v[5]})
	}
	return cs
}

func (c heatUpCase) plant() plant.Params {
	if c.oven == "B" {
		return plant.B()
	}
	return plant.A()
}

// simcPI gives the gains of Skogestad's SIMC rule for a first-order model with dead time and a
// closed-loop time constant of the dead time: K = T/(Kp 2L), Ti = the lesser of T and 8L.
func (c heatUpCase) simcPI() control.Gains {
	return control.Gains{Kp: c.lag / (c.gain * 2 * c.delay), TiS: min(c.lag, 8*c.delay), Weight: 1,
		From: "SIMC PI"}
}

// heatUp is how well an oven came to its temperature, judged by the noise-free probe.
type heatUp struct {
	reach     float64 // s until 199 °C
	overshoot float64 // °C above 200
	settle    float64 // s from which it stays within 1 °C
	rms       float64 // °C, 1800 to 9000 s
}

// runHeatUp is one cold start with the blade in, through the board's bytes, port and engine.
func runHeatUp(t testing.TB, c heatUpCase, g control.Gains, seed uint64) heatUp {
	s := newShop(t, sim.Config{Plant: c.plant(), Seed: seed, Blade: true})
	s.quiet = true
	p := profiles.Profile{Name: "heat-up", Unit: temp.Celsius, Limit: 240, Longest: 4 * time.Hour,
		Steps: []profiles.Step{{Kind: profiles.Soak, To: heatUpTo, For: 4 * time.Hour, Band: 5}}}
	cfg := s.lockstep(t, p, seed, Away)
	cfg.Gains, cfg.Blade, cfg.Sim.Oven = g, nil, c.plant()
	ctx, stop := context.WithCancelCause(t.Context())
	h := heatUp{reach: math.NaN()}
	sum, n := 0.0, 0
	cfg.Records = func(r control.Record) {
		if r.Sample == nil || r.Sample.T%time.Second != 0 || r.Sample.T == 0 {
			return
		}
		if r.Sample.T > heatUpSpan {
			stop(errors.New("enough"))
			return
		}
		at, off := r.Sample.T.Seconds(), float64(s.board.Truth().Probe-heatUpTo)
		if math.IsNaN(h.reach) && off >= -1 {
			h.reach = at
		}
		h.overshoot = max(h.overshoot, off)
		if math.Abs(off) > 1 {
			h.settle = at + 1
		}
		if at >= 1800 {
			sum, n = sum+off*off, n+1
		}
	}
	k, err := Prepare(ctx, cfg)
	require.NoError(t, err)
	_, err = k.Run(ctx)
	require.NoError(t, err)
	h.rms = math.Sqrt(sum / float64(n))
	return h
}

// BenchmarkHeatUp prints how the loop brings the reference ovens to 200 °C, means of seeds 3, 4
// and 5, beside what nothing could do better. It times nothing.
func BenchmarkHeatUp(b *testing.B) {
	for _, c := range heatUpCases(b) {
		for _, g := range []control.Gains{control.CautiousGains(), c.simcPI()} {
			b.Run("oven-"+c.oven+"/"+g.From, func(b *testing.B) {
				var m heatUp
				for b.Loop() {
					m = heatUp{}
					for seed := range uint64(3) {
						h := runHeatUp(b, c, g, seed+3)
						m.reach += h.reach / 3
						m.overshoot += h.overshoot / 3
						m.settle += h.settle / 3
						m.rms += h.rms / 3
					}
				}
				b.ReportMetric(m.reach, "reach199-s")
				b.ReportMetric(m.overshoot, "overshoot-C")
				b.ReportMetric(m.settle, "settle1C-s")
				b.ReportMetric(m.rms, "rms-soak-C")
				b.ReportMetric(c.bound, "bound-s")
				b.ReportMetric(m.settle/c.bound, "settle/bound")
				b.ReportMetric(0, "ns/op")
			})
		}
	}
}
