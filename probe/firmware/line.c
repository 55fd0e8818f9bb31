#include "line.h"

#define TAIL 7 // *FFFF CR LF

uint16_t line_crc(uint16_t crc, uint8_t byte)
{
	// The eight steps of the polynomial 1021 at once: each bit that falls out comes back at three
	// places, and those of the upper half once more.
	crc = (uint16_t)((uint16_t)(crc >> 8 | crc << 8) ^ byte);
	crc = (uint16_t)(crc ^ (uint8_t)((uint8_t)crc >> 4));
	crc = (uint16_t)(crc ^ (uint16_t)(crc << 12));
	return (uint16_t)(crc ^ (uint16_t)((crc & 0xFF) << 5));
}

uint8_t line_stored(const struct stored *s)
{
	return s->guard >= 1 && s->guard <= 8 && s->limit_q >= 1 && s->limit_q <= 8191 &&
	       s->window_s >= 2 && s->window_s <= 60 && (s->mains_hz == 50 || s->mains_hz == 60);
}

// Fields are read from left to right, and the first fault is kept.
struct fields {
	const uint8_t *at, *end; // end is the star
	uint8_t over;            // the last field was read
	uint8_t fault;           // LINE_NONE, LINE_FORM or LINE_RANGE
};

static void fail(struct fields *f, uint8_t fault)
{
	if (f->fault == LINE_NONE)
		f->fault = fault;
}

// next_field gives where the next field ends, and leaves its beginning in *from.
static const uint8_t *next_field(struct fields *f, const uint8_t **from)
{
	*from = f->at;
	if (f->over) {
		fail(f, LINE_FORM);
		return f->at;
	}
	while (f->at < f->end && *f->at != ',')
		f->at++;
	const uint8_t *to = f->at;
	if (f->at < f->end)
		f->at++;
	else
		f->over = 1;
	return to;
}

static uint16_t number(struct fields *f, uint16_t low, uint16_t high)
{
	const uint8_t *p, *to = next_field(f, &p);
	uint32_t v = 0;
	if (p == to || (to - p > 1 && *p == '0')) {
		fail(f, LINE_FORM);
		return 0;
	}
	for (; p < to; p++) {
		if (*p < '0' || *p > '9') {
			fail(f, LINE_FORM);
			return 0;
		}
		v = v * 10 + (*p - '0');
		if (v > 0x10000)
			v = 0x10000; // above every range
	}
	if (v < low || v > high) {
		fail(f, LINE_RANGE);
		return 0;
	}
	return (uint16_t)v;
}

// hex4 reads four digits at p; *good becomes 0 if they are none.
static uint16_t hex4(const uint8_t *p, uint8_t *good)
{
	uint16_t v = 0;
	for (uint8_t i = 0; i < 4; i++) {
		uint8_t c = p[i];
		if (c >= '0' && c <= '9')
			c = (uint8_t)(c - '0');
		else if (c >= 'A' && c <= 'F')
			c = (uint8_t)(c - 'A' + 10);
		else
			*good = 0;
		v = (uint16_t)(v << 4 | (c & 15));
	}
	return v;
}

static uint16_t hex_field(struct fields *f)
{
	const uint8_t *p, *to = next_field(f, &p);
	uint8_t good = to - p == 4;
	uint16_t v = good ? hex4(p, &good) : 0;
	if (!good)
		fail(f, LINE_FORM);
	return v;
}

static void settings(struct fields *f, struct stored *s)
{
	s->guard = (uint8_t)number(f, 1, 8);
	s->limit_q = number(f, 1, 8191);
	s->window_s = (uint8_t)number(f, 2, 60);
	s->mains_hz = (uint8_t)number(f, 50, 60);
	if (s->mains_hz != 50 && s->mains_hz != 60)
		fail(f, LINE_RANGE);
}

static enum line decode(const uint8_t *line, uint8_t count, struct command *c)
{
	if (count < TAIL)
		return LINE_FORM;
	const uint8_t *star = line + count - TAIL;
	uint8_t good = *star == '*' && star[5] == '\r';
	uint16_t want = hex4(star + 1, &good);
	if (!good)
		return LINE_FORM;
	uint16_t crc = 0xFFFF;
	for (const uint8_t *p = line; p < star; p++)
		crc = line_crc(crc, *p);
	if (crc != want)
		return LINE_CRC;
	if (star - line < 3 || line[1] != ',')
		return LINE_FORM;
	struct fields f = {line + 2, star, 0, LINE_NONE};
	c->letter = line[0];
	c->check = crc;
	c->seq = number(&f, 0, 0xFFFF);
	switch (c->letter) {
	case 'D':
		c->value = number(&f, 0, 1000);
		break;
	case 'P':
		settings(&f, &c->stored);
		break;
	case 'C':
		c->value = hex_field(&f);
		break;
	case 'Q':
	case 'X':
		break;
	default:
		return LINE_FORM;
	}
	if (!f.over)
		fail(&f, LINE_FORM);
	return f.fault == LINE_NONE ? LINE_GOOD : (enum line)f.fault;
}

enum line line_feed(struct line_reader *r, uint8_t byte, struct command *c)
{
	if (r->skip) {
		r->skip = byte != '\n';
		return LINE_NONE;
	}
	r->bytes[r->count++] = byte;
	if (byte == '\n') {
		uint8_t count = r->count;
		r->count = 0;
		if (count == 2 && r->bytes[0] == '\r')
			return LINE_NONE;
		return decode(r->bytes, count, c);
	}
	if (r->count == LINE_BYTES) {
		r->count = 0;
		r->skip = 1;
		return LINE_LONG;
	}
	return LINE_NONE;
}

static uint16_t sum; // of the line that is being written

static void put(uint8_t byte)
{
	sum = line_crc(sum, byte);
	line_put(byte);
}

static void begin(uint8_t letter)
{
	sum = 0xFFFF;
	put(letter);
}

static void put_hex(uint32_t v, uint8_t digits)
{
	while (digits--) {
		uint8_t d = (uint8_t)(v >> (4 * digits)) & 15;
		put((uint8_t)(d < 10 ? '0' + d : 'A' + d - 10));
	}
}

static void put_number(uint32_t v)
{
	uint8_t digits[10], n = 0;
	for (; v > 0xFFFF; v /= 10)
		digits[n++] = (uint8_t)('0' + v % 10);
	uint16_t low = (uint16_t)v; // a short division is much quicker here
	do {
		digits[n++] = (uint8_t)('0' + low % 10);
		low /= 10;
	} while (low);
	put(',');
	while (n)
		put(digits[--n]);
}

static void put_text(const char *s)
{
	put(',');
	while (*s)
		put((uint8_t)*s++);
}

static void put_letter(uint8_t letter)
{
	put(',');
	put(letter);
}

static void put_latches(uint8_t latches)
{
	put(',');
	put_hex(latches, 2);
}

static void finish(void)
{
	uint16_t check = sum;
	put('*');
	put_hex(check, 4);
	put('\r');
	put('\n');
}

void line_about(uint8_t letter, const struct about *a)
{
	begin(letter);
	put_number(1); // the protocol's version
	put_text(a->name);
	put_number(a->boot);
	put_letter(a->cause);
	put_text(a->chip);
	put_number(a->channels);
	put_number(a->ceiling_q);
	put_number(a->stored.guard);
	put_number(a->stored.limit_q);
	put_number(a->stored.window_s);
	put_number(a->stored.mains_hz);
	put_latches(a->latches);
	finish();
}

void line_reading(const struct reading *r)
{
	begin('R');
	put_number(r->seq);
	put_number(r->millis);
	put_number(r->channel);
	put(',');
	put_hex(r->raw, 8);
	put_latches(r->latches);
	put_number(r->accepted);
	put_number(r->refused);
	finish();
}

void line_ack(uint16_t seq, uint8_t of, uint8_t result, uint8_t latches)
{
	begin('A');
	put_number(seq);
	put_letter(of);
	put_letter(result);
	put_latches(latches);
	finish();
}
