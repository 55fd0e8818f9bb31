package plant

import "strawline/probe/temp"

// Params describes an oven. Each figure has its unit in the key that an oven file uses; A and
// B give the two reference ovens.
type Params struct {
	// HeaterW is what the heater takes at full duty, W. A: 1400, a small oven on one socket.
	HeaterW float64 `toml:"heater_w"`
	// Room is the temperature of the room, °C. A: 22.
	Room temp.C `toml:"room_c"`

	// ElementHeat is the heat capacity of the heater rods, J/K. A: 125, four sheathed rods
	// 6.5 mm by 0.28 m, each 42 g at 0.75 J/(g K).
	ElementHeat float64 `toml:"element_heat_j_per_k"`
	// ElementArea is the surface of the rods, m². A: 0.023.
	ElementArea float64 `toml:"element_area_m2"`
	// ElementEmissivity is that of the rods' sheath, above 0 to 1. A: 0.85, oxidised.
	ElementEmissivity float64 `toml:"element_emissivity"`
	// ElementAir is the convection from rods to air, W/(m² K). A: 15, natural, off a hot rod.
	ElementAir float64 `toml:"element_air_w_per_m2_k"`

	// AirHeat is the heat capacity of the air inside, J/K. A: 10, 12 L at 200 °C (0.75 kg/m³ by
	// 1005 J/(kg K)) rounded up.
	AirHeat float64 `toml:"air_heat_j_per_k"`
	// Leak is the heat that air carries out of the closed door's gaps, W/K. A: 0.30.
	Leak float64 `toml:"leak_w_per_k"`

	// WallHeat is the heat capacity of the inner wall with rack and tray, J/K. A: 1000, 1.2 kg
	// of 0.5 mm sheet and 0.9 kg of rack at 490 J/(kg K). B: 2500, a heavier liner.
	WallHeat float64 `toml:"wall_heat_j_per_k"`
	// WallArea is the surface of the inner wall, m². A: 0.30.
	WallArea float64 `toml:"wall_area_m2"`
	// WallAir is the convection from air to wall, W/(m² K). A: 8, natural.
	WallAir float64 `toml:"wall_air_w_per_m2_k"`

	// Gap is conduction and convection from the inner wall to the case, W/K. A: 2.2. B: 1.0,
	// better lagged.
	Gap float64 `toml:"gap_w_per_k"`
	// GapArea is the surface that radiates across the gap, m². A: 0.30.
	GapArea float64 `toml:"gap_area_m2"`
	// GapEmissivity is the effective emissivity across the gap, above 0 to 1. A: 0.15, bright
	// sheets.
	GapEmissivity float64 `toml:"gap_emissivity"`

	// CaseHeat is the heat capacity of the outer case, J/K. A: 850.
	CaseHeat float64 `toml:"case_heat_j_per_k"`
	// CaseArea is the outer surface, m². A: 0.45.
	CaseArea float64 `toml:"case_area_m2"`
	// CaseAir is the convection from the case to the room, W/(m² K). A: 6, natural.
	CaseAir float64 `toml:"case_air_w_per_m2_k"`
	// CaseEmissivity is that of the case's outside, above 0 to 1. A: 0.6, painted sheet.
	CaseEmissivity float64 `toml:"case_emissivity"`

	// ProbeLag is the time constant of the probe, s. A: 20, a bare bead of about 1 mm in slow
	// air. B: 45, a sheathed one.
	ProbeLag float64 `toml:"probe_lag_s"`
	// ProbeAirShare is the air's share in what the probe follows, above 0 to 1; the rest is the
	// wall's, by radiation. A: 0.75.
	ProbeAirShare float64 `toml:"probe_air_share"`
	// Delay is the time that heated air takes to the probe, s. A: 5. B: 8.
	Delay float64 `toml:"delay_s"`

	// DoorExchange is the heat that air carries out of the open door, W/K. A: 9, a small front
	// opening by buoyancy.
	DoorExchange float64 `toml:"door_exchange_w_per_k"`
	// DoorArea is the opening that radiates while the door is open, m². A: 0.06.
	DoorArea float64 `toml:"door_area_m2"`
	// DoorEmissivity is that of the opening, above 0 to 1. A: 0.8.
	DoorEmissivity float64 `toml:"door_emissivity"`

	// Blade is what lies in the oven at the start.
	Blade Blade `toml:"blade"`
}

// Blade is a piece of steel in the oven.
type Blade struct {
	// Mass in kg. A: 0.314, 250 by 40 by 4 mm.
	Mass float64 `toml:"mass_kg"`
	// SpecificHeat in J/(kg K). A: 500, steel at tempering heat.
	SpecificHeat float64 `toml:"specific_heat_j_per_kg_k"`
	// Area is its surface, m². A: 0.0223, both sides and the edges.
	Area float64 `toml:"area_m2"`
	// Air is the convection from air to blade, W/(m² K). A: 8, natural.
	Air float64 `toml:"air_w_per_m2_k"`
	// Emissivity is that of its surface, above 0 to 1. A: 0.6, ground and oxidising.
	Emissivity float64 `toml:"emissivity"`
	// ElementShare is the share of the element's radiation that reaches it, above 0 to 1. A:
	// 0.01, shielded by the tray.
	ElementShare float64 `toml:"element_share"`
}

// heat is the blade's heat capacity, J/K.
func (b Blade) heat() float64 { return b.Mass * b.SpecificHeat }

// A is the first reference oven: a small electric oven of 1400 W and 12 L with a blade of
// 250 by 40 by 4 mm in it.
func A() Params {
	return Params{
		HeaterW: 1400, Room: 22,
		ElementHeat: 125, ElementArea: 0.023, ElementEmissivity: 0.85, ElementAir: 15,
		AirHeat: 10, Leak: 0.30,
		WallHeat: 1000, WallArea: 0.30, WallAir: 8,
		Gap: 2.2, GapArea: 0.30, GapEmissivity: 0.15,
		CaseHeat: 850, CaseArea: 0.45, CaseAir: 6, CaseEmissivity: 0.6,
		ProbeLag: 20, ProbeAirShare: 0.75, Delay: 5,
		DoorExchange: 9, DoorArea: 0.06, DoorEmissivity: 0.8,
		Blade: Blade{
			Mass: 0.314, SpecificHeat: 500, Area: 0.0223, Air: 8, Emissivity: 0.6,
			ElementShare: 0.01,
		},
	}
}

// B is the second reference oven: A with a heavier, better lagged liner and a slower probe
// further from the heat.
func B() Params {
	p := A()
	p.WallHeat = 2500
	p.Gap = 1.0
	p.ProbeLag = 45
	p.Delay = 8
	return p
}
