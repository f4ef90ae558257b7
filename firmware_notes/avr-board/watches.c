#include "watches.h"

#include "chip.h"
#include "inputs.h"
#include "wired.h"

enum { WATCH_MOST_S = 60 };

static uint8_t watched_for[INPUT_COUNT + 1]; /* how long still, in steps of 256 ms */
static uint8_t watch_step;

static void apply_watches(void)
{
    struct pins watched = {{0}};
    for (uint8_t place = 0; place < INPUT_COUNT; ++place) {
        if (watched_for[place]) {
            struct input input = input_at(place);
            watched.of[input.port] |= input.pin;
        }
    }
    chip_watch(watched);
}

void watch(uint32_t number, uint32_t seconds)
{
    for (uint8_t place = 0; place < INPUT_COUNT; ++place) {
        if (input_at(place).number == number) {
            watched_for[place] = (uint8_t)(seconds < WATCH_MOST_S ? seconds * 1000 / 256 + 1 : WATCH_MOST_S * 1000ul / 256);
            if (seconds == 0) {
                watched_for[place] = 0;
            }
            apply_watches();
        }
    }
}

void watches_turn(void)
{
    uint8_t step = (uint8_t)(chip_ms() >> 8);
    if (step == watch_step) {
        return;
    }
    watch_step = step;
    for (uint8_t place = 0; place < INPUT_COUNT; ++place) {
        if (watched_for[place] && --watched_for[place] == 0) {
            apply_watches();
        }
    }
}

bool is_watched(uint8_t place)
{
    return watched_for[place] != 0;
}
