// The thermocouples and their chips on the simulated bus.
#ifndef THERMO_H
#define THERMO_H

#include <stdint.h>

// What can be wrong with channel 1, or with the line on which every chip talks.
enum fault { FINE, OPEN, GROUND, SUPPLY, STUCK0, STUCK1, WILD };

struct thermo {
	int chip; // 31855 or 6675
	enum fault fault;
	double cold;     // degC, of the cold junction
	double noise;    // uniform, degC either way
	uint64_t random; // state, not 0
};

// thermo_word converts once: a word of thermo_bytes bytes, first bit first.
uint32_t thermo_word(struct thermo *t, int channel, double hot);
int thermo_bytes(const struct thermo *t);

// thermo_emf gives the emf of type K at t degC, mV.
double thermo_emf(double t);

// thermo_random gives the next number from 0 to below 1.
double thermo_random(struct thermo *t);

#endif
