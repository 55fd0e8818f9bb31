// What a builder chooses before compiling; each may be given to the compiler as -DNAME=VALUE.
#ifndef CONFIG_H
#define CONFIG_H

// CHIP is the thermocouple chip on every channel: 31855 (MAX31855, type K) or 6675 (MAX6675).
#ifndef CHIP
#define CHIP 31855
#endif

// CHANNELS is the count of chips on the bus, 1 to 4; channel 1 is at the first select pin.
#ifndef CHANNELS
#define CHANNELS 1
#endif

// CEILING_Q is the highest limit that a host may store, in quarter degrees of the chip's own
// straight line. The usual one is 320 degC in truth with the cold junction at 25 degC: type K has
// 13.040 mV there and 1.000 mV at 25 degC (NIST SRD 60), and the chips take 41.276 and 41 uV for a
// degree (datasheets 19-5793 and 19-2235).
#ifndef CEILING_Q
#if CHIP == 6675
#define CEILING_Q 1274
#else
#define CEILING_Q 1267
#endif
#endif

// NAME is what the board calls itself: 1 to 16 letters, digits and dashes.
#ifndef NAME
#define NAME "straw-uno"
#endif

#if CHIP == 31855
#define CHIP_NAME "MAX31855K"
#define CHIP_BYTES 4
#define HIGHEST_Q 8191
#elif CHIP == 6675
#define CHIP_NAME "MAX6675"
#define CHIP_BYTES 2
#define HIGHEST_Q 4095
#else
#error "CHIP is 31855 or 6675"
#endif
#if CHANNELS < 1 || CHANNELS > 4
#error "CHANNELS is 1 to 4"
#endif
// The highest count must stand above every limit, or a reading at the end of the scale would not.
#if CEILING_Q < 1 || CEILING_Q >= HIGHEST_Q
#error "CEILING_Q is 1 to one below the chip's highest count"
#endif

#endif
