// The board: an ATmega328P at 16 MHz with thermocouple chips on its SPI bus and a solid-state
// relay at PD4. Off is the resting state of the output.
//
// One timer ticks at every mains half cycle; all else is done in the loop, which sleeps until
// an interrupt. Three tasks check in: time (a half cycle was counted), sense (every channel was
// converted) and talk (every reading found its way out). Only when all three have, four times a
// second, is the watchdog fed.
#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>

#include "chip.h"
#include "config.h"
#include "heat.h"
#include "line.h"
#include "rules.h"
#include "start.h"
#include "store.h"

#ifndef F_CPU
#define F_CPU 16000000UL
#endif
#if F_CPU != 16000000UL
#error "the timer and the serial port are worked out for 16 MHz"
#endif

#define BAUD_DIVISOR 51 // 16 MHz / 8 / 38400 - 1 = 51.08: 0.2 % fast, with U2X0

// Sizes of the rings, powers of two. The most that one line is answered with is an ack and an
// Info: 21 and 68 bytes with the longest name; a reading has 50 at most.
#define IN_SIZE 64
#define OUT_SIZE 128
#define ANSWER_ROOM 112
#define READING_ROOM 50

enum task { TASK_TIME = 1, TASK_SENSE = 2, TASK_TALK = 4, TASK_ALL = 7 };

static struct {
	uint8_t bytes[IN_SIZE];
	volatile uint8_t to, from; // only the interrupt moves to, only the loop from
} in;
static struct {
	uint8_t bytes[OUT_SIZE];
	volatile uint8_t to, from; // the other way round
} out;
static volatile uint8_t halves; // mains half cycles, wraps

static struct line_reader reader;
static struct command command;
static uint8_t waiting; // command holds a line whose answer had no room yet

static struct rules rules;
static struct heat heat;
static uint16_t boot;
static uint16_t seq;

static uint32_t millis;
static uint8_t thirds;                                // of a millisecond, at 60 Hz
static uint8_t counted;                               // of halves
static uint8_t to_sense;                              // halves until the next conversion
static uint32_t words[CHANNELS], sensed;              // of the last conversion
static uint8_t told = CHANNELS;                       // channels of it that were told
static uint8_t tasks;                                 // that have checked in

ISR(TIMER1_COMPA_vect)
{
	halves++;
}

ISR(USART_RX_vect)
{
	uint8_t byte = UDR0, next = (in.to + 1) & (IN_SIZE - 1);
	if (next != in.from) { // a byte without room is lost, and the check of its line tells
		in.bytes[in.to] = byte;
		in.to = next;
	}
}

ISR(USART_UDRE_vect)
{
	if (out.from == out.to) {
		UCSR0B &= (uint8_t)~(1 << UDRIE0);
		return;
	}
	UDR0 = out.bytes[out.from];
	out.from = (out.from + 1) & (OUT_SIZE - 1);
}

uint8_t store_get(uint8_t at)
{
	return eeprom_read_byte((const uint8_t *)(uint16_t)at);
}

void store_put(uint8_t at, uint8_t byte)
{
	eeprom_update_byte((uint8_t *)(uint16_t)at, byte);
}

static uint8_t room(void)
{
	return (out.from - out.to - 1) & (OUT_SIZE - 1);
}

void line_put(uint8_t byte)
{
	out.bytes[out.to] = byte;
	out.to = (out.to + 1) & (OUT_SIZE - 1);
	UCSR0B |= 1 << UDRIE0;
}

// cause is a letter of the protocol. Where a bootloader has cleared the flags nothing is known,
// and the reset line is the usual one then.
static uint8_t cause(void)
{
	if (start_flags & 1 << PORF)
		return 'P';
	if (start_flags & 1 << WDRF)
		return 'W';
	return start_flags & 1 << BORF ? 'B' : 'R';
}

static void tell_about(uint8_t letter)
{
	struct about a = {NAME,      boot,         cause(),      CHIP_NAME, CHANNELS,
	                  CEILING_Q, rules.stored, rules.latches};
	line_about(letter, &a);
}

static uint8_t per_quarter(void) // half cycles in 250 ms
{
	return rules.stored.mains_hz / 2;
}

// pace sets the timer to a mains half cycle: 10 ms, or 8.3335 ms, which is 20 millionths too
// long and less than a crystal is out.
static void pace(void)
{
	TCCR1B = 0;
	TCNT1 = 0;
	OCR1A = rules.stored.mains_hz == 60 ? 16667 - 1 : 20000 - 1; // of 0.5 us
	TCCR1B = 1 << WGM12 | 1 << CS11;
	to_sense = per_quarter();
}

static void drive(void)
{
	if (heat.on && rules.per_mille && rules_heat(&rules))
		HEAT_PORT |= HEAT_BIT;
	else
		HEAT_PORT &= (uint8_t)~HEAT_BIT;
}

static void keep(uint8_t *result)
{
	*result = rules_kept(&rules, store_keep(&rules.proposed));
	heat = (struct heat){0};
	pace();
}

static void obey(void)
{
	uint8_t result;
	enum outcome o = rules_obey(&rules, millis, &command, &result);
	drive();
	if (o == OUTCOME_REFUSED)
		rules_refuse(&rules);
	if (o == OUTCOME_STORE)
		keep(&result);
	if (o >= OUTCOME_ANSWER)
		line_ack(command.seq, command.letter, result, rules.latches);
	if (o == OUTCOME_INFO)
		tell_about('I');
}

static void hear(void)
{
	for (;;) {
		if (waiting) {
			if (command.letter != 'D' && room() < ANSWER_ROOM)
				return;
			waiting = 0;
			obey();
		}
		if (in.from == in.to)
			return;
		uint8_t byte = in.bytes[in.from];
		in.from = (in.from + 1) & (IN_SIZE - 1);
		enum line said = line_feed(&reader, byte, &command);
		waiting = said == LINE_GOOD;
		if (said > LINE_GOOD)
			rules_refuse(&rules);
	}
}

static void tell(void)
{
	while (told < CHANNELS && room() >= READING_ROOM) {
		struct reading r = {seq++,         sensed,     told + 1,     words[told],
		                    rules.latches, rules.last, rules.refused};
		rules.refused = 0;
		told++;
		line_reading(&r);
		if (told == CHANNELS)
			tasks |= TASK_TALK;
	}
}

static void sense(void)
{
	for (uint8_t c = 0; c < CHANNELS; c++)
		words[c] = chip_word(c + 1);
	int16_t q = 0;
#if CHIP == 6675
	uint8_t why = chip_6675(words[rules.stored.guard - 1], &q);
#else
	uint8_t why = chip_31855(words[rules.stored.guard - 1], &q);
#endif
	rules_judge(&rules, why, q);
	drive();
	sensed = millis;
	told = 0;
	tasks |= TASK_SENSE;
}

// half does what each mains half cycle asks for.
static void half(void)
{
	// With the time at which this half cycle began, since a line that came in it is said to have
	// come then: no time of the protocol is cut short.
	rules_time(&rules, millis);
	if (rules.stored.mains_hz == 60) {
		millis += 8;
		if (++thirds == 3) {
			thirds = 0;
			millis++;
		}
	} else {
		millis += 10;
	}
	tasks |= TASK_TIME;
	heat_half(&heat, (uint16_t)(rules.stored.window_s * rules.stored.mains_hz), rules.per_mille,
	          rules_heat(&rules));
	drive();
	if (--to_sense == 0) {
		to_sense = per_quarter();
		sense();
	}
}

static void begin(void)
{
	struct stored kept;
	chip_begin();
	boot = store_boot();
	rules_start(&rules, boot, store_settings(&kept) ? &kept : 0, CHANNELS, CEILING_Q);
	UCSR0A = 1 << U2X0;
	UBRR0 = BAUD_DIVISOR;
	UCSR0C = 1 << UCSZ01 | 1 << UCSZ00;
	UCSR0B = 1 << RXEN0 | 1 << TXEN0 | 1 << RXCIE0;
	pace();
	TIMSK1 = 1 << OCIE1A;
	set_sleep_mode(SLEEP_MODE_IDLE);
	line_put('\r'); // half a line in the cable ends here
	line_put('\n');
	tell_about('B');
	sei();
}

int main(void)
{
	begin();
	for (;;) {
		while (counted != halves) {
			counted++;
			half();
		}
		hear();
		tell();
		if (tasks == TASK_ALL) {
			tasks = 0;
			wdt_reset();
		}
		// Interrupts wait until the processor sleeps, so that none is slept through.
		cli();
		if (counted == halves && in.from == in.to) {
			sleep_enable();
			sei();
			sleep_cpu();
			sleep_disable();
		}
		sei();
	}
}
