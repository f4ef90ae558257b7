/* Inputs whose every edge the host wants to be told for a while. */
#ifndef WATCHES_H
#define WATCHES_H

#include <stdbool.h>
#include <stdint.h>

/* Watch the input of this number for so long, a minute at most; 0: no more. */
void watch(uint32_t number, uint32_t seconds);

/* End those whose time is over. */
void watches_turn(void);

bool is_watched(uint8_t place);

#endif
