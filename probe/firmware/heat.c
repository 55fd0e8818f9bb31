#include "heat.h"

void heat_half(struct heat *h, uint16_t cycles, uint16_t per_mille, uint8_t enabled)
{
	if (!h->second) {
		uint32_t due = (uint32_t)per_mille * cycles + h->carry; // thousandths, in this window
		if (h->at >= cycles) {
			uint32_t given = 1000ul * h->used;
			uint32_t left = due > given ? due - given : 0;
			h->carry = (uint16_t)(left > 999 ? 999 : left);
			h->at = h->used = 0;
			due = (uint32_t)per_mille * cycles + h->carry;
		}
		if (per_mille == 0)
			h->carry = 0;
		h->on = enabled && per_mille > 0 && 1000ul * (h->used + 1ul) <= due;
		h->at++;
		if (h->on)
			h->used++;
	}
	h->second = !h->second;
	if (per_mille == 0 || !enabled)
		h->on = 0;
}
