/* What the firmware's pure parts need to run on this machine: cells of EEPROM, and a name for what is inline. */
#include <stdbool.h>

#include "boots.h"
#include "debounce.h"

uint8_t cells[1024];
uint32_t writes[1024];
bool worn[1024]; /* such a cell keeps what it has */
int32_t writes_left = -1; /* how many writes until the power goes; -1: it stays */

uint8_t cell_read(uint16_t cell)
{
    return cells[cell];
}

void cell_write(uint16_t cell, uint8_t byte)
{
    if (writes_left == 0 || worn[cell] || cells[cell] == byte) {
        return;
    }
    if (writes_left > 0) {
        --writes_left;
    }
    cells[cell] = byte;
    ++writes[cell];
}

uint8_t host_debounce(struct debounce *port, uint8_t levels, uint8_t mask, uint8_t samples)
{
    return debounce_sample(port, levels, mask, samples);
}
