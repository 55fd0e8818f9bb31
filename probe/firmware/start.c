// What runs before anything else. It stands apart because the compiler cannot tell the stack of a
// function without a frame, which it refuses to pass over.
#include <avr/io.h>
#include <avr/wdt.h>

#include "start.h"

uint8_t start_flags __attribute__((section(".noinit")));

// begin_off switches off. The watchdog gets its one period here, so that it guards the start as
// well: its flag must go first, or it could not be set.
void begin_off(void) __attribute__((naked, used, section(".init3")));
void begin_off(void)
{
	HEAT_PORT &= (uint8_t)~HEAT_BIT; // low before the pin becomes an output
	HEAT_DDR |= HEAT_BIT;
	start_flags = MCUSR;
	MCUSR = 0;
	wdt_enable(WDTO_1S);
	wdt_reset(); // the simulated watchdog takes the new period only now
}
