// The simulated shop: the board, the relay, the oven and its thermocouple, and what can go wrong
// with them.
#ifndef SHOP_H
#define SHOP_H

#include <stdint.h>

#include "../line.h"

struct shop_options {
	const char *firmware;
	char oven;       // a or b
	int blade;       // one lies in it from the start
	double start;    // degC, of the whole oven
	double noise;    // of the readings, uniform, degC either way
	uint64_t seed;   // of the noise
	int chip;        // 31855 or 6675
	int has_stored;  // the EEPROM holds these settings; else it is empty
	struct stored stored;
};

// shop_begin gives 0, or says on standard error what is wrong. Each byte of the board goes to
// said.
int shop_begin(const struct shop_options *o, void (*said)(uint8_t byte));

// shop_run goes on until the time given, in cycles (MCU_HZ).
void shop_run(uint64_t until);

// shop_do does what a script's line says that is not said to a host: fault NAME [SECONDS], door
// 0 or 1, lockup [deaf], stop-clock or dtr. It gives 0 if it knows no such thing.
int shop_do(const char *word, const char *rest);

// shop_log writes a line with the time in front, if there is a log.
void shop_log(const char *form, ...) __attribute__((format(printf, 1, 2)));
void shop_log_to(void *file);

// shop_end writes the last lines of the log.
void shop_end(void);

#endif
