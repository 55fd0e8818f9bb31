// What the board does with lines, conversions and time: the number window, the dead man, the
// latches and the two-step change of settings. It is arithmetic: time comes in as milliseconds
// since the start, which may wrap. The rules stand in probe/board/doc.go.
#ifndef RULES_H
#define RULES_H

#include <stdint.h>

#include "line.h"

enum latch {
	LATCH_OPEN = 1,
	LATCH_GROUND = 2,
	LATCH_SUPPLY = 4,
	LATCH_NO_CHIP = 8,
	LATCH_LIMIT = 16,
	LATCH_SILENT = 32,
	LATCH_CONFIG = 64
};

#define RULES_BAD 4           // bad conversions in a row that latch
#define RULES_SILENT_MS 3000  // the dead man
#define RULES_COMMIT_MS 10000 // from a proposal to its commit

struct rules {
	struct stored stored; // in force: the usual ones where the kept ones are unreadable
	uint8_t channels;
	uint16_t ceiling_q;
	uint8_t readable; // the kept settings are

	uint16_t last; // accepted number
	uint16_t per_mille;
	uint32_t fed; // when a duty last had a new number
	uint8_t latches;
	uint8_t refused; // since the last reading

	uint8_t bad;     // conversions of the guard channel in a row
	uint8_t seen;    // it had a good one
	int16_t guard_q; // the last good one

	uint8_t open; // a proposal stands
	uint32_t open_at;
	uint16_t open_check;
	struct stored proposed;
};

// What became of a line.
enum outcome {
	OUTCOME_REFUSED,
	OUTCOME_TAKEN,  // without an answer
	OUTCOME_ANSWER, // by an ack with *result
	OUTCOME_INFO,   // likewise, and an Info line after it
	OUTCOME_STORE   // r->proposed is to be kept, then rules_kept gives the ack's result
};

// rules_start begins a start. Without kept settings, kept is 0.
void rules_start(struct rules *r, uint16_t boot, const struct stored *kept, uint8_t channels,
                 uint16_t ceiling_q);

// rules_obey does what a good line asks at now; *result is the letter of its answer.
enum outcome rules_obey(struct rules *r, uint32_t now, const struct command *c, uint8_t *result);

// rules_kept ends a commit: ok says that the settings were read back as they were proposed.
uint8_t rules_kept(struct rules *r, uint8_t ok);

// rules_refuse counts a bad or refused line.
void rules_refuse(struct rules *r);

// rules_judge takes in a conversion of the guard channel: why is 0 or the latch of its fault.
void rules_judge(struct rules *r, uint8_t why, int16_t q);

// rules_time looks at the dead man and at the age of a proposal.
void rules_time(struct rules *r, uint32_t now);

// rules_heat tells whether the output may be on at all.
uint8_t rules_heat(const struct rules *r);

// rules_start_of gives the last accepted number that the start numbered boot sets.
uint16_t rules_start_of(uint16_t boot);

#endif
