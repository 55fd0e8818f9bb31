// A host for scripts: it repeats its duty once a second, with the numbers that the board's boot
// lines set, and can be told to misbehave. It is no part of the program, whose host is in Go.
#ifndef HOST_H
#define HOST_H

#include <stdint.h>

#define HOST_NEVER UINT64_MAX

// host_heard takes in a byte of the board and logs its lines.
void host_heard(uint8_t byte);

// host_next gives when the host wants to say something of itself, in cycles; host_tick lets it.
uint64_t host_next(void);
void host_tick(void);

// host_do does what a script's line says to the host: heat N (from now on, per mille), silent,
// badcrc N (duty lines with a wrong check), replay (the last good line again), number N (duty
// lines so far ahead), query, clear, settings GUARD LIMIT WINDOW MAINS, or type TEXT. It gives 0
// if it knows no such thing.
int host_do(const char *word, const char *rest);

#endif
