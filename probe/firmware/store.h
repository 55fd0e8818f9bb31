// What the board keeps without power: its settings and the number of its last start, each twice
// with a CRC.
#ifndef STORE_H
#define STORE_H

#include <stdint.h>

#include "line.h"

// store_settings reads the settings; 0 if a copy is damaged or the two differ.
uint8_t store_settings(struct stored *s);

// store_keep writes both copies and reads them back; 0 if they are not what was written.
uint8_t store_keep(const struct stored *s);

// store_boot counts a start and gives its number. A copy that a power cut spoilt is made good
// from the other; with both spoilt the count begins anew at 1.
uint16_t store_boot(void);

// The memory itself, a byte each; whoever uses this code has them. Writing may take 4 ms.
uint8_t store_get(uint8_t at);
void store_put(uint8_t at, uint8_t byte);

#endif
