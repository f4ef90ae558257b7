/* Events: a heap by moment. */
#include "harness.h"

#include <stdlib.h>

static event_t *events;
static size_t event_count, event_room;
static unsigned long told;

static bool is_before(const event_t *one, const event_t *other)
{
    return one->when < other->when || (one->when == other->when && one->order < other->order);
}

void plan(avr_cycle_count_t when, what_t what, int pin, int value)
{
    if (event_count == event_room) {
        event_room = event_room ? 2 * event_room : 1024;
        events = realloc(events, event_room * sizeof *events);
    }
    event_t event = {when, told++, what, pin, value};
    size_t n = event_count++;
    for (; n && is_before(&event, &events[(n - 1) / 2]); n = (n - 1) / 2) {
        events[n] = events[(n - 1) / 2];
    }
    events[n] = event;
}

const event_t *next_event(void)
{
    return event_count ? &events[0] : NULL;
}

event_t take_event(void)
{
    event_t first = events[0], last = events[--event_count];
    size_t n = 0;
    for (size_t child; (child = 2 * n + 1) < event_count; n = child) {
        if (child + 1 < event_count && is_before(&events[child + 1], &events[child])) {
            ++child;
        }
        if (is_before(&last, &events[child])) {
            break;
        }
        events[n] = events[child];
    }
    events[n] = last;
    return first;
}
