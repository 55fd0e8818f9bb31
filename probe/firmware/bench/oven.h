// The oven behind the simulated board: the arithmetic of probe/plant, whose comments say where
// the model and each figure come from. The trajectories in testdata/plant hold for both.
#ifndef OVEN_H
#define OVEN_H

enum place { ELEMENT, AIR, WALL, CASE, BLADE, PROBE, PLACES };

struct oven_params {
	double heater_w, room;
	double element_heat, element_area, element_emissivity, element_air;
	double air_heat, leak;
	double wall_heat, wall_area, wall_air;
	double gap, gap_area, gap_emissivity;
	double case_heat, case_area, case_air, case_emissivity;
	double probe_lag, probe_air_share, delay;
	double door_exchange, door_area, door_emissivity;
	double blade_heat, blade_area, blade_air, blade_emissivity, blade_element_share;
};

#define OVEN_RING 64 // of the air's past: delays up to 15 s

struct oven {
	struct oven_params p;
	double x[PLACES]; // degC
	int loaded;       // a blade is in
	int door;         // it is open
	double past[OVEN_RING], felt;
	int size, at;
};

// oven_params gives the reference oven 'a' or 'b'.
struct oven_params oven_params(char name);

// oven_begin sets the oven to the temperatures x, its door closed and a blade in it.
void oven_begin(struct oven *o, struct oven_params p, const double x[PLACES]);

// oven_step advances it by 0.25 s with the heater taking so many watts.
void oven_step(struct oven *o, double watts);

#endif
