// The simulated processor with its firmware: serial port, bus of chips, heater pin, resets and
// time, by libsimavr. Time is simulated and counted in cycles of 16 MHz since power came on; it
// goes on through resets, which start the processor's own count anew.
#ifndef MCU_H
#define MCU_H

#include <stdint.h>

#define MCU_HZ 16000000u
#define MCU_BOOT (3 * (uint64_t)MCU_HZ / 2) // a usual bootloader: deaf, with its pins as inputs

// What the bench is told; each may look at mcu_now.
struct mcu_calls {
	void (*said)(uint8_t byte);           // by the board, on its serial line
	void (*pin)(int on);                  // the heater's pin has changed
	void (*start)(char cause);            // a reset: P, R or W; the pin is told before
	uint32_t (*word)(int channel, int *bytes); // a chip is asked for its word
};

// mcu_begin loads the firmware, with the EEPROM's first bytes, and turns the power on. It gives 0,
// or says on standard error what is wrong.
int mcu_begin(const char *elf, const uint8_t *eeprom, int size, struct mcu_calls calls);

// mcu_run goes on until the time given.
void mcu_run(uint64_t until);

uint64_t mcu_now(void);

// mcu_hear puts a byte on the line to the board, behind those that are on their way; it gives 0
// if it has no room. What is on its way when the board restarts is lost.
int mcu_hear(uint8_t byte);

// mcu_reset pulls the reset line.
void mcu_reset(void);

// mcu_lock makes the program stay where it is from the next moment on at which the heater's pin
// is high, until a reset; with deaf it has its interrupts off as well.
void mcu_lock(int deaf);

// mcu_stop_clock takes the timer's interrupt away, as a stray write would: the loop goes on for the
// serial line, and no time passes in it.
void mcu_stop_clock(void);

// mcu_stack gives the most bytes that the stack has had, counted from a pattern in the memory.
int mcu_stack(void);

#endif
