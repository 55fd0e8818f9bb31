// The line protocol as bytes. Its grammar is the package comment of probe/board/doc.go; the
// rows of testdata/board/vectors.txt hold for this code as for the Go code.
#ifndef LINE_H
#define LINE_H

#include <stdint.h>

#define LINE_BYTES 96 // the longest line, its end included

// What a byte ended, and the kinds of a bad line: the first that applies is told, in this order.
enum line {
	LINE_NONE, // nothing, or an empty line
	LINE_GOOD,
	LINE_LONG,
	LINE_FORM, // also a board's own line, such as an echo
	LINE_CRC,
	LINE_RANGE
};

// The settings that survive a power cut.
struct stored {
	uint8_t guard;    // 1 to 8
	uint16_t limit_q; // 1 to 8191, quarter degrees of the chip's own straight line
	uint8_t window_s; // 2 to 60
	uint8_t mains_hz; // 50 or 60
};

// A host's line.
struct command {
	uint8_t letter; // D, Q, P, C or X
	uint16_t seq;
	uint16_t value;       // D: per mille, 0 to 1000; C: the check that it repeats
	struct stored stored; // P
	uint16_t check;       // of this line, which a commit repeats
};

// What a board says of itself.
struct about {
	const char *name;
	uint16_t boot;
	uint8_t cause; // P, R, W or B
	const char *chip;
	uint8_t channels;
	uint16_t ceiling_q;
	struct stored stored;
	uint8_t latches;
};

struct reading {
	uint16_t seq;
	uint32_t millis;
	uint8_t channel;
	uint32_t raw;
	uint8_t latches;
	uint16_t accepted;
	uint8_t refused;
};

// A line that is coming in. All zeros is ready.
struct line_reader {
	uint8_t bytes[LINE_BYTES];
	uint8_t count;
	uint8_t skip; // in a line that was told as too long
};

// line_crc gives CRC-16/CCITT-FALSE with one byte more; it begins with 0xFFFF.
uint16_t line_crc(uint16_t crc, uint8_t byte);

// line_feed takes the next byte from the host; with LINE_GOOD, *c is the line that it ended.
enum line line_feed(struct line_reader *r, uint8_t byte, struct command *c);

// line_stored tells whether every setting is in the range of its field.
uint8_t line_stored(const struct stored *s);

// line_about writes a boot line (letter B) or its answer to a query (I).
void line_about(uint8_t letter, const struct about *a);
void line_reading(const struct reading *r);
void line_ack(uint16_t seq, uint8_t of, uint8_t result, uint8_t latches);

// line_put takes each byte of a line that is written; whoever uses this code has it.
void line_put(uint8_t byte);

#endif
