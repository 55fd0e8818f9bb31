// The bench: the firmware in a simulated ATmega328P with a simulated thermocouple, relay and oven.
//
//   bench FIRMWARE.elf [OPTION...] --script FILE --for SECONDS
//   bench FIRMWARE.elf [OPTION...] --grants SOCKET [--script FILE]
//
//	--oven a|b            the reference oven; a
//	--blade               a blade lies in it
//	--start C             degC of the whole oven at the start; 22
//	--noise C             of the readings, either way; 0.5
//	--seed N              of the noise; 1
//	--chip 31855|6675     for which the firmware was made; 31855
//	--stored G,L,W,HZ     what the EEPROM holds: guard, limit, window, mains; else it is empty
//	--log FILE            what happens, a line each; a script without grants goes to standard output
//
// The first runs free and has a host of its own in its script. The second waits for a host on the
// pseudo-terminal that its first line of output names, and its time advances by that host's
// grants only; grants.c says how. It never runs free against a host.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "grants.h"
#include "host.h"
#include "mcu.h"
#include "script.h"
#include "shop.h"

static int wrong(const char *what)
{
	fprintf(stderr, "bench: %s; the first lines of bench.c say how it is used\n", what);
	return 2;
}

static int stored(const char *s, struct shop_options *o)
{
	unsigned g, l, w, hz;
	if (sscanf(s, "%u,%u,%u,%u", &g, &l, &w, &hz) != 4)
		return 0;
	o->stored = (struct stored){(uint8_t)g, (uint16_t)l, (uint8_t)w, (uint8_t)hz};
	o->has_stored = 1;
	return line_stored(&o->stored);
}

int main(int argc, char **argv)
{
	struct shop_options o = {
	        .oven = 'a', .start = 22, .noise = 0.5, .seed = 1, .chip = 31855};
	const char *script = NULL, *grants = NULL, *log = NULL;
	double seconds = 0;
	for (int i = 1; i < argc; i++) {
		const char *name = argv[i], *value = i + 1 < argc ? argv[i + 1] : "";
		if (name[0] != '-') {
			o.firmware = name;
			continue;
		}
		if (!strcmp(name, "--blade")) {
			o.blade = 1;
			continue;
		}
		i++;
		if (!strcmp(name, "--oven"))
			o.oven = value[0];
		else if (!strcmp(name, "--start"))
			o.start = atof(value);
		else if (!strcmp(name, "--noise"))
			o.noise = atof(value);
		else if (!strcmp(name, "--seed"))
			o.seed = strtoull(value, NULL, 10);
		else if (!strcmp(name, "--chip"))
			o.chip = atoi(value);
		else if (!strcmp(name, "--script"))
			script = value;
		else if (!strcmp(name, "--for"))
			seconds = atof(value);
		else if (!strcmp(name, "--grants"))
			grants = value;
		else if (!strcmp(name, "--log"))
			log = value;
		else if (strcmp(name, "--stored") || !stored(value, &o))
			return wrong(name);
	}
	if (!o.firmware || (!grants && !script) || (grants && seconds > 0))
		return wrong("a firmware, and a script or the path of a socket");
	if ((o.oven != 'a' && o.oven != 'b') || (o.chip != 31855 && o.chip != 6675))
		return wrong("oven a or b, chip 31855 or 6675");
	FILE *to = log ? fopen(log, "w") : grants ? NULL : stdout;
	if (log && !to) {
		perror(log);
		return 1;
	}
	shop_log_to(to);
	if (script && script_read(script))
		return 1;
	if (shop_begin(&o, grants ? grants_said : host_heard))
		return 1;
	if (grants)
		return grants_serve(grants);
	script_run((uint64_t)(seconds * MCU_HZ), 1);
	shop_end();
	return fclose(to) ? 1 : 0;
}
