#include "chip.h"

#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <stddef.h>
#include <util/atomic.h>

#include "boots.h"
#include "debounce.h"

#if F_CPU != 16000000UL
#error "Every time in here is reckoned for 16 MHz."
#endif

enum {
    BAUD_DIVISOR = 16,     /* 117647 baud, 2.1 % from 115200: as near as 16 MHz comes, and near enough */
    SAMPLE_COUNTS = 250,   /* of 2 us: half a millisecond */
    QUIET_SAMPLES = 60,    /* 30 ms without an edge: timer 1 goes round in 32.8 ms */
    LONG_EDGE = 0xFFFE,
    SAY_BYTES = 256,       /* indices of 8 bits go round by themselves */
    TOLD_BYTES = 64,
    CHANGES = 8,
    READER_EDGES = 48,     /* 5 ms of the fastest line */
    RAW_EDGES = 24,
    PAINT = 0xC5
};

_Static_assert(F_CPU / 8 / (BAUD_DIVISOR + 1) * 1000 / 115200 < 1025, "baud: a receiver bears 4.5 % over a byte");

/* -- the start, before any variable is set --------------------------------------------------------------------------- */

extern uint8_t _end; /* where variables end */
static uint8_t reset_flags __attribute__((section(".noinit")));

/* The watchdog still runs after it has struck, at its shortest: it is stopped here. Some bootloaders read and clear MCUSR
 * and hand its content on in register 2 (from memory: no source); where MCUSR tells nothing that is taken, if it can be one. */
void note_reset(void) __attribute__((naked, used, section(".init3")));
void note_reset(void)
{
    uint8_t handed;
    __asm__ volatile("mov %0, r2" : "=r"(handed));
    reset_flags = MCUSR ? MCUSR : handed;
    MCUSR = 0;
    wdt_disable();
    for (uint8_t *at = &_end; at < (uint8_t *)SP; ++at) {
        *at = PAINT;
    }
}

const char *chip_reset_reason(void)
{
    if (reset_flags == 0 || reset_flags > 0x0F) {
        return NULL;
    }
    return reset_flags & _BV(PORF)   ? PSTR("power")
           : reset_flags & _BV(BORF) ? PSTR("brownout")
           : reset_flags & _BV(WDRF) ? PSTR("watchdog")
                                     : PSTR("external");
}

uint16_t chip_free(void)
{
    const uint8_t *at = &_end;
    while (at < (const uint8_t *)SP && *at == PAINT) {
        ++at;
    }
    return (uint16_t)(at - &_end);
}

uint8_t cell_read(uint16_t cell)
{
    return eeprom_read_byte((const uint8_t *)cell);
}

void cell_write(uint16_t cell, uint8_t byte)
{
    eeprom_update_byte((uint8_t *)cell, byte);
}

/* -- what interrupts hand over: each index is written from one side only ---------------------------------------------- */

static volatile char say[SAY_BYTES];
static volatile uint8_t say_in, say_out;
static volatile char told[TOLD_BYTES];
static volatile uint8_t told_in, told_out;
static volatile struct change changes[CHANGES];
static volatile uint8_t changes_in, changes_out;
static volatile uint16_t reader_edges[READER_EDGES]; /* half microseconds; the lowest bit is the level */
static volatile uint8_t reader_in, reader_out;
static volatile struct {
    uint32_t us; /* even; the lowest bit is the level */
    uint8_t port_pin; /* the port times 8, and the number of its pin */
} raw_edges[RAW_EDGES];
static volatile uint8_t raw_in, raw_out;

static uint8_t after(uint8_t index, uint8_t count)
{
    return (uint8_t)(index + 1 == count ? 0 : index + 1);
}

/* -- time and inputs ------------------------------------------------------------------------------------------------- */

static volatile uint32_t now_ms;
static volatile uint8_t is_half; /* half a millisecond more */
static volatile uint8_t quiet;   /* samples since the reader's last edge */
static struct debounce debounced[PORTS];
static struct pins watched_pins, raw_levels, input_pins;
static uint8_t debounce_samples;

static uint8_t port_now(uint8_t port)
{
    return port == PORT_B ? PINB : port == PORT_C ? PINC : PIND;
}

static inline void sample(uint8_t port, uint8_t levels)
{
    uint8_t next = after(changes_in, CHANGES);
    if (next == changes_out) {
        return; /* no room: looked at again in the next sample, nothing is lost */
    }
    uint8_t changed = debounce_sample(&debounced[port], levels, input_pins.of[port], debounce_samples);
    if (changed) {
        volatile struct change *change = &changes[changes_in];
        change->ms = now_ms;
        change->port = port;
        change->changed = changed;
        change->levels = debounced[port].steady;
        changes_in = next;
    }
}

ISR(TIMER2_COMPA_vect)
{
    uint8_t b = PINB, c = PINC, d = PIND;
    if (is_half) {
        ++now_ms;
    }
    is_half ^= 1;
    if (quiet < QUIET_SAMPLES) {
        ++quiet;
    }
    sample(PORT_B, b);
    sample(PORT_C, c);
    sample(PORT_D, d);
}

uint32_t chip_ms(void)
{
    uint32_t ms;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        ms = now_ms;
    }
    return ms;
}

/* To be called with interrupts off. */
static uint32_t us_now(void)
{
    uint8_t count = TCNT2;
    uint16_t more = is_half ? 500 : 0;
    if (TIFR2 & _BV(OCF2A) && count < SAMPLE_COUNTS / 2) {
        more += 500; /* the counter has gone round, and its interrupt waits */
    }
    return now_ms * 1000 + more + 2u * count;
}

uint8_t chip_levels(uint8_t port)
{
    uint8_t levels;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        levels = debounced[port].steady;
    }
    return levels;
}

bool chip_change(struct change *change)
{
    if (changes_out == changes_in) {
        return false;
    }
    volatile struct change *oldest = &changes[changes_out];
    change->ms = oldest->ms;
    change->port = oldest->port;
    change->changed = oldest->changed;
    change->levels = oldest->levels;
    changes_out = after(changes_out, CHANGES);
    return true;
}

/* -- watched inputs --------------------------------------------------------------------------------------------------- */

static inline void pins_moved(uint8_t port, uint8_t levels)
{
    uint8_t moved = (uint8_t)((levels ^ raw_levels.of[port]) & watched_pins.of[port]);
    raw_levels.of[port] = levels;
    for (uint8_t pin = 0; moved; ++pin, moved >>= 1, levels >>= 1) {
        uint8_t next = after(raw_in, RAW_EDGES);
        if (moved & 1 && next != raw_out) {
            raw_edges[raw_in].us = us_now() | (levels & 1);
            raw_edges[raw_in].port_pin = (uint8_t)(port * 8 + pin);
            raw_in = next;
        }
    }
}

ISR(PCINT0_vect)
{
    pins_moved(PORT_B, PINB);
}

ISR(PCINT1_vect)
{
    pins_moved(PORT_C, PINC);
}

ISR(PCINT2_vect)
{
    pins_moved(PORT_D, PIND);
}

void chip_watch(struct pins watched)
{
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        for (uint8_t port = 0; port < PORTS; ++port) {
            raw_levels.of[port] = port_now(port);
        }
        watched_pins = watched;
        PCMSK0 = watched.of[PORT_B];
        PCMSK1 = watched.of[PORT_C];
        PCMSK2 = watched.of[PORT_D];
        PCIFR = _BV(PCIF0) | _BV(PCIF1) | _BV(PCIF2);
        PCICR = _BV(PCIE0) | _BV(PCIE1) | _BV(PCIE2);
    }
}

bool chip_raw_edge(struct raw_edge *edge)
{
    if (raw_out == raw_in) {
        return false;
    }
    uint32_t us = raw_edges[raw_out].us;
    uint8_t port_pin = raw_edges[raw_out].port_pin;
    edge->us = us & ~1ul;
    edge->level = us & 1;
    edge->port = port_pin / 8;
    edge->pin = (uint8_t)(1u << port_pin % 8);
    raw_out = after(raw_out, RAW_EDGES);
    return true;
}

/* -- the reader's line: the chip stamps each edge of pin 8 by itself -------------------------------------------------- */

static uint16_t last_edge;

ISR(TIMER1_CAPT_vect)
{
    uint16_t at = ICR1;
    bool level = PINB & _BV(PB0);
    if (level) { /* the next edge is the other one, whatever this was */
        TCCR1B &= (uint8_t)~_BV(ICES1);
    } else {
        TCCR1B |= _BV(ICES1);
    }
    TIFR1 = _BV(ICF1);
    uint16_t halves = quiet < QUIET_SAMPLES ? (uint16_t)(at - last_edge) : LONG_EDGE;
    last_edge = at;
    quiet = 0;
    uint8_t next = after(reader_in, READER_EDGES);
    if (next != reader_out) {
        reader_edges[reader_in] = (uint16_t)((halves & ~1u) | !level);
        reader_in = next;
    }
}

bool chip_reader_edge(uint16_t *us, bool *level)
{
    if (reader_out == reader_in) {
        return false;
    }
    uint16_t edge = reader_edges[reader_out];
    reader_out = after(reader_out, READER_EDGES);
    *us = edge >> 1;
    *level = edge & 1;
    return true;
}

bool chip_reader_quiet(uint16_t *us, bool *level)
{
    bool is_quiet = false;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        if (reader_out == reader_in && !(TIFR1 & _BV(ICF1))) {
            uint16_t halves = quiet < QUIET_SAMPLES ? (uint16_t)(TCNT1 - last_edge) : LONG_EDGE;
            *us = halves >> 1;
            *level = !(TCCR1B & _BV(ICES1)); /* it waits for the edge away from how the line stands */
            is_quiet = true;
        }
    }
    return is_quiet;
}

/* -- the host's line -------------------------------------------------------------------------------------------------- */

ISR(USART_RX_vect)
{
    bool is_broken = UCSR0A & _BV(FE0);
    char byte = (char)UDR0;
    uint8_t next = (uint8_t)((told_in + 1) % TOLD_BYTES);
    if (next != told_out && !is_broken) { /* what is missing here fails by its checksum */
        told[told_in] = byte;
        told_in = next;
    }
}

ISR(USART_UDRE_vect)
{
    if (say_out == say_in) {
        UCSR0B &= (uint8_t)~_BV(UDRIE0);
        return;
    }
    UDR0 = (uint8_t)say[say_out];
    ++say_out;
}

bool chip_told(char *byte)
{
    if (told_out == told_in) {
        return false;
    }
    *byte = told[told_out];
    told_out = (uint8_t)((told_out + 1) % TOLD_BYTES);
    return true;
}

uint8_t chip_room(void)
{
    return (uint8_t)(say_out - say_in - 1);
}

void chip_say(const char *bytes, uint8_t length)
{
    while (length--) {
        say[say_in] = *bytes++;
        ++say_in;
    }
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        UCSR0B |= _BV(UDRIE0);
    }
}

/* -- all of it -------------------------------------------------------------------------------------------------------- */

void chip_start(struct pins inputs, uint8_t samples, bool has_reader)
{
    cli();
    input_pins = inputs;
    debounce_samples = samples;
    DDRB &= (uint8_t)~inputs.of[PORT_B];
    DDRC &= (uint8_t)~inputs.of[PORT_C];
    DDRD &= (uint8_t)~inputs.of[PORT_D];
    PORTB |= inputs.of[PORT_B];
    PORTC |= inputs.of[PORT_C];
    PORTD |= inputs.of[PORT_D];

    TCCR2A = _BV(WGM21);
    TCCR2B = _BV(CS21) | _BV(CS20);
    OCR2A = SAMPLE_COUNTS - 1;
    TIMSK2 = _BV(OCIE2A);

    if (has_reader) {
        DDRB &= (uint8_t)~_BV(PB0);
        PORTB |= _BV(PB0);
        TCCR1A = 0;
        TCCR1B = _BV(ICNC1) | _BV(CS11);
        TIMSK1 = _BV(ICIE1);
    }

    UCSR0A = _BV(U2X0);
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UBRR0 = BAUD_DIVISOR;
    UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
    wdt_enable(WDTO_500MS);

    /* A wire of 10 nF on a pull-up of 50 kilo-ohms is up after 2 ms: only then is it looked at for the first time. */
    TCNT2 = 0;
    for (uint8_t n = 0; n < 5; ++n) {
        TIFR2 = _BV(OCF2A);
        while (!(TIFR2 & _BV(OCF2A))) {
        }
    }
    for (uint8_t port = 0; port < PORTS; ++port) {
        debounced[port].steady = port_now(port);
    }
    if (has_reader && !(PINB & _BV(PB0))) {
        TCCR1B |= _BV(ICES1);
    }
    sei();
}

void chip_alive(void)
{
    wdt_reset();
}

void chip_rest(void)
{
    uint8_t half = is_half;
    set_sleep_mode(SLEEP_MODE_IDLE);
    sleep_enable();
    for (;;) {
        cli();
        if (half != is_half) {
            break;
        }
        sei(); /* takes effect only behind the next instruction: no interrupt comes in between */
        sleep_cpu();
    }
    sei();
    sleep_disable();
}
