/* What the parts of the chip know of each other, and nobody else.
 *
 * Rule: what interrupts hand over goes round in a ring; each of its two indices is written from one side only.
 */
#ifndef CHIP_PARTS_H
#define CHIP_PARTS_H

#include <avr/io.h>
#include <avr/interrupt.h>
#include <stddef.h>
#include <util/atomic.h>

#include "chip.h"

#if F_CPU != 16000000UL
#error "Every time in here is reckoned for 16 MHz."
#endif

static inline uint8_t after(uint8_t index, uint8_t count)
{
    return (uint8_t)(index + 1 == count ? 0 : index + 1);
}

/* Samples of half a millisecond since the reader's last edge, as far as they are counted: 30 ms. Timer 1 goes round in 32.8. */
enum { QUIET_SAMPLES = 60 };
extern volatile uint8_t chip_quiet;

void chip_host_start(void);

/* Before the pins have settled, and behind it. */
void chip_reader_start(void);
void chip_reader_ready(void);

#endif
