/* How many times the board has started, kept in EEPROM.
 *
 * Pure but for two functions that the chip brings. Each start writes the next of 64 places, once: a cell is written every
 * 64th start, and lasts as many times as long. A place counts only with its check byte right, so a start that is cut short
 * while it writes leaves the number before as the greatest: it was not used yet, for the board speaks only afterwards.
 */
#ifndef BOOTS_H
#define BOOTS_H

#include <stdint.h>

enum { BOOT_PLACES = 64, BOOT_PLACE_BYTES = 5 };

uint8_t cell_read(uint16_t cell);
void cell_write(uint16_t cell, uint8_t byte);

/* Count this start; its number, from 1. A place that does not hold what was written is passed over. */
uint32_t boots_count(void);

#endif
