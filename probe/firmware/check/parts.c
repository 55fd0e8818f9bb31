// Tests the rest of the portable firmware on the host: rules, heat, store and chip.
#include <stdio.h>
#include <string.h>

#include "../chip.h"
#include "../heat.h"
#include "../rules.h"
#include "../store.h"

static int failures, held;

#define EXPECT(x) expect((x) ? 1 : 0, #x, __LINE__)

static void expect(int holds, const char *what, int line)
{
	held++;
	if (!holds) {
		printf("parts.c:%d: %s\n", line, what);
		failures++;
	}
}

void line_put(uint8_t byte) { (void)byte; }

// An EEPROM whose supply fails after so many writes; below 0 it never does.
static uint8_t memory[256];
static long writes;

uint8_t store_get(uint8_t at) { return memory[at]; }

void store_put(uint8_t at, uint8_t byte)
{
	if (writes == 0)
		return;
	writes--;
	memory[at] = byte;
}

static struct rules r;
static uint8_t result;

static enum outcome say(uint8_t letter, uint16_t seq, uint16_t value, uint32_t now)
{
	struct command c = {letter, seq, value, {1, 900, 10, 60}, 0x1234};
	result = 0;
	return rules_obey(&r, now, &c, &result);
}

// fresh starts the rules with number 0, and a good conversion.
static void fresh(void)
{
	struct stored s = {1, 1040, 2, 50};
	rules_start(&r, 0, &s, 2, 2000);
	EXPECT(!rules_heat(&r)); // before the first conversion
	rules_judge(&r, 0, 100);
	EXPECT(rules_heat(&r));
}

static void test_dead_man(void)
{
	const uint32_t starts[] = {0, 0xFFFFFFFF - 500, 0xFFFFFFFF - 3000};
	for (int i = 0; i < 3; i++) {
		uint32_t t = starts[i];
		fresh();
		rules_time(&r, t + 100000);
		EXPECT(r.latches == 0); // at duty 0 nothing latches
		say('D', 1, 300, t);
		rules_time(&r, t + 2999);
		EXPECT(r.latches == 0 && r.per_mille == 300);
		EXPECT(say('D', 1, 300, t + 2000) == OUTCOME_REFUSED); // a replay feeds nothing
		say('Q', 1, 0, t + 2500);                              // and no other line does
		rules_time(&r, t + 3000);
		EXPECT(r.latches == LATCH_SILENT && r.per_mille == 0 && !rules_heat(&r));
		EXPECT(say('D', 2, 300, t + 3100) == OUTCOME_TAKEN && r.last == 2 && r.per_mille == 0);
		EXPECT(say('X', 3, 0, t + 3200) == OUTCOME_ANSWER && result == 'Y' && rules_heat(&r));
		EXPECT(r.per_mille == 0);
		say('D', 4, 300, t + 3300);
		EXPECT(say('X', 5, 0, t + 3300) == OUTCOME_ANSWER && result == 'H');
		EXPECT(say('D', 900, 0, t + 3300) == OUTCOME_TAKEN && r.per_mille == 0 && r.last == 5);
	}
}

static void test_latches(void)
{
	const uint8_t why[] = {LATCH_OPEN, LATCH_GROUND, LATCH_SUPPLY, LATCH_NO_CHIP};
	for (int i = 0; i < 4; i++) {
		fresh();
		say('D', 1, 500, 0);
		for (int n = 1; n <= 3; n++) {
			rules_judge(&r, why[i], 0);
			EXPECT(!rules_heat(&r) && r.latches == 0 && r.per_mille == 500);
		}
		rules_judge(&r, 0, 100);
		EXPECT(rules_heat(&r)); // three in a row only
		for (int n = 1; n <= 4; n++)
			rules_judge(&r, why[i], 0);
		EXPECT(r.latches == why[i] && r.per_mille == 0);
		EXPECT(say('X', 2, 0, 0) == OUTCOME_ANSWER && result == 'L');
		rules_judge(&r, 0, 100);
		EXPECT(!rules_heat(&r) && r.latches == why[i]); // nothing but a reset clears it
		EXPECT(say('X', 3, 0, 0) == OUTCOME_ANSWER && result == 'Y' && r.latches == 0);
	}
	fresh();
	rules_judge(&r, 0, 1040);
	EXPECT(r.latches == 0);
	rules_judge(&r, 0, 1041);
	EXPECT(r.latches == LATCH_LIMIT);
	say('X', 1, 0, 0);
	EXPECT(result == 'L');
	rules_judge(&r, LATCH_OPEN, 0); // one bad conversion does not make the cause go
	say('X', 2, 0, 0);
	EXPECT(result == 'L' && r.latches == LATCH_LIMIT);
	rules_judge(&r, 0, 1040);
	say('X', 3, 0, 0);
	EXPECT(result == 'Y' && r.latches == 0);
	rules_judge(&r, 0, -8192);
	EXPECT(rules_heat(&r));
	for (int i = 0; i < 300; i++)
		rules_refuse(&r);
	EXPECT(r.refused == 255);
}

static void test_settings(void)
{
	fresh();
	EXPECT(say('C', 1, 0x1234, 0) == OUTCOME_ANSWER && result == 'C'); // nothing proposed
	EXPECT(say('P', 2, 0, 0) == OUTCOME_ANSWER && result == 'Y');
	EXPECT(say('C', 3, 0x1234, 10000) == OUTCOME_STORE);
	EXPECT(rules_kept(&r, 1) == 'Y' && r.stored.limit_q == 900 && r.stored.mains_hz == 60);
	EXPECT(say('C', 4, 0x1234, 10000) == OUTCOME_ANSWER && result == 'C'); // used up
	say('P', 5, 0, 0);
	EXPECT(say('C', 6, 0x1234, 10001) == OUTCOME_ANSWER && result == 'C'); // too late
	say('P', 7, 0, 0);
	rules_time(&r, 10001);
	EXPECT(say('C', 8, 0x1234, 5) == OUTCOME_ANSWER && result == 'C'); // the time wrapped
	say('P', 9, 0, 0);
	EXPECT(say('C', 10, 0x1235, 0) == OUTCOME_ANSWER && result == 'C');
	EXPECT(say('C', 11, 0x1234, 0) == OUTCOME_ANSWER && result == 'C'); // forgotten
	say('P', 12, 0, 0);
	say('D', 13, 1, 0);
	EXPECT(say('P', 14, 0, 0) == OUTCOME_ANSWER && result == 'H');
	EXPECT(say('C', 15, 0x1234, 0) == OUTCOME_ANSWER && result == 'H');
	say('D', 16, 0, 0);
	EXPECT(say('C', 17, 0x1234, 0) == OUTCOME_ANSWER && result == 'C'); // forgotten by the heat
	struct command c = {'P', 18, 0, {3, 900, 2, 50}, 0};
	EXPECT(rules_obey(&r, 0, &c, &result) == OUTCOME_ANSWER && result == 'R'); // no such channel
	c = (struct command){'P', 19, 0, {2, 2001, 2, 50}, 0};
	EXPECT(rules_obey(&r, 0, &c, &result) == OUTCOME_ANSWER && result == 'R'); // above the ceiling
	rules_judge(&r, LATCH_OPEN, 0);
	c = (struct command){'P', 20, 0, {2, 2000, 2, 50}, 7};
	EXPECT(rules_obey(&r, 0, &c, &result) == OUTCOME_ANSWER && result == 'Y');
	EXPECT(say('C', 21, 7, 0) == OUTCOME_STORE && rules_kept(&r, 1) == 'Y');
	EXPECT(!rules_heat(&r) && r.bad == 0); // another channel, and no conversion of it yet
	say('P', 22, 0, 0);
	EXPECT(say('C', 23, 0x1234, 0) == OUTCOME_STORE && rules_kept(&r, 0) == 'C');
	EXPECT(r.latches == LATCH_CONFIG && r.stored.guard == 2); // memory that did not keep
	rules_judge(&r, 0, 5);
	EXPECT(say('X', 24, 0, 0) == OUTCOME_ANSWER && result == 'L');

	const struct stored bad[] = {{3, 900, 2, 50}, {1, 2001, 2, 50}, {0, 900, 2, 50}, {1, 0, 2, 50},
	                             {1, 900, 1, 50}, {1, 900, 61, 50}, {1, 900, 2, 55}};
	for (int i = 0; i < 8; i++) {
		rules_start(&r, 7, i < 7 ? &bad[i] : NULL, 2, 2000);
		EXPECT(r.latches == LATCH_CONFIG && r.last == 21377);
		EXPECT(r.stored.guard == 1 && r.stored.limit_q == 2000);
	}
}

static void test_heat(void)
{
	const uint16_t cycles[] = {100, 120, 500, 3000, 3600};
	for (int n = 0; n < 5; n++) {
		for (uint16_t duty = 0; duty <= 1000; duty = (uint16_t)(duty + 37)) {
			struct heat h = {0};
			const uint32_t windows = 7, halves = 2ul * windows * cycles[n];
			uint32_t on = 0;
			for (uint32_t i = 0; i < halves; i++) {
				uint8_t before = h.on, second = h.second;
				heat_half(&h, cycles[n], duty, 1);
				on += h.on;
				if (second && h.on != before)
					EXPECT(!"a cycle is whole");
			}
			// Whole cycles, never more than the duty, and less than one cycle below it.
			uint32_t due = windows * cycles[n] * duty;
			EXPECT(on % 2 == 0 && 500ul * on <= due && 500ul * on + 1000 > due);
		}
	}
	struct heat h = {0};
	for (int i = 0; i < 1000; i++) {
		heat_half(&h, 100, 1000, 0);
		EXPECT(!h.on);
	}
	uint32_t on = 0;
	for (int i = 0; i < 2000; i++) {
		heat_half(&h, 100, 500, 1);
		on += h.on;
	}
	EXPECT(on == 1000); // nothing is made up for
	heat_half(&h, 100, 500, 1);
	EXPECT(h.on);
	heat_half(&h, 100, 0, 1);
	EXPECT(!h.on); // at once, within the cycle
	heat_half(&h, 100, 500, 1);
	EXPECT(h.on);
	heat_half(&h, 100, 500, 0);
	EXPECT(!h.on);
}

static void test_store(void)
{
	const struct stored old = {1, 1040, 2, 50}, new = {4, 8191, 60, 60};
	struct stored s;
	writes = -1;
	memset(memory, 0xFF, sizeof memory);
	EXPECT(!store_settings(&s)); // never written
	memset(memory, 0, sizeof memory);
	EXPECT(!store_settings(&s));
	EXPECT(store_keep(&old) && store_settings(&s) && s.limit_q == 1040 && s.mains_hz == 50);
	EXPECT(store_keep(&new) && store_settings(&s) && s.guard == 4 && s.limit_q == 8191);
	// A supply that fails after any write leaves the old, the new or nothing to trust.
	int counts[3] = {0};
	for (long n = 0; n <= 14; n++) {
		writes = -1;
		store_keep(&old);
		writes = n;
		EXPECT(store_keep(&new) == (n == 14));
		int what = !store_settings(&s) ? 2 : s.guard == 1 && s.limit_q == 1040 ? 0 : 1;
		EXPECT(what != 1 || (s.guard == 4 && s.limit_q == 8191 && s.mains_hz == 60));
		counts[what]++;
	}
	EXPECT(counts[0] == 1 && counts[1] == 1 && counts[2] == 13);
	// Any bit that turns over in either copy is found.
	writes = -1;
	store_keep(&old);
	for (int at = 0; at < 256; at++) {
		for (int bit = 0; bit < 8; bit++) {
			int of = (at >= 16 && at < 23) || (at >= 48 && at < 55);
			memory[at] ^= (uint8_t)(1 << bit);
			EXPECT(store_settings(&s) == !of);
			memory[at] ^= (uint8_t)(1 << bit);
		}
	}
	memset(memory, 0xFF, sizeof memory);
	EXPECT(store_boot() == 1 && store_boot() == 2);
	for (long n = 0; n <= 8; n++) { // a start cut short never gives a number twice
		writes = n;
		uint16_t cut = store_boot();
		writes = -1;
		uint16_t next = store_boot();
		EXPECT(next == cut || next == cut + 1);
		EXPECT(n < 8 || next == cut + 1);
	}
	memory[80] ^= 1;
	uint16_t before = store_boot();
	memory[112] ^= 1;
	EXPECT(store_boot() == before + 1);
	for (long n = 0; n < 70000; n++)
		before = store_boot();
	EXPECT((uint16_t)(before + 1) == store_boot()); // round the end of 16 bits
}

static void test_chip(void)
{
	// Words of the MAX31855 as its datasheet gives the fields (19-5793, tables 2 to 5); the Go
	// tests read more of them from testdata/thermocouple through the firmware's pipe.
	int16_t q = 0;
	EXPECT(chip_31855(0x0C601900, &q) == 0 && q == 792);
	EXPECT(chip_31855(0x64000000, &q) == 0 && q == 6400);
	EXPECT(chip_31855(0xFFFC0000, &q) == 0 && q == -1);
	EXPECT(chip_31855(0xF0600000, &q) == 0 && q == -1000);
	EXPECT(chip_31855(0x80000010, &q) == 0 && q == -8192);
	EXPECT(chip_31855(0, &q) == LATCH_NO_CHIP && chip_31855(0xFFFFFFFF, &q) == LATCH_NO_CHIP);
	EXPECT(chip_31855(0x00011901, &q) == LATCH_OPEN);
	EXPECT(chip_31855(0x00011902, &q) == LATCH_GROUND);
	EXPECT(chip_31855(0x00011904, &q) == LATCH_SUPPLY);
	EXPECT(chip_31855(0x00011907, &q) == LATCH_OPEN && chip_31855(0x00011906, &q) == LATCH_GROUND);
	EXPECT(chip_31855(0x0C611900, &q) == LATCH_NO_CHIP); // a fault without a name
	EXPECT(chip_31855(0x0C601901, &q) == LATCH_NO_CHIP); // a name without the fault
	EXPECT(chip_31855(0x0C621900, &q) == LATCH_NO_CHIP && chip_31855(0x0C601908, &q) == LATCH_NO_CHIP);
	EXPECT(chip_6675(0x18E0, &q) == 0 && q == 796);
	EXPECT(chip_6675(0x18E1, &q) == 0 && q == 796); // the last bit floats
	EXPECT(chip_6675(0x7FF8, &q) == 0 && q == 4095);
	EXPECT(chip_6675(0x18E4, &q) == LATCH_OPEN);
	EXPECT(chip_6675(0, &q) == LATCH_NO_CHIP && chip_6675(1, &q) == LATCH_NO_CHIP);
	EXPECT(chip_6675(0xFFFF, &q) == LATCH_NO_CHIP && chip_6675(0x98E0, &q) == LATCH_NO_CHIP);
	EXPECT(chip_6675(0x18E2, &q) == LATCH_NO_CHIP && chip_6675(0x1000018E0ul >> 4, &q) == LATCH_NO_CHIP);
}

int main(void)
{
	test_dead_man();
	test_latches();
	test_settings();
	test_heat();
	test_store();
	test_chip();
	printf("%d held, %d failed\n", held - failures, failures);
	return failures ? 1 : 0;
}
