#include "shop.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../store.h"
#include "mcu.h"
#include "oven.h"
#include "thermo.h"

#define STEP (MCU_HZ / 4) // cycles of one step of the oven

static struct oven oven;
static struct thermo thermo;
static FILE *log_file;
static uint8_t eeprom[256];

static uint64_t stepped; // up to when the oven has come
static int on;           // the heater's pin
static uint64_t on_since, on_cycles;
static int shorted;     // the relay
static uint64_t mended; // when the fault ends

// The names of the faults, as in enum fault; the relay is none of the thermocouple's.
static const char *const faults[] = {"none",   "open",   "ground", "supply",
                                     "stuck0", "stuck1", "wild"};
static const char *fault = "none";

uint8_t store_get(uint8_t at) { return eeprom[at]; }
void store_put(uint8_t at, uint8_t byte) { eeprom[at] = byte; }
void line_put(uint8_t byte) { (void)byte; }

void shop_log_to(void *file) { log_file = file; }

void shop_log(const char *form, ...)
{
	if (!log_file)
		return;
	va_list args;
	uint64_t us = mcu_now() / (MCU_HZ / 1000000);
	fprintf(log_file, "%llu.%06llu ", (unsigned long long)(us / 1000000),
	        (unsigned long long)(us % 1000000));
	va_start(args, form);
	vfprintf(log_file, form, args);
	va_end(args);
	fputc('\n', log_file);
}

static void pin(int now)
{
	if (on)
		on_cycles += mcu_now() - on_since;
	on = now;
	on_since = mcu_now();
	shop_log("pin %d", on);
}

static void start(char cause)
{
	shop_log("start %c", cause);
}

static uint32_t word(int channel, int *bytes)
{
	*bytes = thermo_bytes(&thermo);
	uint32_t w = thermo_word(&thermo, channel, channel == 1 ? oven.x[PROBE] : oven.p.room);
	if (thermo.fault != FINE)
		shop_log("word %08lX", (unsigned long)w);
	return w;
}

static void step(void)
{
	if (on) {
		on_cycles += mcu_now() - on_since;
		on_since = mcu_now();
	}
	double share = shorted ? 1 : (double)on_cycles / STEP;
	on_cycles = 0;
	oven_step(&oven, oven.p.heater_w * share);
	// As probe/sim has it: the cold junction goes to 6 K above the room with a lag of 1200 s.
	thermo.cold += (oven.p.room + 6 - thermo.cold) * 0.25 / 1200;
	if (stepped % (10ull * MCU_HZ) == 0)
		shop_log("oven %.3f", oven.x[PROBE]);
}

static void set_fault(const char *name, uint64_t until)
{
	shop_log("fault %s", name);
	fault = name;
	shorted = !strcmp(name, "ssr");
	thermo.fault = FINE;
	for (unsigned i = 0; i < sizeof faults / sizeof *faults; i++)
		if (!strcmp(name, faults[i]))
			thermo.fault = (enum fault)i;
	mended = until;
}

void shop_run(uint64_t until)
{
	while (mcu_now() < until) {
		uint64_t to = stepped + STEP;
		if (to > until)
			to = until;
		if (mended && to > mended)
			to = mended;
		mcu_run(to);
		if (mended && mcu_now() >= mended)
			set_fault("none", 0);
		while (mcu_now() >= stepped + STEP) {
			stepped += STEP;
			step();
		}
	}
}

int shop_do(const char *what, const char *rest)
{
	char name[16] = "";
	double seconds = 0;
	if (!strcmp(what, "dtr"))
		mcu_reset();
	else if (!strcmp(what, "stop-clock"))
		mcu_stop_clock();
	else if (!strcmp(what, "lockup"))
		mcu_lock(!strcmp(rest, "deaf"));
	else if (!strcmp(what, "door"))
		oven.door = !strcmp(rest, "1");
	else if (!strcmp(what, "fault") && sscanf(rest, "%15s %lf", name, &seconds) >= 1) {
		const char *known = !strcmp(name, "ssr") ? "ssr" : NULL;
		for (unsigned i = 0; i < sizeof faults / sizeof *faults; i++)
			if (!strcmp(name, faults[i]))
				known = faults[i];
		if (!known)
			return 0;
		set_fault(known, seconds > 0 ? mcu_now() + (uint64_t)(seconds * MCU_HZ) : 0);
	} else
		return 0;
	return 1;
}

int shop_begin(const struct shop_options *o, void (*said)(uint8_t byte))
{
	double x[PLACES];
	for (int i = 0; i < PLACES; i++)
		x[i] = o->start;
	oven_begin(&oven, oven_params(o->oven), x);
	oven.loaded = o->blade;
	thermo = (struct thermo){o->chip, FINE, oven.p.room, o->noise, o->seed + 1};
	memset(eeprom, 0xFF, sizeof eeprom);
	if (o->has_stored)
		store_keep(&o->stored);
	return mcu_begin(o->firmware, eeprom, sizeof eeprom, (struct mcu_calls){said, pin, start, word});
}

void shop_end(void)
{
	shop_log("fault %s", fault);
	shop_log("stack %d", mcu_stack());
}
