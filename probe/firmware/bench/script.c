#include "script.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "host.h"
#include "mcu.h"
#include "shop.h"

struct row {
	uint64_t at;
	int number;
	char word[16], rest[104];
};

static struct row *rows;
static int count, done;

int script_read(const char *path)
{
	char line[160];
	FILE *f = fopen(path, "r");
	if (!f) {
		perror(path);
		return 1;
	}
	for (int number = 1; fgets(line, sizeof line, f); number++) {
		struct row r = {.number = number};
		double at;
		line[strcspn(line, "#\n")] = 0;
		int n = sscanf(line, "%lf %15s %103[^\n]", &at, r.word, r.rest);
		if (n < 1)
			continue;
		r.at = (uint64_t)(at * MCU_HZ + 0.5);
		if (n < 2 || at < 0 || (count && r.at < rows[count - 1].at)) {
			fprintf(stderr, "%s:%d: a time and a word, in the order of time\n", path, number);
			return 1;
		}
		rows = realloc(rows, (size_t)(count + 1) * sizeof *rows);
		if (!rows)
			abort();
		rows[count++] = r;
	}
	fclose(f);
	return 0;
}

static void act(const struct row *r, int host)
{
	if (shop_do(r->word, r->rest) || (host && host_do(r->word, r->rest)))
		return;
	fprintf(stderr, "line %d of the script: what is \"%s %s\"?\n", r->number, r->word, r->rest);
	exit(1);
}

void script_run(uint64_t until, int host)
{
	for (;;) {
		uint64_t next = host ? host_next() : HOST_NEVER;
		int mine = done < count && rows[done].at <= next;
		if (mine)
			next = rows[done].at;
		if (next > until)
			break;
		shop_run(next);
		if (mine)
			act(&rows[done++], host);
		else
			host_tick();
	}
	shop_run(until);
}
