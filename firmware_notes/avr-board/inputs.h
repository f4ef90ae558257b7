/* The inputs of settings.h: their table, how they stand, and a report of each that changes. */
#ifndef INPUTS_H
#define INPUTS_H

#include <stdbool.h>
#include <stdint.h>

#include "chip.h"
#include "reports.h"

struct input {
    uint32_t number;
    uint8_t port;
    uint8_t pin; /* a bit */
    bool is_inverted;
};

struct input input_at(uint8_t place);

/* Whether it is on while its port stands so. */
bool input_is_on(const struct input *input, uint8_t levels);

/* Start the chip with these inputs, and see how they stand. */
void inputs_start(void);

/* A report of each that has changed. */
void inputs_turn(struct reports *reports);

/* Whether it is on, as far as that has been reported. */
bool input_is_shown_on(uint8_t place);

#endif
