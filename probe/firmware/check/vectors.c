// Holds the firmware's codec and rules to the rows of testdata/board/vectors.txt, which say what
// each row means: vectors FILE. The last line says how many rows of each kind were held.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../line.h"
#include "../rules.h"

static char written[128];
static size_t length;
static int failures;
static const char *row;

void line_put(uint8_t byte)
{
	if (length < sizeof written - 1)
		written[length++] = (char)byte;
	written[length] = 0;
}

static void expect(int holds, const char *what)
{
	if (!holds) {
		printf("%s: %s\n", what, row);
		failures++;
	}
}

static enum line feed(struct line_reader *r, const uint8_t *bytes, size_t n, struct command *c)
{
	enum line said = LINE_NONE;
	for (size_t i = 0; i < n && said == LINE_NONE; i++)
		said = line_feed(r, bytes[i], c);
	return said;
}

static void check_crc(char **w)
{
	uint16_t crc = 0xFFFF;
	for (const char *p = w[2]; *p; p++)
		crc = line_crc(crc, (uint8_t)*p);
	int same = crc == strtoul(w[3], NULL, 16);
	expect(strncmp(w[1], "other-", 6) ? same : !same, "check");
}

static long dec(const char *s) { return strtol(s, NULL, 10); }
static unsigned long hex(const char *s) { return strtoul(s, NULL, 16); }

static struct stored stored_of(char **w)
{
	struct stored s = {(uint8_t)dec(w[0]), (uint16_t)dec(w[1]), (uint8_t)dec(w[2]),
	                   (uint8_t)dec(w[3])};
	return s;
}

static int same_stored(const struct stored *a, const struct stored *b)
{
	return a->guard == b->guard && a->limit_q == b->limit_q && a->window_s == b->window_s &&
	       a->mains_hz == b->mains_hz;
}

// check_written writes a board's line from the row's fields, w[3] on, as the row has it.
static void check_written(char **w)
{
	length = 0;
	switch (w[2][0]) {
	case 'B':
	case 'I': {
		expect(dec(w[3]) == 1, "version");
		struct about a = {w[4], (uint16_t)dec(w[5]), (uint8_t)w[6][0], w[7], (uint8_t)dec(w[8]),
		                  (uint16_t)dec(w[9]), stored_of(w + 10), (uint8_t)hex(w[14])};
		line_about((uint8_t)w[2][0], &a);
		break;
	}
	case 'R': {
		struct reading r = {(uint16_t)dec(w[3]), (uint32_t)strtoul(w[4], NULL, 10),
		                    (uint8_t)dec(w[5]), (uint32_t)hex(w[6]), (uint8_t)hex(w[7]),
		                    (uint16_t)dec(w[8]), (uint8_t)dec(w[9])};
		line_reading(&r);
		break;
	}
	default:
		line_ack((uint16_t)dec(w[3]), (uint8_t)w[4][0], (uint8_t)w[5][0], (uint8_t)hex(w[6]));
	}
	expect(length == strlen(w[1]) + 2 && !strncmp(written, w[1], strlen(w[1])) &&
	           !strcmp(written + length - 2, "\r\n"),
	       "line written");
}

static void check_good(char **w)
{
	struct line_reader r = {0};
	struct command c;
	char line[128];
	int n = snprintf(line, sizeof line, "%s\r\n", w[1]);
	memset(&c, 0x5A, sizeof c);
	enum line said = feed(&r, (const uint8_t *)line, (size_t)n, &c);
	if (strchr("BIRA", w[2][0])) {
		expect(said == LINE_FORM, "a board does not obey a board's line");
		check_written(w);
		return;
	}
	expect(said == LINE_GOOD, "good line");
	expect(c.letter == (uint8_t)w[2][0] && c.seq == dec(w[3]), "letter and number");
	expect(c.check == hex(strrchr(w[1], '*') + 1), "check of the line");
	if (c.letter == 'D')
		expect(c.value == dec(w[4]), "per mille");
	if (c.letter == 'C')
		expect(c.value == hex(w[4]), "check to repeat");
	if (c.letter == 'P') {
		struct stored want = stored_of(w + 4);
		expect(same_stored(&c.stored, &want) && line_stored(&want), "settings");
	}
}

static void check_bad(char **w)
{
	static const struct {
		const char *name;
		enum line kind;
	} kinds[] = {{"long", LINE_LONG}, {"form", LINE_FORM}, {"crc", LINE_CRC}, {"range", LINE_RANGE},
	             {"version", LINE_FORM}};
	struct line_reader r = {0};
	struct command c;
	uint8_t bytes[256];
	size_t n = strlen(w[2]) / 2;
	for (size_t i = 0; i < n && i < sizeof bytes; i++) {
		char two[3] = {w[2][2 * i], w[2][2 * i + 1], 0};
		bytes[i] = (uint8_t)hex(two);
	}
	enum line want = LINE_NONE, said = feed(&r, bytes, n, &c);
	for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++)
		if (!strcmp(w[1], kinds[i].name))
			want = kinds[i].kind;
	// Lines that only a host reads are no lines at all to a board.
	if (want == LINE_RANGE && strchr("BIRA", bytes[0]))
		want = LINE_FORM;
	expect(want != LINE_NONE && said == want, "bad line");
	// The next good line is taken all the same, once the bad one has ended.
	feed(&r, (const uint8_t *)"\r\n", 2, &c);
	while (r.count || r.skip)
		line_feed(&r, '\n', &c);
	expect(feed(&r, (const uint8_t *)"D,313,425*DC9C\r\n", 16, &c) == LINE_GOOD, "after a bad line");
}

// start makes rules with a good conversion and last as the last accepted number.
static void start(struct rules *r, long last)
{
	struct stored s = {1, 1040, 2, 50};
	rules_start(r, 0, &s, 1, 2000);
	rules_judge(r, 0, 100);
	r->last = (uint16_t)last;
}

static void check_window(char **w)
{
	struct rules r;
	uint8_t result = 0;
	const char letters[] = "DPCX";
	for (int i = 0; i < 4; i++) {
		struct command c = {(uint8_t)letters[i], (uint16_t)dec(w[2]), 500, {1, 1040, 2, 50}, 0};
		start(&r, dec(w[1]));
		int taken = rules_obey(&r, 0, &c, &result) != OUTCOME_REFUSED;
		expect(taken == dec(w[3]) && r.last == dec(w[4]), "number window");
		if (letters[i] == 'D')
			expect(r.per_mille == (taken ? 500 : 0), "duty");
	}
}

static void check_zero(char **w)
{
	struct rules r;
	uint8_t result;
	struct command heat = {'D', (uint16_t)(dec(w[1]) + 1), 500, {0, 0, 0, 0}, 0};
	struct command zero = {'D', (uint16_t)dec(w[2]), 0, {0, 0, 0, 0}, 0};
	start(&r, dec(w[1]));
	expect(rules_obey(&r, 0, &heat, &result) == OUTCOME_TAKEN && r.per_mille == 500, "heat");
	r.last = (uint16_t)dec(w[1]);
	expect(rules_obey(&r, 0, &zero, &result) == OUTCOME_TAKEN && r.per_mille == 0 &&
	           r.last == dec(w[3]),
	       "duty 0");
}

static void check_start(char **w)
{
	expect(rules_start_of((uint16_t)dec(w[1])) == dec(w[2]), "start");
}

int main(int argc, char **argv)
{
	static struct {
		const char *name;
		void (*check)(char **w);
		int words, rows;
	} kinds[] = {{"crc", check_crc, 4, 0},       {"good", check_good, 4, 0},
	             {"bad", check_bad, 3, 0},       {"window", check_window, 5, 0},
	             {"zero", check_zero, 4, 0},     {"start", check_start, 3, 0}};
	const size_t n = sizeof kinds / sizeof *kinds;
	static char line[1024], words[1024];
	FILE *f = argc == 2 ? fopen(argv[1], "r") : NULL;
	if (!f) {
		fprintf(stderr, "vectors FILE: testdata/board/vectors.txt\n");
		return 2;
	}
	row = line;
	while (fgets(line, sizeof line, f)) {
		line[strcspn(line, "\n")] = 0;
		strcpy(words, line);
		char *w[24] = {0};
		int count = 0;
		for (char *p = strtok(words, " "); p && count < 23; p = strtok(NULL, " "))
			w[count++] = p;
		if (!count || w[0][0] == '#')
			continue;
		size_t k = 0;
		while (k < n && strcmp(w[0], kinds[k].name))
			k++;
		expect(k < n && count >= kinds[k].words, "row");
		if (k < n && count >= kinds[k].words) {
			kinds[k].check(w);
			kinds[k].rows++;
		}
	}
	fclose(f);
	for (size_t k = 0; k < n; k++) {
		printf("%s %d%s", kinds[k].name, kinds[k].rows, k + 1 < n ? ", " : "\n");
		expect(kinds[k].rows > 0, "a kind has no rows");
	}
	return failures ? 1 : 0;
}
