/* The reader's line: the chip stamps each edge of pin 8 by itself. */
#include "chip_parts.h"

enum { LONG_EDGE = 0xFFFE, READER_EDGES = 48 /* 5 ms of the fastest line */ };

static volatile uint16_t reader_edges[READER_EDGES]; /* half microseconds; the lowest bit is the level */
static volatile uint8_t reader_in, reader_out;
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
    uint16_t halves = chip_quiet < QUIET_SAMPLES ? (uint16_t)(at - last_edge) : LONG_EDGE;
    last_edge = at;
    chip_quiet = 0;
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
            uint16_t halves = chip_quiet < QUIET_SAMPLES ? (uint16_t)(TCNT1 - last_edge) : LONG_EDGE;
            *us = halves >> 1;
            *level = !(TCCR1B & _BV(ICES1)); /* it waits for the edge away from how the line stands */
            is_quiet = true;
        }
    }
    return is_quiet;
}

void chip_reader_start(void)
{
    DDRB &= (uint8_t)~_BV(PB0);
    PORTB |= _BV(PB0);
    TCCR1A = 0;
    TCCR1B = _BV(ICNC1) | _BV(CS11);
    TIMSK1 = _BV(ICIE1);
}

void chip_reader_ready(void)
{
    if (!(PINB & _BV(PB0))) {
        TCCR1B |= _BV(ICES1);
    }
}
