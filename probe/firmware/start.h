// The heater's pin, and why the processor started.
#ifndef START_H
#define START_H

#include <stdint.h>

// PD4, digital pin 4 of a usual board, which bootloaders leave alone. The pin with the lamp (PB5)
// blinks in some bootloaders, and is the bus's clock here.
#define HEAT_PORT PORTD
#define HEAT_DDR DDRD
#define HEAT_BIT (1 << PD4)

extern uint8_t start_flags; // MCUSR as it was

#endif
