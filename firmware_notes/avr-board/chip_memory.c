/* Memory: why the chip has started, noted before any variable is set; the RAM that was never used; EEPROM. */
#include <avr/eeprom.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/wdt.h>
#include <stddef.h>

#include "boots.h"
#include "chip.h"

enum { PAINT = 0xC5 };

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
