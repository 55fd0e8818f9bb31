// Duty as whole mains cycles: spread over a window of 2 to 60 s, with what rounding leaves over
// carried into the next window. It is called once each mains half cycle.
#ifndef HEAT_H
#define HEAT_H

#include <stdint.h>

// All zeros is a fresh window.
struct heat {
	uint16_t at, used; // cycles of this window begun, and those that were on
	uint16_t carry;    // thousandths of a cycle, 0 to 999
	uint8_t second;    // the next half cycle is a cycle's second one
	uint8_t on;        // the output in the present cycle
};

// heat_half begins a half cycle in a window of so many cycles (100 to 3600) at per_mille (0 to
// 1000). A new duty counts at once, for the whole of the window under way. Heat that could not
// be given because enabled was 0 is not made up for in a later window. Duty 0 and enabled 0
// switch off within a cycle too.
void heat_half(struct heat *h, uint16_t cycles, uint16_t per_mille, uint8_t enabled);

#endif
