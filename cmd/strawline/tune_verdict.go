package main

import (
	"errors"
	"math"
	"os"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/control/tune"
	"strawline/probe"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
	"strawline/tui"
)

// concluded is what a run's records say about its oven.
type concluded struct {
	path  string // of the run file
	info  control.Info
	found tune.Verdict
	ev    control.Evidence
}

// conclude finds the model of a run and the gains for it.
func conclude(info control.Info, records []control.Record) (concluded, error) {
	c := concluded{info: info, ev: control.NewEvidence(info, records, decoders()...)}
	var err error
	c.found, err = tune.Conclude(c.ev.Record, info.Shop.WindowS)
	return c, err
}

// decoders give the readings of the chips whose words say both junctions.
func decoders() (out []control.Decoder) {
	for _, name := range thermocouple.ChipNames() {
		if !thermocouple.SaysCold(name) {
			continue
		}
		out = append(out, func(word uint32) (temp.C, bool) {
			hot, _, fault := thermocouple.Decode(name, word)
			return hot, fault == probe.FaultNone
		})
	}
	return out
}

// readRun reads a whole run file.
func readRun(path string) (control.Info, []control.Record, error) {
	file, err := runlog.Open(path)
	if err != nil {
		code := exitData
		if errors.Is(err, os.ErrNotExist) {
			code = exitNoInput
		} else if errors.Is(err, os.ErrPermission) {
			code = exitNoRight
		}
		return control.Info{}, nil, &fault{code: code, wrong: err}
	}
	defer file.Close()
	records, err := file.All()
	if err != nil {
		return control.Info{}, nil, &fault{code: exitData, wrong: err}
	}
	return file.Info, records, nil
}

// lines are what a person reads of it.
func (c concluded) lines(u temp.Unit, all bool) []string {
	var out []string
	if c.info.Simulated {
		out = append(out, "SIMULATED: "+c.info.Shop.Oven)
	}
	out = append(out, tui.VerdictLines(c.found, u)...)
	if c.ev.HoldPM > 0 {
		out = append(out, "what held it: "+holdWords(c.ev, u))
	}
	if !c.ev.Raw {
		out = append(out, "note: the readings are the run's filtered ones, so the noise is told "+
			"too small and the dead time a little too long")
	}
	if all {
		out = append(out, tui.TableLines(c.found.Table(), u)...)
	}
	return out
}

// tuneJSON is the same for programs: figures in °C and s, keys ending in their unit.
type tuneJSON struct {
	Schema      int          `json:"schema"`
	Simulated   bool         `json:"simulated"`
	Run         string       `json:"run"`
	Oven        string       `json:"oven"`
	Test        string       `json:"test"`
	Model       modelJSON    `json:"model"`
	HoldPM      float64      `json:"hold_pm,omitempty"`
	HoldC       float64      `json:"hold_c,omitempty"`
	NoiseC      float64      `json:"noise_c"`
	MisfitC     float64      `json:"misfit_c"`
	RawReadings bool         `json:"raw_readings"`
	Recommended choiceJSON   `json:"recommended"`
	Bolder      choiceJSON   `json:"bolder"`
	Calmer      choiceJSON   `json:"calmer"`
	Rules       []choiceJSON `json:"rules,omitempty"`
	Kept        string       `json:"kept,omitempty"` // path of the found file
}

type modelJSON struct {
	Kind        string  `json:"kind"`
	SlopeCS     float64 `json:"slope_c_per_s"`
	SlopeHalf   float64 `json:"slope_half_c_per_s,omitempty"`
	RiseC       float64 `json:"rise_c,omitempty"`
	RiseHalfC   float64 `json:"rise_half_c,omitempty"`
	TimeS       float64 `json:"time_constant_s,omitempty"`
	TimeHalfS   float64 `json:"time_constant_half_s,omitempty"`
	SecondS     float64 `json:"second_s,omitempty"`
	SecondHalfS float64 `json:"second_half_s,omitempty"`
	DeadS       float64 `json:"dead_time_s"`
	DeadHalfS   float64 `json:"dead_time_half_s,omitempty"`
}

// choiceJSON is one set of gains; what has no end or was not reckoned is absent.
type choiceJSON struct {
	Rule        string   `json:"rule,omitempty"`
	KpPerC      float64  `json:"kp_per_c,omitempty"`
	TiS         float64  `json:"ti_s,omitempty"`
	TdS         float64  `json:"td_s,omitempty"`
	Weight      *float64 `json:"setpoint_weight,omitempty"`
	Stable      bool     `json:"stable"`
	Ms          float64  `json:"sensitivity_peak,omitempty"`
	GainMargin  *float64 `json:"gain_margin,omitempty"`
	PhaseDeg    *float64 `json:"phase_margin_deg,omitempty"`
	DelayS      *float64 `json:"delay_margin_s,omitempty"`
	WanderC     float64  `json:"wander_c,omitempty"`
	ColdOverC   *float64 `json:"heat_up_over_c,omitempty"`
	ColdSettleS *float64 `json:"heat_up_settle_s,omitempty"`
	DoorOverC   *float64 `json:"door_over_c,omitempty"`
	DoorSettleS *float64 `json:"door_settle_s,omitempty"`
	Reason      string   `json:"reason,omitempty"`
	Warning     string   `json:"warning,omitempty"`
}

func (c concluded) json(all bool) tuneJSON {
	v, m := c.found, c.found.Model
	j := tuneJSON{Schema: 1, Simulated: c.info.Simulated, Run: c.info.Run, Oven: c.info.Shop.Oven,
		Test: v.Test, HoldPM: c.ev.HoldPM, HoldC: c.ev.HoldC, NoiseC: v.Sigma, MisfitC: v.Misfit,
		RawReadings: c.ev.Raw, Model: modelJSON{Kind: m.Kind.String(), SlopeCS: m.Slope(),
			SlopeHalf: m.Half.Slope, RiseC: m.K, RiseHalfC: m.Half.K, TimeS: m.T,
			TimeHalfS: m.Half.T, SecondS: m.T2, SecondHalfS: m.Half.T2, DeadS: m.L,
			DeadHalfS: m.Half.L},
		Recommended: choiceOf(v.Best.Report, v.Best.Reason),
		Bolder:      choiceOf(v.Bolder.Report, v.Bolder.Reason),
		Calmer:      choiceOf(v.Calmer.Report, v.Calmer.Reason)}
	if all {
		for _, r := range v.Table() {
			j.Rules = append(j.Rules, choiceOf(r, ""))
		}
	}
	return j
}

func choiceOf(r tune.Report, reason string) choiceJSON {
	if !r.OK {
		return choiceJSON{Rule: r.Name, Warning: oneLine(r.Why)}
	}
	some := func(x float64, is bool) *float64 {
		if !is || math.IsInf(x, 0) || math.IsNaN(x) {
			return nil
		}
		return &x
	}
	c := choiceJSON{Rule: r.Name, KpPerC: r.Gains.K, TdS: r.Gains.Td, Weight: &r.Gains.B,
		Stable: r.Margins.Stable, Ms: r.Margins.Ms, WanderC: r.Wander, Reason: reason,
		Warning: r.Warning}
	if !math.IsInf(r.Gains.Ti, 0) {
		c.TiS = r.Gains.Ti
	}
	c.GainMargin = some(r.Margins.GM, r.Margins.Stable)
	c.PhaseDeg = some(r.Margins.PM, r.Margins.Stable)
	c.DelayS = some(r.Margins.Delay, r.Margins.Stable)
	cold, door := r.Prediction.Cold, r.Prediction.Door
	c.ColdOverC, c.DoorOverC = some(cold.Over, r.Predicted), some(door.Over, r.Predicted)
	c.ColdSettleS = some(cold.Settle, r.Predicted && cold.Settled)
	c.DoorSettleS = some(door.Settle, r.Predicted && door.Settled)
	return c
}
