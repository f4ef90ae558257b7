#include "inputs.h"

#include "flash.h"
#include "wired.h"

enum { SAMPLES = 2 * DEBOUNCE_MS };

#define PORT_OF(pin) ((pin) < 8 ? PORT_D : (pin) < 14 ? PORT_B : PORT_C)
#define BIT_OF(pin) (uint8_t)(1u << ((pin) < 8 ? (pin) : (pin) < 14 ? (pin) - 8 : (pin) - 14))
#define ROW(number, pin, inverted) {number, PORT_OF(pin), BIT_OF(pin), inverted},
#define ALL_BITS(number, pin, inverted) | 1ul << (pin)
#define SUM_OF_BITS(number, pin, inverted) +(1ul << (pin))

static const struct input inputs[INPUT_COUNT + 1] PROGMEM = {INPUTS(ROW){0, 0, 0, false}};

struct input input_at(uint8_t place)
{
    struct input input;
    memcpy_P(&input, &inputs[place], sizeof input);
    return input;
}

/* 2 to 12 and 14 to 19; 8 only where no reader has it. */
#define USABLE_PINS (0xFDFFCul & ~(HAS_READER ? 1ul << 8 : 0))

_Static_assert(sizeof BOARD >= 2 && sizeof BOARD <= 17, "BOARD: a name of 1 to 16 characters");
_Static_assert(((0 INPUTS(ALL_BITS)) & ~USABLE_PINS) == 0, "INPUTS: a pin that cannot be an input (see settings.h)");
_Static_assert((0 INPUTS(ALL_BITS)) == (0 INPUTS(SUM_OF_BITS)), "INPUTS: two inputs on the same pin");
_Static_assert(DEBOUNCE_MS >= 5 && DEBOUNCE_MS <= 10, "DEBOUNCE_MS: 5 to 10");

static uint8_t shown[PORTS]; /* how the inputs stand, as far as it has been reported */

bool input_is_on(const struct input *input, uint8_t levels)
{
    return (levels & input->pin ? 1 : 0) == input->is_inverted;
}

void inputs_start(void)
{
    struct pins pins = {{0}};
    for (uint8_t place = 0; place < INPUT_COUNT; ++place) {
        struct input input = input_at(place);
        pins.of[input.port] |= input.pin;
    }
    chip_start(pins, SAMPLES, HAS_READER);
    for (uint8_t port = 0; port < PORTS; ++port) {
        shown[port] = chip_levels(port);
    }
}

void inputs_turn(struct reports *reports)
{
    struct change change;
    while (chip_change(&change)) {
        shown[change.port] = change.levels;
        for (uint8_t place = 0; place < INPUT_COUNT; ++place) {
            struct input input = input_at(place);
            if (input.port == change.port && change.changed & input.pin) {
                struct report *report = reports_add(reports);
                report->ms = change.ms;
                report->place = place;
                report->value = input_is_on(&input, change.levels) ? VALUE_ON : VALUE_OFF;
                report->is_state = false;
            }
        }
    }
}

bool input_is_shown_on(uint8_t place)
{
    struct input input = input_at(place);
    return input_is_on(&input, shown[input.port]);
}
