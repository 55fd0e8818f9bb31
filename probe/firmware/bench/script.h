// Scripts: a row has a time in seconds, a word and what belongs to it, in the order of time; #
// begins a comment. The words are those of shop_do and host_do.
#ifndef SCRIPT_H
#define SCRIPT_H

#include <stdint.h>

// script_read reads the file, and gives 0 or says on standard error what is wrong.
int script_read(const char *path);

// script_run goes on until the time given, in cycles, doing what the script says. With host, its
// words to the host are done too; else they end the bench.
void script_run(uint64_t until, int host);

#endif
