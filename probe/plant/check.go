package plant

import (
	"fmt"
	"math"
)

// field is one figure of an oven with its key and the range that it may have: above low (or
// from it, if closed) to high. The ranges are wide for an oven that fits a bench; they keep out
// slips of the decimal point, and a delay so long that its ring would not fit in memory.
type field struct {
	key       string
	value     float64
	low, high float64
	closed    bool
	unit      string
}

// allowed says what the field may be, for a complaint.
func (f field) allowed() string {
	unit := f.unit
	if unit != "" {
		unit = " " + unit
	}
	if f.closed {
		return fmt.Sprintf("from %g to %g%s", f.low, f.high, unit)
	}
	return fmt.Sprintf("above %g up to %g%s", f.low, f.high, unit)
}

// check gives what is wrong with the value, nil if nothing.
func (f field) check() error {
	v := f.value
	if v > f.low && v <= f.high || f.closed && v == f.low {
		return nil
	}
	return &fault{key: f.key, text: fmt.Sprintf("%s is %g; allowed is a number %s", f.key, v,
		f.allowed())}
}

// fault is a complaint about the figure of one key.
type fault struct{ key, text string }

func (f *fault) Error() string { return f.text }

func (p Params) fields() []field {
	share := func(key string, v float64) field { return field{key: key, value: v, high: 1} }
	over := func(key string, v, high float64, unit string) field {
		return field{key: key, value: v, high: high, unit: unit}
	}
	list := []field{
		over("heater_w", p.HeaterW, 50e3, "W"),
		{key: "room_c", value: float64(p.Room), low: -40, high: 60, closed: true, unit: "°C"},
		over("element_heat_j_per_k", p.ElementHeat, 1e6, "J/K"),
		over("element_area_m2", p.ElementArea, 10, "m²"),
		share("element_emissivity", p.ElementEmissivity),
		over("element_air_w_per_m2_k", p.ElementAir, 1000, "W/(m² K)"),
		over("air_heat_j_per_k", p.AirHeat, 1e5, "J/K"),
		over("leak_w_per_k", p.Leak, 1000, "W/K"),
		over("wall_heat_j_per_k", p.WallHeat, 1e7, "J/K"),
		over("wall_area_m2", p.WallArea, 100, "m²"),
		over("wall_air_w_per_m2_k", p.WallAir, 1000, "W/(m² K)"),
		over("gap_w_per_k", p.Gap, 1000, "W/K"),
		over("gap_area_m2", p.GapArea, 100, "m²"),
		share("gap_emissivity", p.GapEmissivity),
		over("case_heat_j_per_k", p.CaseHeat, 1e7, "J/K"),
		over("case_area_m2", p.CaseArea, 100, "m²"),
		over("case_air_w_per_m2_k", p.CaseAir, 1000, "W/(m² K)"),
		share("case_emissivity", p.CaseEmissivity),
		over("probe_lag_s", p.ProbeLag, 3600, "s"),
		share("probe_air_share", p.ProbeAirShare),
		over("delay_s", p.Delay, 600, "s"),
		over("door_exchange_w_per_k", p.DoorExchange, 1000, "W/K"),
		over("door_area_m2", p.DoorArea, 10, "m²"),
		share("door_emissivity", p.DoorEmissivity),
	}
	for _, f := range p.Blade.fields() {
		f.key = "blade." + f.key
		list = append(list, f)
	}
	return list
}

func (b Blade) fields() []field {
	return []field{
		{key: "mass_kg", value: b.Mass, high: 100, unit: "kg"},
		{key: "specific_heat_j_per_kg_k", value: b.SpecificHeat, high: 10e3, unit: "J/(kg K)"},
		{key: "area_m2", value: b.Area, high: 10, unit: "m²"},
		{key: "air_w_per_m2_k", value: b.Air, high: 1000, unit: "W/(m² K)"},
		{key: "emissivity", value: b.Emissivity, high: 1},
		{key: "element_share", value: b.ElementShare, high: 1},
	}
}

// Check gives what is wrong with the figures, nil if nothing: the first one that is not a number
// in its range, or a body that changes too fast for the step of 0.25 s.
func (p Params) Check() error {
	for _, f := range p.fields() {
		if err := f.check(); err != nil {
			return err
		}
	}
	return p.checkPace()
}

// Check gives what is wrong with the blade's figures, nil if nothing: the first one out of its
// range, or a blade so thin that the step of 0.25 s is too long for it.
func (b Blade) Check() error {
	for _, f := range b.fields() {
		if err := f.check(); err != nil {
			return err
		}
	}
	return b.pace(hottest).check("")
}

// pace is how strongly one body is tied to its neighbours.
type pace struct {
	key  string
	heat float64 // J/K
	ties float64 // W/K
}

// hottest is the temperature up to which the step must stay steady at least, °C, well above
// what a sheathed element stands.
const hottest = 1000

// radiant gives the tie by radiation at so many °C, W/K: the slope of the fourth-power law.
func radiant(hot, emissivity, area float64) float64 {
	return 4 * emissivity * stefan * area * math.Pow(hot+toKelvin, 3)
}

func (b Blade) pace(hot float64) pace {
	return pace{"mass_kg", b.heat(), b.Air*b.Area + radiant(hot, b.Emissivity, b.Area)}
}

// shortest is the time constant that a body may have, s. Heun's rule diverges where a rate times
// the step passes 2, and no rate of the whole is more than twice that of its fastest body, so
// one step would just do; this is a little more.
const shortest = 0.3

// check refuses a body that the step is too long for.
func (t pace) check(prefix string) error {
	if t.heat/t.ties >= shortest {
		return nil
	}
	return &fault{key: prefix + t.key, text: fmt.Sprintf("%s%s makes a body that follows its "+
		"surroundings in %.2g s; allowed is %g s or more, for the model's step of %g s", prefix,
		t.key, t.heat/t.ties, shortest, stepS)}
}

func (p Params) checkPace() error {
	top, err := Steady(p, 1)
	if err != nil {
		return &fault{key: "heater_w", text: fmt.Sprintf("heater_w: %v", err)}
	}
	hot := max(hottest, float64(top.Element()))
	b := p.Blade
	elementAir, airWall := p.ElementAir*p.ElementArea, p.WallAir*p.WallArea
	elementWall := radiant(hot, p.ElementEmissivity, p.ElementArea)
	gap := p.Gap + radiant(hot, p.GapEmissivity, p.GapArea)
	for _, t := range []pace{
		{"element_heat_j_per_k", p.ElementHeat, elementAir + elementWall},
		{"air_heat_j_per_k", p.AirHeat,
			elementAir + airWall + b.Air*b.Area + p.Leak + p.DoorExchange},
		{"wall_heat_j_per_k", p.WallHeat, elementWall + airWall + gap +
			radiant(hot, b.Emissivity, b.Area) + radiant(hot, p.DoorEmissivity, p.DoorArea)},
		{"case_heat_j_per_k", p.CaseHeat,
			gap + p.CaseAir*p.CaseArea + radiant(hot, p.CaseEmissivity, p.CaseArea)},
		{"probe_lag_s", p.ProbeLag, 1},
	} {
		if err := t.check(""); err != nil {
			return err
		}
	}
	return b.pace(hot).check("blade.")
}
