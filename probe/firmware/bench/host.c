#include "host.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../line.h"
#include "../rules.h"
#include "mcu.h"
#include "shop.h"

static enum { SILENT, HEAT, BADCRC, REPLAY, NUMBER } mode;
static int per_mille, ahead;
static uint16_t number; // of the last command
static uint64_t next = HOST_NEVER;
static char last[LINE_BYTES + 1]; // good duty line
static char proposed[5];          // check of the proposal that is not committed yet

static void send(const char *line)
{
	shop_log("> %s", line);
	while (*line)
		if (!mcu_hear((uint8_t)*line++))
			shop_log("lost a byte to the board");
	mcu_hear('\r');
	mcu_hear('\n');
}

// say adds the check to body, or a wrong one, and gives the line.
static const char *say(const char *body, int wrong)
{
	static char line[LINE_BYTES + 1];
	uint16_t crc = wrong ? 0xFFFE : 0xFFFF;
	for (const char *p = body; *p; p++)
		crc = line_crc(crc, (uint8_t)*p);
	snprintf(line, sizeof line, "%s*%04X", body, crc);
	send(line);
	return line;
}

static void numbered(char letter, const char *rest)
{
	char body[LINE_BYTES - 6];
	snprintf(body, sizeof body, "%c,%u%s", letter, (unsigned)++number, rest);
	const char *line = say(body, 0);
	if (letter == 'P')
		memcpy(proposed, line + strlen(line) - 4, 5);
}

static void took(const char *line)
{
	unsigned boot;
	char result;
	if (sscanf(line, "B,1,%*[^,],%u,", &boot) == 1) {
		number = rules_start_of((uint16_t)boot);
		mode = SILENT; // a host never heats again by itself after a restart
		next = HOST_NEVER;
		proposed[0] = 0;
	}
	if (sscanf(line, "A,%*u,P,%c,", &result) == 1 && result == 'Y' && proposed[0]) {
		char rest[8];
		snprintf(rest, sizeof rest, ",%s", proposed);
		proposed[0] = 0;
		numbered('C', rest);
	}
}

void host_heard(uint8_t byte)
{
	static char line[LINE_BYTES + 1];
	static unsigned count;
	if (byte == '\n') {
		if (count && line[count - 1] == '\r')
			count--;
		line[count] = 0;
		if (count) {
			shop_log("< %s", line);
			took(line);
		}
		count = 0;
	} else if (count < LINE_BYTES) {
		line[count++] = (char)byte;
	}
}

uint64_t host_next(void)
{
	return next;
}

static void duty(int wrong)
{
	char body[32];
	uint16_t n = mode == NUMBER ? (uint16_t)(number + ahead) : ++number;
	snprintf(body, sizeof body, "D,%u,%d", n, per_mille);
	const char *line = say(body, wrong);
	if (mode == HEAT)
		strcpy(last, line);
}

void host_tick(void)
{
	next = mcu_now() + MCU_HZ;
	switch (mode) {
	case SILENT:
		next = HOST_NEVER;
		break;
	case REPLAY:
		send(last);
		break;
	default:
		duty(mode == BADCRC);
	}
}

int host_do(const char *word, const char *rest)
{
	static const struct {
		const char *word;
		int mode;
	} modes[] = {{"heat", HEAT}, {"badcrc", BADCRC}, {"replay", REPLAY}, {"silent", SILENT},
	             {"number", NUMBER}};
	for (unsigned i = 0; i < sizeof modes / sizeof *modes; i++) {
		if (strcmp(word, modes[i].word))
			continue;
		mode = modes[i].mode;
		if (mode == NUMBER)
			ahead = atoi(rest);
		else if (mode != REPLAY)
			per_mille = atoi(rest);
		next = mcu_now();
		return 1;
	}
	char list[32] = "";
	if (!strcmp(word, "query")) {
		numbered('Q', "");
	} else if (!strcmp(word, "clear")) {
		numbered('X', "");
	} else if (!strcmp(word, "type")) {
		send(rest);
	} else if (!strcmp(word, "settings")) {
		unsigned g, l, w, hz;
		if (sscanf(rest, "%u %u %u %u", &g, &l, &w, &hz) != 4)
			return 0;
		snprintf(list, sizeof list, ",%u,%u,%u,%u", g, l, w, hz);
		numbered('P', list);
	} else {
		return 0;
	}
	return 1;
}
