// The thermocouple chips: what their words mean to the board, and the SPI bus that they are on.
#ifndef CHIP_H
#define CHIP_H

#include <stdint.h>

// chip_31855 reads a word of the MAX31855: 0 and the hot junction's count in *q, in quarter
// degrees of the chip's own straight line, or the latch of its fault. All zeros, all ones, a
// reserved bit and a fault named without the fault bit or the other way round are an absent
// chip: a data line that is stuck looks like that.
uint8_t chip_31855(uint32_t word, int16_t *q);

// chip_6675 does so for the 16 bits of the MAX6675, which tells an open thermocouple only, and
// knows no temperature below 0: its zero is an absent chip, whatever the bit that floats says.
uint8_t chip_6675(uint32_t word, int16_t *q);

// chip_begin sets up the bus; chip_word reads a channel, 1 to CHANNELS, first bit first.
void chip_begin(void);
uint32_t chip_word(uint8_t channel);

#endif
