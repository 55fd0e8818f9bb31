#include "rules.h"

#include <string.h>

#define FAULTS (LATCH_OPEN | LATCH_GROUND | LATCH_SUPPLY | LATCH_NO_CHIP)

uint16_t rules_start_of(uint16_t boot)
{
	return (uint16_t)((uint32_t)boot * 40503u);
}

void rules_start(struct rules *r, uint16_t boot, const struct stored *kept, uint8_t channels,
                 uint16_t ceiling_q)
{
	memset(r, 0, sizeof *r);
	r->channels = channels;
	r->ceiling_q = ceiling_q;
	r->last = rules_start_of(boot);
	if (kept && line_stored(kept) && kept->guard <= channels && kept->limit_q <= ceiling_q) {
		r->stored = *kept;
		r->readable = 1;
		return;
	}
	// These only fill the lines and pace the clock: the latch holds the heater off.
	r->stored = (struct stored){1, ceiling_q, 2, 50};
	r->latches = LATCH_CONFIG;
}

static uint8_t good(const struct rules *r)
{
	return r->seen && r->bad == 0;
}

uint8_t rules_heat(const struct rules *r)
{
	return r->latches == 0 && good(r);
}

void rules_refuse(struct rules *r)
{
	if (r->refused < 255)
		r->refused++;
}

static void latch(struct rules *r, uint8_t why)
{
	r->latches |= why;
	r->per_mille = 0;
}

// accept takes a number that is 1 to 8 ahead, counted round the end of 16 bits.
static uint8_t accept(struct rules *r, uint16_t seq)
{
	uint16_t ahead = (uint16_t)(seq - r->last);
	if (ahead < 1 || ahead > 8)
		return 0;
	r->last = seq;
	return 1;
}

static enum outcome duty(struct rules *r, uint32_t now, const struct command *c)
{
	uint8_t fresh = accept(r, c->seq);
	if (!fresh && c->value != 0)
		return OUTCOME_REFUSED;
	r->per_mille = r->latches ? 0 : c->value;
	if (fresh)
		r->fed = now;
	if (c->value > 0)
		r->open = 0;
	return OUTCOME_TAKEN;
}

static uint8_t propose(struct rules *r, uint32_t now, const struct command *c)
{
	r->open = 0;
	if (r->per_mille > 0)
		return 'H';
	if (c->stored.guard > r->channels || c->stored.limit_q > r->ceiling_q)
		return 'R';
	r->open = 1;
	r->open_at = now;
	r->open_check = c->check;
	r->proposed = c->stored;
	return 'Y';
}

static uint8_t commit(struct rules *r, uint32_t now, const struct command *c)
{
	uint8_t open = r->open;
	r->open = 0;
	if (r->per_mille > 0)
		return 'H';
	if (!open || c->value != r->open_check || now - r->open_at > RULES_COMMIT_MS)
		return 'C';
	return 'Y';
}

uint8_t rules_kept(struct rules *r, uint8_t ok)
{
	if (!ok) {
		r->readable = 0;
		latch(r, LATCH_CONFIG);
		return 'C';
	}
	if (r->stored.guard != r->proposed.guard)
		r->bad = r->seen = 0; // of another channel
	r->stored = r->proposed;
	r->readable = 1;
	r->latches &= (uint8_t)~LATCH_CONFIG;
	return 'Y';
}

static uint8_t reset(struct rules *r)
{
	if (r->per_mille > 0)
		return 'H';
	uint8_t stands = 0;
	if (!good(r))
		stands |= FAULTS | LATCH_LIMIT;
	if (r->guard_q > (int16_t)r->stored.limit_q)
		stands |= LATCH_LIMIT;
	if (!r->readable)
		stands |= LATCH_CONFIG;
	r->latches &= stands;
	return r->latches ? 'L' : 'Y';
}

enum outcome rules_obey(struct rules *r, uint32_t now, const struct command *c, uint8_t *result)
{
	if (c->letter == 'D')
		return duty(r, now, c);
	*result = 'Y';
	if (c->letter == 'Q') {
		r->last = c->seq;
		return OUTCOME_INFO;
	}
	if (!accept(r, c->seq))
		return OUTCOME_REFUSED;
	switch (c->letter) {
	case 'P':
		*result = propose(r, now, c);
		break;
	case 'C':
		*result = commit(r, now, c);
		if (*result == 'Y')
			return OUTCOME_STORE;
		break;
	default:
		*result = reset(r);
	}
	return OUTCOME_ANSWER;
}

void rules_judge(struct rules *r, uint8_t why, int16_t q)
{
	if (why) {
		if (r->bad < RULES_BAD)
			r->bad++;
		if (r->bad == RULES_BAD)
			latch(r, why);
		return;
	}
	r->bad = 0;
	r->seen = 1;
	r->guard_q = q;
	if (q > (int16_t)r->stored.limit_q)
		latch(r, LATCH_LIMIT);
}

void rules_time(struct rules *r, uint32_t now)
{
	if (r->per_mille > 0 && now - r->fed >= RULES_SILENT_MS)
		latch(r, LATCH_SILENT);
	// Forgotten here, so that it does not look young again when the milliseconds wrap.
	if (r->open && now - r->open_at > RULES_COMMIT_MS)
		r->open = 0;
}
