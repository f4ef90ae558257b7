/* What the parts of the harness know of each other: events, the chip, and what the harness makes of what the chip says. */
#ifndef HARNESS_H
#define HARNESS_H

#include <simavr/sim_avr.h>
#include <stdbool.h>

enum { MHZ = 16 };

/* -- harness_events.c: what is to happen, and when -------------------------------------------------------------------- */

typedef enum { PIN, TO_UART, RESET, POWER, HANG } what_t;

typedef struct {
    avr_cycle_count_t when;
    unsigned long order; /* events of the same moment happen in the order in which they were told */
    what_t what;
    int pin, value;
} event_t;

void plan(avr_cycle_count_t when, what_t what, int pin, int value);

/* The next one; NULL where none waits. */
const event_t *next_event(void);

/* The next one, which waits no more; there has to be one. */
event_t take_event(void);

/* -- harness_chip.c: the chip, and what is wired to it ---------------------------------------------------------------- */

extern avr_t *avr;

void start(const char *firmware, const char *eeprom_file);

/* Have the next event happen at its moment. To be called whenever events were planned. */
void wait_for_next(void);

void run_to(avr_cycle_count_t target);
void keep_eeprom(const char *eeprom_file);

/* The longest that interrupts were off in a row, starts left out. */
double longest_off_us(void);

/* -- harness.c -------------------------------------------------------------------------------------------------------- */

/* The firmware has sent a byte. */
void from_firmware(char byte);

/* The chip starts: what it had half said is half said. */
void forget_half_line(void);

void fail(const char *why, const char *what);

#endif
