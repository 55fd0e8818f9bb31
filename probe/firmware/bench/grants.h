// A host on a pseudo-terminal, and its grants of time on a socket.
#ifndef GRANTS_H
#define GRANTS_H

#include <stdint.h>

// grants_said takes a byte of the board.
void grants_said(uint8_t byte);

// grants_serve opens a pseudo-terminal, prints "pty PATH", listens at the path of the socket and
// serves one host after another, until a signal ends it. It gives the process's exit code.
int grants_serve(const char *socket);

#endif
