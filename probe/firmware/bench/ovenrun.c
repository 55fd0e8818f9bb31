// Runs the bench's oven for an hour and prints its temperatures every 10 s, as the rows of
// testdata/plant have them: ovenrun OVEN DUTY WHAT FIRST. OVEN is a or b; DUTY is of full power;
// WHAT is steady, empty, door (open from 600 s to 620 s) or load (a blade at 22 degC goes in at
// 1800 s); FIRST is the row to begin from.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "oven.h"

int main(int argc, char **argv)
{
	double x[PLACES], t;
	struct oven o;
	if (argc != 5 || sscanf(argv[4], "%lf,%lf,%lf,%lf,%lf,%lf,%lf", &t, &x[0], &x[1], &x[2], &x[3],
	                        &x[4], &x[5]) != 7) {
		fprintf(stderr, "ovenrun OVEN DUTY WHAT FIRST\n");
		return 2;
	}
	struct oven_params p = oven_params(argv[1][0]);
	oven_begin(&o, p, x);
	int load = !strcmp(argv[3], "load"), door = !strcmp(argv[3], "door");
	if (load || !strcmp(argv[3], "empty"))
		o.loaded = 0;
	for (int i = 0; i <= 14400; i++) {
		if (i % 40 == 0) {
			printf("%d", i / 4);
			for (int k = 0; k < PLACES; k++)
				printf(",%.5f", o.x[k]);
			printf("\n");
		}
		if (load && i == 7200) {
			o.loaded = 1;
			o.x[BLADE] = 22;
		}
		o.door = door && i >= 2400 && i < 2480;
		oven_step(&o, strtod(argv[2], NULL) * p.heater_w);
	}
	return 0;
}
