#include "chip.h"

#include "rules.h"

uint8_t chip_31855(uint32_t word, int16_t *q)
{
	uint8_t named = (uint8_t)word & 7, fault = word >> 16 & 1;
	if (word == 0 || word & 0x20008ul || fault != (named != 0))
		return LATCH_NO_CHIP;
	if (named & 1)
		return LATCH_OPEN;
	if (named & 2)
		return LATCH_GROUND;
	if (named & 4)
		return LATCH_SUPPLY;
	// A count of 14 bits with a sign, without a shift of something negative.
	*q = (int16_t)((int16_t)((word >> 18 & 0x3FFF) ^ 0x2000) - 0x2000);
	return 0;
}

uint8_t chip_6675(uint32_t word, int16_t *q)
{
	if ((word & 0xFFFE) == 0 || word & 0xFFFF8002ul)
		return LATCH_NO_CHIP;
	if (word & 4)
		return LATCH_OPEN;
	*q = (int16_t)(word >> 3 & 0xFFF);
	return 0;
}

#ifdef __AVR__
#include <avr/io.h>

#include "config.h"

// Select pins, by channel: PB2, PB1, PB0, PD7 (digital pins 10, 9, 8 and 7 of a usual board). PB2
// must be an output in any case, or the bus may fall out of its master's role.
static void select(uint8_t channel, uint8_t high)
{
	volatile uint8_t *port = channel == 4 ? &PORTD : &PORTB;
	uint8_t bit = (uint8_t)(channel == 4 ? 1 << PD7 : 1 << (3 - channel));
	if (high)
		*port |= bit;
	else
		*port &= (uint8_t)~bit;
}

void chip_begin(void)
{
	PORTB |= 1 << PB2 | 1 << PB4; // a pull-up, so that an absent chip reads all ones
	DDRB |= 1 << PB2 | 1 << PB3 | 1 << PB5;
	for (uint8_t c = 1; c <= CHANNELS; c++)
		select(c, 1);
#if CHANNELS >= 2
	DDRB |= 1 << PB1;
#endif
#if CHANNELS >= 3
	DDRB |= 1 << PB0;
#endif
#if CHANNELS >= 4
	DDRD |= 1 << PD7;
#endif
	SPCR = 1 << SPE | 1 << MSTR | 1 << SPR0; // mode 0, 1 MHz of 16
}

uint32_t chip_word(uint8_t channel)
{
	uint32_t word = 0;
	select(channel, 0);
	for (uint8_t i = 0; i < CHIP_BYTES; i++) {
		SPDR = 0;
		while (!(SPSR & 1 << SPIF))
			; // two microseconds a bit at most; if it hangs, so does the watchdog's food
		word = word << 8 | SPDR;
	}
	select(channel, 1);
	return word;
}
#endif
