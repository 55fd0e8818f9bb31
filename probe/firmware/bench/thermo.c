#include "thermo.h"

#include <math.h>

#include "emf.h"

double thermo_emf(double t)
{
	int range = t >= emf_ranges[1].from;
	double e = 0;
	for (int i = emf_ranges[range].count; i--;)
		e = e * t + emf_ranges[range].c[i];
	if (range)
		e += emf_a0 * exp(emf_a1 * (t - emf_a2) * (t - emf_a2));
	return e;
}

// Xorshift with a multiplication (64 bits, shifts 12, 25 and 27), chosen for being short.
static uint64_t next(struct thermo *t)
{
	t->random ^= t->random >> 12;
	t->random ^= t->random << 25;
	t->random ^= t->random >> 27;
	return t->random * 2685821657736338717u;
}

double thermo_random(struct thermo *t)
{
	return (double)(next(t) >> 11) / 9007199254740992.0;
}

int thermo_bytes(const struct thermo *t)
{
	return t->chip == 6675 ? 2 : 4;
}

// quarters counts a hot junction on a chip's straight line through its cold one.
static int32_t quarters(double hot, double cold, double slope, int32_t low, int32_t high)
{
	double line = cold + 1000 * (thermo_emf(hot) - thermo_emf(cold)) / slope;
	double q = rint(4 * line);
	return q < low ? low : q > high ? high : (int32_t)q;
}

uint32_t thermo_word(struct thermo *t, int channel, double hot)
{
	enum fault f = channel == 1 || t->fault == STUCK0 || t->fault == STUCK1 ? t->fault : FINE;
	hot += t->noise * (2 * thermo_random(t) - 1); // drawn whatever the fault, so that it moves nothing
	if (f == STUCK0)
		return 0;
	if (f == STUCK1)
		return t->chip == 6675 ? 0xFFFF : 0xFFFFFFFF;
	if (f == WILD)
		return (uint32_t)(next(t) >> (t->chip == 6675 ? 48 : 32));
	// Slopes in uV/degC: MAX31855 datasheet 19-5793, table 1; MAX6675 datasheet 19-2235.
	if (t->chip == 6675) {
		if (f != FINE)
			return 4; // it tells an open one only; a short reads as one here
		return (uint32_t)quarters(hot, t->cold, 41, 0, 4095) << 3;
	}
	double cold = rint(16 * t->cold);
	uint32_t low = ((uint32_t)(int32_t)cold & 0xFFF) << 4;
	if (f != FINE)
		return 1u << 16 | low | (f == OPEN ? 1 : f == GROUND ? 2 : 4);
	return (uint32_t)quarters(hot, cold / 16, 41.276, -8192, 8191) << 18 | low;
}
