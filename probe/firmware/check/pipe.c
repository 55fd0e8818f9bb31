// The firmware's codec, rules and chips at a pipe, for tests on the host. A message is an
// operation, a time in milliseconds (4 bytes) and the length of the rest (2), low byte first:
//
//   S time REST      a start; time is its number, REST nothing
//   L time BYTES     bytes from the host; the answer is the lines that were refused (1 byte),
//                    the count of commands taken (1), and of each its letter, its number (2) and
//                    its value (2)
//   W chip WORD      a word of four bytes of chip 31855 or 6675; the answer is the latch (1) and
//                    the quarter degrees (2)
//   F 0 REST         the answers so far are to come out now
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../chip.h"
#include "../rules.h"

static struct rules rules;
static struct line_reader reader;

void line_put(uint8_t byte) { (void)byte; }

static uint32_t low_first(const uint8_t *p, int n)
{
	uint32_t v = 0;
	while (n--)
		v = v << 8 | p[n];
	return v;
}

static void answer(uint32_t v, int n)
{
	for (; n--; v >>= 8)
		putchar((int)(v & 0xFF));
}

static void start(uint32_t boot)
{
	const struct stored s = {1, 1040, 2, 50};
	rules_start(&rules, (uint16_t)boot, &s, 1, 1267);
	rules_judge(&rules, 0, 100);
	memset(&reader, 0, sizeof reader);
}

static void lines(uint32_t now, const uint8_t *bytes, size_t n)
{
	struct command taken[64], c;
	uint8_t count = 0, result;
	rules.refused = 0;
	rules_time(&rules, now);
	rules_judge(&rules, 0, 100);
	rules.latches = 0; // a latch would hold back the heat that is looked for
	for (size_t i = 0; i < n; i++) {
		enum line said = line_feed(&reader, bytes[i], &c);
		if (said == LINE_NONE)
			continue;
		if (said != LINE_GOOD || rules_obey(&rules, now, &c, &result) == OUTCOME_REFUSED)
			rules_refuse(&rules);
		else if (count < 64)
			taken[count++] = c;
	}
	answer(rules.refused, 1);
	answer(count, 1);
	for (int i = 0; i < count; i++) {
		answer(taken[i].letter, 1);
		answer(taken[i].seq, 2);
		answer(taken[i].letter == 'D' || taken[i].letter == 'C' ? taken[i].value : 0, 2);
	}
}

static void word(uint32_t chip, const uint8_t *bytes)
{
	int16_t q = 0;
	uint32_t w = low_first(bytes, 4);
	answer(chip == 6675 ? chip_6675(w, &q) : chip_31855(w, &q), 1);
	answer((uint16_t)q, 2);
}

int main(void)
{
	static uint8_t head[7], rest[65536];
	while (fread(head, 1, sizeof head, stdin) == sizeof head) {
		uint32_t value = low_first(head + 1, 4);
		size_t n = low_first(head + 5, 2);
		if (fread(rest, 1, n, stdin) != n)
			return 1;
		switch (head[0]) {
		case 'S':
			start(value);
			break;
		case 'L':
			lines(value, rest, n);
			break;
		case 'W':
			word(value, rest);
			break;
		case 'F':
			fflush(stdout);
			break;
		default:
			return 1;
		}
	}
	return ferror(stdin) ? 1 : 0;
}
