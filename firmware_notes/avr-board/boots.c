#include "boots.h"

#include <stdbool.h>

/* So that neither erased cells (all ones) nor zeros are right by themselves. */
enum { CHECK = 0xA5 };

/* More starts than EEPROM lives to see: what is greater was written by another program. */
#define MOST_STARTS 0xFFFFFFul

static bool read_place(uint8_t place, uint32_t *number)
{
    uint16_t cell = (uint16_t)place * BOOT_PLACE_BYTES;
    uint8_t check = CHECK;
    *number = 0;
    for (uint8_t n = 0; n < BOOT_PLACE_BYTES - 1; ++n) {
        uint8_t byte = cell_read(cell++);
        check ^= byte;
        *number = *number << 8 | byte;
    }
    return cell_read(cell) == check && *number <= MOST_STARTS;
}

static void write_place(uint8_t place, uint32_t number)
{
    uint16_t cell = (uint16_t)place * BOOT_PLACE_BYTES;
    uint8_t check = CHECK;
    for (uint8_t n = 0; n < BOOT_PLACE_BYTES - 1; ++n) {
        uint8_t byte = (uint8_t)(number >> 24);
        cell_write(cell++, byte);
        check ^= byte;
        number <<= 8;
    }
    cell_write(cell, check);
}

uint32_t boots_count(void)
{
    uint32_t greatest = 0, number;
    uint8_t place = BOOT_PLACES - 1;
    for (uint8_t n = 0; n < BOOT_PLACES; ++n) {
        if (read_place(n, &number) && number > greatest) {
            greatest = number;
            place = n;
        }
    }
    ++greatest;
    for (uint8_t tries = 0; tries < BOOT_PLACES; ++tries) {
        place = (uint8_t)((place + 1) % BOOT_PLACES);
        write_place(place, greatest);
        if (read_place(place, &number) && number == greatest) {
            break;
        }
    }
    return greatest;
}
