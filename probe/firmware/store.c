#include "store.h"

// Where the copies lie. Address 0 is left alone: a supply that fails while a write is under way
// hits it first on some parts (from memory).
#define SETTINGS_A 16
#define SETTINGS_B 48
#define BOOT_A 80
#define BOOT_B 112

#define SETTINGS 5 // bytes, without the CRC
#define BOOT 2

// A record begins its CRC with its own mark, so that none is taken for another kind, and memory
// that was never written (all ones) is no record.
static uint16_t mark(uint8_t size)
{
	return line_crc(0xFFFF, size);
}

static uint8_t read(uint8_t at, uint8_t *bytes, uint8_t size)
{
	uint16_t crc = mark(size);
	for (uint8_t i = 0; i < size; i++) {
		bytes[i] = store_get((uint8_t)(at + i));
		crc = line_crc(crc, bytes[i]);
	}
	return store_get((uint8_t)(at + size)) == crc >> 8 &&
	       store_get((uint8_t)(at + size + 1)) == (crc & 0xFF);
}

static void write(uint8_t at, const uint8_t *bytes, uint8_t size)
{
	uint16_t crc = mark(size);
	for (uint8_t i = 0; i < size; i++) {
		store_put((uint8_t)(at + i), bytes[i]);
		crc = line_crc(crc, bytes[i]);
	}
	store_put((uint8_t)(at + size), (uint8_t)(crc >> 8));
	store_put((uint8_t)(at + size + 1), (uint8_t)crc);
}

uint8_t store_settings(struct stored *s)
{
	uint8_t a[SETTINGS], b[SETTINGS];
	if (!read(SETTINGS_A, a, SETTINGS) || !read(SETTINGS_B, b, SETTINGS))
		return 0;
	for (uint8_t i = 0; i < SETTINGS; i++)
		if (a[i] != b[i])
			return 0;
	s->guard = a[0];
	s->limit_q = (uint16_t)(a[1] << 8 | a[2]);
	s->window_s = a[3];
	s->mains_hz = a[4];
	return 1;
}

uint8_t store_keep(const struct stored *s)
{
	const uint8_t bytes[SETTINGS] = {s->guard, (uint8_t)(s->limit_q >> 8), (uint8_t)s->limit_q,
	                                 s->window_s, s->mains_hz};
	struct stored back;
	write(SETTINGS_A, bytes, SETTINGS);
	write(SETTINGS_B, bytes, SETTINGS);
	return store_settings(&back) && back.guard == s->guard && back.limit_q == s->limit_q &&
	       back.window_s == s->window_s && back.mains_hz == s->mains_hz;
}

uint16_t store_boot(void)
{
	uint8_t a[BOOT];
	// The first copy is written first, so it is never behind the second.
	if (!read(BOOT_A, a, BOOT) && !read(BOOT_B, a, BOOT))
		a[0] = a[1] = 0;
	uint16_t boot = (uint16_t)((a[0] << 8 | a[1]) + 1);
	a[0] = (uint8_t)(boot >> 8);
	a[1] = (uint8_t)boot;
	write(BOOT_A, a, BOOT);
	write(BOOT_B, a, BOOT);
	return boot;
}
