#include "mcu.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "avr_eeprom.h"
#include "avr_ioport.h"
#include "avr_spi.h"
#include "avr_uart.h"
#include "sim_avr.h"
#include "sim_elf.h"

#define BYTE_CYCLES 4167 // ten bits at 38,400 baud
#define PATTERN 0xC5

// Data addresses of the ATmega328P.
#define MCUSR 0x54
#define TIMSK1 0x6F
#define EXTRF 2
#define PORF 1

static avr_t *avr;
static struct mcu_calls calls;
static avr_irq_t *to_spi, *to_uart;

static uint64_t before;  // cycles of earlier starts, and those that were skipped
static uint64_t held;    // the processor stands until then
static int halted, fell; // the time asked for has come; the processor was reset
static uint64_t fell_at;

static int pin;
static int selected; // channel, 0 if none
static uint32_t word;
static int bytes_left;

static uint8_t line[65536];
static unsigned line_to, line_from;
static int line_busy;

static int lock_wanted, lock_deaf, locked;
static avr_flashaddr_t lock_at;
static uint8_t lock_code[2];

static int floor_of_stack;

uint64_t mcu_now(void)
{
	return before + avr->cycle;
}

static void set_pin(int on)
{
	if (on == pin)
		return;
	pin = on;
	calls.pin(on);
}

static void on_heater(avr_irq_t *irq, uint32_t value, void *param)
{
	(void)irq, (void)param;
	set_pin(value & 1);
}

static void on_select(avr_irq_t *irq, uint32_t value, void *param)
{
	(void)irq;
	int channel = (int)(intptr_t)param;
	if (!value && selected != channel) {
		selected = channel;
		int size;
		word = calls.word(channel, &size);
		bytes_left = size;
	} else if (value && selected == channel) {
		selected = 0;
	}
}

static void on_spi(avr_irq_t *irq, uint32_t value, void *param)
{
	(void)irq, (void)value, (void)param;
	// With no chip selected the pull-up of the data line is read.
	uint32_t byte = 0xFF;
	if (selected && bytes_left > 0)
		byte = word >> 8 * --bytes_left & 0xFF;
	avr_raise_irq(to_spi, byte);
}

static void on_said(avr_irq_t *irq, uint32_t value, void *param)
{
	(void)irq, (void)param;
	calls.said((uint8_t)value);
}

static avr_cycle_count_t next_byte(avr_t *a, avr_cycle_count_t when, void *param)
{
	(void)a, (void)param;
	if (line_from == line_to) {
		line_busy = 0;
		return 0;
	}
	avr_raise_irq(to_uart, line[line_from]);
	line_from = (line_from + 1) % sizeof line;
	return when + BYTE_CYCLES;
}

int mcu_hear(uint8_t byte)
{
	if (held > mcu_now())
		return 1; // the bootloader takes it for a request of its own, and drops it
	unsigned next = (line_to + 1) % sizeof line;
	if (next == line_from)
		return 0;
	line[line_to] = byte;
	line_to = next;
	if (!line_busy) {
		line_busy = 1;
		avr_cycle_timer_register(avr, BYTE_CYCLES, next_byte, NULL);
	}
	return 1;
}

static avr_cycle_count_t halt(avr_t *a, avr_cycle_count_t when, void *param)
{
	(void)a, (void)param;
	halted = 1;
	return when + 1; // or a processor that sleeps would go on to the next timer at once
}

static void on_reset(avr_t *a)
{
	fell = 1;
	fell_at = a->cycle;
}

static void no_sleep(avr_t *a, avr_cycle_count_t cycles)
{
	(void)a, (void)cycles;
}

// started tidies up after a reset: the simulated processor may begin its cycles anew and forgets
// its timers, and while the bootloader has the board its pins are inputs.
static void started(char cause)
{
	if (avr->cycle < fell_at)
		before += fell_at - avr->cycle;
	fell = 0;
	line_to = line_from = 0;
	line_busy = selected = 0;
	if (locked)
		memcpy(avr->flash + lock_at, lock_code, 2);
	locked = lock_wanted = 0;
	set_pin(0);
	held = mcu_now() + MCU_BOOT;
	calls.start(cause);
}

void mcu_reset(void)
{
	avr_reset(avr);
	avr->data[MCUSR] = EXTRF;
	started('R');
}

void mcu_lock(int deaf)
{
	lock_wanted = 1;
	lock_deaf = deaf;
}

void mcu_stop_clock(void)
{
	avr->data[TIMSK1] = 0;
}

// lock puts a jump to itself where the program goes on after its sleep.
static void lock(void)
{
	const uint8_t stay[2] = {0xFF, 0xCF};
	lock_at = avr->pc;
	memcpy(lock_code, avr->flash + lock_at, 2);
	memcpy(avr->flash + lock_at, stay, 2);
	locked = 1;
	lock_wanted = 0;
	if (lock_deaf) {
		avr->sreg[S_I] = 0;
		avr->state = cpu_Running;
	}
}

void mcu_run(uint64_t until)
{
	while (mcu_now() < until) {
		if (held > mcu_now()) {
			before += (held < until ? held : until) - mcu_now();
			continue;
		}
		halted = 0;
		avr_cycle_timer_register(avr, until - mcu_now(), halt, NULL);
		while (!halted && !fell) {
			if (lock_wanted && pin && avr->state == cpu_Sleeping)
				lock();
			int state = avr_run(avr);
			if (state == cpu_Done || state == cpu_Crashed) {
				fprintf(stderr, "the processor has stopped at %x\n", avr->pc);
				exit(1);
			}
		}
		avr_cycle_timer_cancel(avr, halt, NULL);
		if (fell)
			started('W');
	}
}

int mcu_stack(void)
{
	int at = floor_of_stack;
	while (at <= avr->ramend && avr->data[at] == PATTERN)
		at++;
	return avr->ramend + 1 - at;
}

// quiet takes libsimavr's own messages, which it would mix into what the bench prints.
static void quiet(avr_t *a, const int level, const char *form, va_list args)
{
	(void)a;
	if (level == LOG_ERROR)
		vfprintf(stderr, form, args);
}

static void watch(char port, int bit, avr_irq_notify_t call, int channel)
{
	avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(port), bit), call,
	                        (void *)(intptr_t)channel);
}

int mcu_begin(const char *elf, const uint8_t *eeprom, int size, struct mcu_calls c)
{
	static elf_firmware_t firmware;
	calls = c;
	avr_global_logger_set(quiet);
	if (elf_read_firmware(elf, &firmware)) {
		fprintf(stderr, "%s: no firmware that can be read\n", elf);
		return 1;
	}
	avr = avr_make_mcu_by_name("atmega328p");
	if (!avr) {
		fprintf(stderr, "libsimavr has no atmega328p\n");
		return 1;
	}
	avr_init(avr);
	avr->log = 0;
	avr->frequency = MCU_HZ;
	firmware.frequency = MCU_HZ;
	firmware.eeprom = NULL;
	firmware.eesize = 0;
	avr_load_firmware(avr, &firmware);
	avr->sleep = no_sleep;
	avr->reset = on_reset;
	avr_eeprom_desc_t kept = {(uint8_t *)eeprom, 0, (uint32_t)size};
	avr_ioctl(avr, AVR_IOCTL_EEPROM_SET, &kept);
	uint32_t flags = 0; // the port does not print, and asking for its state does not put us to sleep
	avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
	to_spi = avr_io_getirq(avr, AVR_IOCTL_SPI_GETIRQ(0), SPI_IRQ_INPUT);
	to_uart = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT);
	avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_SPI_GETIRQ(0), SPI_IRQ_OUTPUT), on_spi, NULL);
	avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_said,
	                        NULL);
	watch('D', 4, on_heater, 0);
	watch('B', 2, on_select, 1);
	watch('B', 1, on_select, 2);
	watch('B', 0, on_select, 3);
	watch('D', 7, on_select, 4);
	floor_of_stack = (int)(0x100 + firmware.datasize + firmware.bsssize + 16);
	memset(avr->data + floor_of_stack, PATTERN, (size_t)(avr->ramend + 1 - floor_of_stack));
	avr->data[MCUSR] = PORF;
	fell_at = 0;
	started('P');
	return 0;
}
