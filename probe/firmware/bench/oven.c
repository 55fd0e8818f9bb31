#include "oven.h"

#include <math.h>
#include <string.h>

#define STEP 0.25
#define STEFAN 5.670374e-8

struct oven_params oven_params(char name)
{
	struct oven_params p = {
	        .heater_w = 1400, .room = 22,
	        .element_heat = 125, .element_area = 0.023, .element_emissivity = 0.85, .element_air = 15,
	        .air_heat = 10, .leak = 0.30,
	        .wall_heat = 1000, .wall_area = 0.30, .wall_air = 8,
	        .gap = 2.2, .gap_area = 0.30, .gap_emissivity = 0.15,
	        .case_heat = 850, .case_area = 0.45, .case_air = 6, .case_emissivity = 0.6,
	        .probe_lag = 20, .probe_air_share = 0.75, .delay = 5,
	        .door_exchange = 9, .door_area = 0.06, .door_emissivity = 0.8,
	        .blade_heat = 0.314 * 500, .blade_area = 0.0223, .blade_air = 8,
	        .blade_emissivity = 0.6, .blade_element_share = 0.01,
	};
	if (name == 'b') {
		p.wall_heat = 2500;
		p.gap = 1.0;
		p.probe_lag = 45;
		p.delay = 8;
	}
	return p;
}

void oven_begin(struct oven *o, struct oven_params p, const double x[PLACES])
{
	memset(o, 0, sizeof *o);
	o->p = p;
	memcpy(o->x, x, sizeof o->x);
	o->loaded = 1;
	o->felt = x[AIR];
	o->size = (int)rint(p.delay / STEP) + 1;
	for (int i = 0; i < o->size; i++)
		o->past[i] = x[AIR];
}

static double fourth(double c)
{
	double k = c + 273.15;
	return k * k * k * k;
}

// slopes gives how fast each temperature changes, K/s.
static void slopes(const struct oven *o, const double x[PLACES], double watts, double s[PLACES])
{
	const struct oven_params *p = &o->p;
	double element4 = fourth(x[ELEMENT]), wall4 = fourth(x[WALL]), case4 = fourth(x[CASE]);
	double room4 = fourth(p->room);
	double radiated = p->element_emissivity * STEFAN * p->element_area * (element4 - wall4);
	double element_air = p->element_air * p->element_area * (x[ELEMENT] - x[AIR]);
	double air_wall = p->wall_air * p->wall_area * (x[AIR] - x[WALL]);
	double gap = p->gap * (x[WALL] - x[CASE]) +
	             p->gap_emissivity * STEFAN * p->gap_area * (wall4 - case4);
	double case_room = p->case_air * p->case_area * (x[CASE] - p->room) +
	                   p->case_emissivity * STEFAN * p->case_area * (case4 - room4);
	double leak = p->leak * (x[AIR] - p->room), opening = 0;
	if (o->door) {
		leak += p->door_exchange * (x[AIR] - p->room);
		opening = p->door_emissivity * STEFAN * p->door_area * (wall4 - room4);
	}
	double element_blade = 0, air_blade = 0, wall_blade = 0;
	s[BLADE] = 0;
	if (o->loaded) {
		element_blade = p->blade_element_share * radiated;
		air_blade = p->blade_air * p->blade_area * (x[AIR] - x[BLADE]);
		wall_blade = p->blade_emissivity * STEFAN * p->blade_area * (wall4 - fourth(x[BLADE]));
		s[BLADE] = (air_blade + wall_blade + element_blade) / p->blade_heat;
	}
	s[ELEMENT] = (watts - radiated - element_air) / p->element_heat;
	s[AIR] = (element_air - air_wall - air_blade - leak) / p->air_heat;
	s[WALL] = (radiated - element_blade + air_wall - wall_blade - gap - opening) / p->wall_heat;
	s[CASE] = (gap - case_room) / p->case_heat;
	double follows = p->probe_air_share * o->felt + (1 - p->probe_air_share) * x[WALL];
	s[PROBE] = (follows - x[PROBE]) / p->probe_lag;
}

void oven_step(struct oven *o, double watts)
{
	double s1[PLACES], s2[PLACES], ahead[PLACES];
	o->past[o->at] = o->x[AIR];
	o->at = (o->at + 1) % o->size;
	o->felt = o->past[o->at];
	slopes(o, o->x, watts, s1);
	for (int i = 0; i < PLACES; i++)
		ahead[i] = o->x[i] + STEP * s1[i];
	slopes(o, ahead, watts, s2);
	for (int i = 0; i < PLACES; i++)
		o->x[i] += STEP / 2 * (s1[i] + s2[i]);
}
