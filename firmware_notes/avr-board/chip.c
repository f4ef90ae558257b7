#include "chip_parts.h"

#include <avr/sleep.h>
#include <avr/wdt.h>

#include "debounce.h"

enum {
    SAMPLE_COUNTS = 250, /* of 2 us: half a millisecond */
    CHANGES = 8,
    RAW_EDGES = 24
};

/* -- what interrupts hand over --------------------------------------------------------------------------------------- */

static volatile struct change changes[CHANGES];
static volatile uint8_t changes_in, changes_out;
static volatile struct {
    uint32_t us; /* even; the lowest bit is the level */
    uint8_t port_pin; /* the port times 8, and the number of its pin */
} raw_edges[RAW_EDGES];
static volatile uint8_t raw_in, raw_out;

/* -- time and inputs ------------------------------------------------------------------------------------------------- */

static volatile uint32_t now_ms;
static volatile uint8_t is_half; /* half a millisecond more */
volatile uint8_t chip_quiet;
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
    if (chip_quiet < QUIET_SAMPLES) {
        ++chip_quiet;
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
        chip_reader_start();
    }
    chip_host_start();
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
    if (has_reader) {
        chip_reader_ready();
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
