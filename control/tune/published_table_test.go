package tune

import (
	"math"
	"strings"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// processes are the plants of the entries, as they are written there.
func processes() map[string]Process {
	fopdt := func(k, t, l float64) Process { return Process{Gain: k, Lags: []float64{t}, Delay: l} }
	e2 := Process{Gain: 1, Zeros: []float64{-0.3, 0.08},
		Lags: []float64{2, 1, 0.4, 0.2, 0.05, 0.05, 0.05}}
	return map[string]Process{
		"1/((s+1)(0.2s+1))": {Gain: 1, Lags: []float64{1, 0.2}},
		"(-0.3s+1)(0.08s+1)/((2s+1)(s+1)(0.4s+1)(0.2s+1)(0.05s+1)^3)": e2,
		"same as E2_PI": e2,
		"2(15s+1)/((20s+1)(s+1)(0.1s+1)^2)": {
			Gain: 2, Zeros: []float64{15}, Lags: []float64{20, 1, 0.1, 0.1},
		},
		"1/(s+1)^4":                            {Gain: 1, Lags: []float64{1, 1, 1, 1}},
		"1/(s+1)^3":                            {Gain: 1, Lags: []float64{1, 1, 1}},
		"1/((s+1)(0.2s+1)(0.04s+1)(0.008s+1))": {Gain: 1, Lags: []float64{1, 0.2, 0.04, 0.008}},
		"1/((s+1)(2s+1)(3s+1))":                {Gain: 1, Lags: []float64{1, 2, 3}},
		"e^{-5s}/(10s+1)":                      fopdt(1, 10, 5),
		"4 e^{-3.5s}/(7s+1)":                   fopdt(4, 7, 3.5),
		"e^{-30s}/(600s+1)":                    fopdt(1, 600, 30),
		"12.8 e^{-s}/(16.7s+1)":                fopdt(12.8, 16.7, 1),
	}
}

func (c *checker) process() Process {
	c.t.Helper()
	text := at(c.t, c.e.Inputs, "plant").(string)
	for _, cut := range []string{" (inferred", ", ideal"} {
		text, _, _ = strings.Cut(text, cut)
	}
	require.Contains(c.t, processes(), text)
	return processes()[text]
}

func ms(p Process, g Gains) float64 { return Loop{Process: p, Gains: g}.Margins().Ms }

// simcMargins is the row of Skogestad's table for a PI.
func simcMargins(m Model) func(*checker) {
	return func(c *checker) {
		r := Loop{Process: m.Process(), Gains: SIMC(m, m.L).Ideal()}.Margins()
		c.want("Ms", r.Ms)
		c.want("GM", r.GM)
		c.want("PM_deg", r.PM)
		c.want("delay_margin_over_theta", r.Delay/m.L)
	}
}

// simcMs checks the peak that the entry's own gains make.
func simcMs(c *checker) {
	s := Series{Kc: c.in("controller/Kc"), TauI: c.in("controller/tauI")}
	if at(c.t, c.e.Inputs, "controller/type") == "series PID" {
		s.TauD = c.in("controller/tauD")
	}
	c.want("Ms", ms(c.process(), s.Ideal()))
}

func half(lags, inverse []float64) func(*checker) {
	return func(c *checker) {
		first, second := HalfRule(lags, inverse, 0)
		c.want("first_order/tau1", first.T)
		c.want("first_order/theta", first.L)
		c.want("second_order/tau1", second.T)
		c.want("second_order/tau2", second.T2)
		c.want("second_order/theta", second.L)
	}
}

func improvedPI(c *checker) {
	m := Model{Kind: First, K: c.in("k"), T: c.in("tau"), L: c.in("theta")}
	s := ImprovedPI(m, c.in("tauc"))
	c.want("Kc", s.Kc)
	c.want("tauI", s.TauI)
	c.want("Ms", ms(m.Process(), s.Ideal()))
}

func improvedPID(c *checker) {
	m := Model{Kind: First, K: c.in("k"), T: c.in("tau"), L: c.in("theta")}
	s := ImprovedPID(m, c.in("tauc"))
	c.want("Kc", s.Kc)
	c.want("tauI", s.TauI)
	c.want("tauD", s.TauD)
	c.want("Ms", ms(m.Process(), s.Ideal()))
}

func amigo(c *checker) {
	pi, pid := AMIGO(c.in("Kp"), c.in("T"), c.in("L"))
	c.gains("PI", pi)
	c.gains("PID", pid)
}

func cohenCoon(c *checker) {
	p, pi, pid := CohenCoon(c.in("k")/c.in("T"), c.in("L")/c.in("T"), c.in("L"))
	c.gains("P", p)
	c.gains("PI", pi)
	c.gains("PID", pid)
}

// describing compares the exact ultimate figures with what an ideal relay's swing shows.
func describing(c *checker) {
	m := Model{Kind: First, K: c.in("K"), T: c.in("T"), L: c.in("L")}
	ku, pu, ok := m.Process().Ultimate()
	require.True(c.t, ok)
	c.want("Ku_exact", ku)
	c.want("Pu_exact", pu)
	swing, err := RelayCycle(m, 1, 1, 0)
	require.NoError(c.t, err)
	c.want("Ku_DF", Describing((swing.Up-swing.Down)/2, 1, 0))
	c.want("P_relay", swing.Period())
}

func normalDelay(c *checker) {
	m := Model{Kind: First, K: c.in("K"), T: c.in("T"), L: c.in("L")}
	hi, lo, eps := c.in("d_hi"), c.in("d_lo"), c.in("hyst")
	swing, err := RelayCycle(m, hi, lo, eps)
	require.NoError(c.t, err)
	tau, got, ok := NormalDelay(m.K, swing.On, swing.Off, hi, lo, eps)
	require.True(c.t, ok)
	c.want("tau", tau)
	c.want("T", got.T)
	c.want("L", got.L)
	exact, ok := FromCycle(m.K, swing.On, swing.Off, hi, lo, eps)
	require.True(c.t, ok)
	assert.InEpsilon(c.t, m.T, exact.T, 1e-6)
	assert.InEpsilon(c.t, m.L, exact.L, 1e-6)
}

// lagsResponse is the step response of n lags of 1 s each, by hand.
func lagsResponse(n int) (t, y []float64) {
	const h = 0.002
	for i := range 20001 {
		x := float64(i) * h
		sum, term := 0.0, 1.0
		for k := range n {
			sum += term
			term *= x / float64(k+1)
		}
		t, y = append(t, x), append(y, 1-sum*math.Exp(-x))
	}
	return t, y
}

func twoPoint(n int) func(*checker) {
	return func(c *checker) {
		t, y := lagsResponse(n)
		m, ok := TwoPoint(t, y, 1)
		require.True(c.t, ok)
		c.want("T", m.T)
		c.want("L", m.L)
		c.want("t63", m.T+m.L)
		c.want("t28", m.L+m.T/3)
	}
}

func limits(c *checker) {
	m := Model{Kind: First, K: c.in("K"), T: c.in("T"), L: c.in("L")}
	t, err := MinHeatUp(m, c.in("T_amb"), c.in("T_amb"), c.in("SP"))
	require.NoError(c.t, err)
	c.want("t", t)
}

func ovenLike(c *checker) {
	p := c.process()
	m := Model{Kind: First, K: p.Gain, T: p.Lags[0], L: p.Delay}
	for key, rule := range map[string]Rule{
		"SIMC_PI": RuleSIMCPI, "AMIGO_PI": RuleAMIGOPI, "AMIGO_PID": RuleAMIGOPID,
		"ZN_PI": RuleZNStepPI, "ZN_PID": RuleZNStepPID,
		"CC_PI": RuleCohenCoonPI, "CC_PID": RuleCohenCoonPID,
	} {
		g, err := rule.Gains(m)
		require.NoError(c.t, err)
		c.want(key, ms(p, g))
	}
}

// publishedTests has the test of each entry, by its name.
func publishedTests() map[string]func(*checker) {
	tests := map[string]func(*checker){
		"simc_pi_fopdt_margins":       simcMargins(Model{Kind: First, K: 3, T: 40, L: 7}),
		"simc_pi_integrating_margins": simcMargins(Model{Kind: Integrating, Kv: 0.3, L: 7}),
		"simc_half_rule_E4":           half([]float64{1, 1, 1, 1}, nil),
		"simc_half_rule_E5":           half([]float64{1, 0.2, 0.04, 0.008}, nil),
		"simc_half_rule_E2": half(
			[]float64{2, 1, 0.4, 0.2 - 0.08, 0.05, 0.05, 0.05}, []float64{0.3}),
		"amigo_lag": amigo, "amigo_delay": amigo, "amigo_oven": amigo,
		"amigo_integrating":         amigoIntegrating,
		"zn_closed_loop_table":      znTable,
		"tyreus_luyben_table":       tlTable,
		"bequette_ex6_1_ultimate":   ultimate,
		"bequette_M6_ultimate":      ultimate,
		"seborg_4e-3.5s_ultimate":   ultimate,
		"zn_freq_1_over_s+1_cubed":  ultimate,
		"bequette_M6_P_margins":     pMargins,
		"zn_step_1_over_s+1_cubed":  znStep,
		"cohen_coon_k1_T10_L2":      cohenCoon,
		"cohen_coon_k1_T600_L30":    cohenCoon,
		"oven_like_Ms_comparison":   ovenLike,
		"relay_wood_berry_11":       woodBerry,
		"relay_biased_exact_1":      biased,
		"two_point_1_over_s+1_4":    twoPoint(4),
		"two_point_1_over_s+1_3":    twoPoint(3),
		"tangent63_1_over_s+1_4":    tangent63,
		"fopdt_min_heatup_time_A":   limits,
		"fopdt_min_heatup_time_B":   limits,
		"min_variance_random_walk":  minVariance,
		"pwm_ripple_first_order":    ripple,
		"sopdt_bang_bang":           bangBang,
		"simc_min_gain_rule":        minGain,
		"ls_slope_noise":            slopeNoise,
		"isimc_pid_series_T5_tc0.5": improvedPID, "isimc_pid_series_T20_tc0.5": improvedPID,
	}
	for _, x := range []string{"E1", "E2_PI", "E2_PID", "E3_PI", "E4_PI", "E5_PI"} {
		tests["simc2003_"+x+"_Ms"] = simcMs
	}
	for _, x := range []string{"5", "1", "0", "20"} {
		tests["isimc_pi_T"+x+"_L1"] = improvedPI
	}
	for _, x := range []string{"0.05", "0.1", "0.5", "1", "10"} {
		tests["relay_df_error_fopdt_L_over_T_"+x] = describing
	}
	for _, x := range []string{"T10_L1", "T10_L2", "T1_L1"} {
		tests["relay_normalized_delay_"+x] = normalDelay
	}
	return tests
}

func amigoIntegrating(c *checker) {
	m := Model{Kind: Integrating, Kv: c.in("Kv"), L: c.in("L")}
	pi, pid := AMIGOIntegrating(m.Kv, m.L)
	c.gains("PI", pi)
	c.gains("PID", pid)
	c.want("PI/Ms", ms(m.Process(), pi))
	c.want("PID/Ms", ms(m.Process(), pid))
}

func znTable(c *checker) {
	p, pi, pid := ZNFrequency(c.in("Ku"), c.in("Pu"))
	c.gains("P", p)
	c.gains("PI", pi)
	c.gains("PID", pid)
}

func tlTable(c *checker) {
	pi, pid := TyreusLuyben(c.in("Ku"), c.in("Pu"))
	c.gains("PI", pi)
	c.gains("PID", pid)
}

// ultimate checks the ultimate figures of a plant and whatever gains the entry draws from them.
func ultimate(c *checker) {
	p := c.process()
	ku, pu, ok := p.Ultimate()
	require.True(c.t, ok)
	c.want("Ku", ku)
	c.want("Pu", pu)
	_, pi, pid := ZNFrequency(ku, pu)
	_, tl := TyreusLuyben(ku, pu)
	for path, g := range map[string]Gains{"ZN_PI": pi, "ZN_PID": pid, "PID": pid, "TL_PID": tl} {
		if _, has := c.e.Expected[path]; has {
			c.gains(path, g)
		}
	}
	for path, g := range map[string]Gains{"Ms_ZN": pid, "Ms_PID": pid, "Ms_TL": tl} {
		if _, has := c.e.Expected[path]; has {
			c.want(path, ms(p, g))
		}
	}
}

func pMargins(c *checker) {
	r := Loop{Process: c.process(), Gains: Gains{K: c.in("K"), Ti: math.Inf(1)}}.Margins()
	c.want("GM", r.GM)
	c.want("PM_deg", r.PM)
	c.want("w180", r.W180)
	c.want("wc", r.WC)
}

func znStep(c *checker) {
	t, y := lagsResponse(3)
	m, drop, ok := Tangent63(t, y, 1, 2)
	require.True(c.t, ok)
	c.want("L", m.L)
	c.want("a", drop)
	pi, pid := ZNStep(drop, m.L)
	c.gains("PI", pi)
	c.gains("PID", pid)
	c.want("Ms_PID", ms(c.process(), pid))
}

func woodBerry(c *checker) {
	p := c.process()
	ku, pu, ok := p.Ultimate()
	require.True(c.t, ok)
	c.want("Ku_exact", ku)
	c.want("Pu_exact", pu)
	m := Model{Kind: First, K: p.Gain, T: p.Lags[0], L: p.Delay}
	swing, err := RelayCycle(m, c.in("d"), c.in("d"), 0)
	require.NoError(c.t, err)
	c.want("a", swing.Up)
	c.want("Ku_DF", Describing(swing.Up, c.in("d"), 0))
	c.want("P_relay", swing.Period())
}

func biased(c *checker) {
	m := Model{Kind: First, K: c.in("K"), T: c.in("T"), L: c.in("L")}
	swing, err := RelayCycle(m, c.in("mu")+c.in("mu0"), c.in("mu")-c.in("mu0"), c.in("eps"))
	require.NoError(c.t, err)
	c.want("A_up", swing.Up)
	c.want("A_down", swing.Down)
	c.want("T_u1", swing.On)
	c.want("T_u2", swing.Off)
}

func tangent63(c *checker) {
	t, y := lagsResponse(4)
	m, _, ok := Tangent63(t, y, 1, 2)
	require.True(c.t, ok)
	c.want("L", m.L)
	c.want("T", m.T)
}

func minVariance(c *checker) {
	m := Model{Kind: First, K: c.in("K"), T: c.in("T"), L: c.in("theta")}
	sd, approx := MinVariance(m, c.in("sigma_w"))
	c.want("sd", sd)
	c.want("approx", approx)
}

func ripple(c *checker) {
	windows := at(c.t, c.e.Inputs, "W").([]any)
	m := Model{Kind: First, K: c.in("K"), T: c.in("T")}
	c.list("pp", func(i int) float64 { return Ripple(m, c.in("d"), windows[i].(float64)) })
}

func bangBang(c *checker) {
	m := Model{Kind: Second, K: c.in("K"), T: c.in("T1"), T2: c.in("T2"), L: c.in("L")}
	off, on, there, err := BangBang(m, c.in("T_amb"), c.in("SP"))
	require.NoError(c.t, err)
	c.want("t_off", off)
	c.want("t_hold", on)
	c.want("t_output", there)
}

func minGain(c *checker) { c.want("Kc", MinGain(c.in("u0"), c.in("y_max"))) }

// slopeNoise: a straight line's slope is as sure as the formula says, and is that of its middle.
func slopeNoise(c *checker) {
	ns := at(c.t, c.e.Inputs, "n").([]any)
	of := func(i int) (r Record) {
		for k := range int(ns[i].(float64)) {
			r = append(r, Sample{T: float64(k) * c.in("dt"), Y: math.Pow(float64(k), 2)})
		}
		return r
	}
	c.list("sd", func(i int) float64 {
		_, _, se := line(of(i), c.in("sigma"))
		return se
	})
	c.list("delay_samples", func(i int) float64 {
		r := of(i) // of a parabola the slope of the line is 2t at the time that it stands for
		_, slope, _ := line(r, 1)
		return r[len(r)-1].T - slope/2
	})
}
