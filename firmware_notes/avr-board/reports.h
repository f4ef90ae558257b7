/* The last 32 numbered lines of this start: what is still to be sent, what can be sent again, and what was lost.
 *
 * Pure. A number is given once and never changes its meaning. The ring is the queue too: what falls out of it before it
 * was sent is counted, and its number is missing on the wire, so that the host knows of it.
 */
#ifndef REPORTS_H
#define REPORTS_H

#include <stdbool.h>
#include <stdint.h>

enum { REPORTS_KEPT = 32, TAG_BYTES = 5 };

enum report_value { VALUE_OFF, VALUE_ON, VALUE_TAG };

struct report {
    uint32_t ms;
    uint8_t place;    /* which of the board's inputs, from 0 */
    uint8_t value;    /* enum report_value */
    uint8_t is_state; /* sent again as the input stands then */
    uint8_t tag[TAG_BYTES];
};

struct reports {
    struct report kept[REPORTS_KEPT];
    uint32_t newest; /* the last number given, 0 before any */
    uint32_t sent;   /* the last number that is on the wire or lost */
    uint32_t lost;   /* how many fell out unsent */
    uint32_t again;  /* a bit for each place of the ring that is to be sent again */
};

/* Give the next number; the slot is to be filled at once. */
struct report *reports_add(struct reports *reports);

/* The oldest number still kept, or the next one to be given where none is. */
uint32_t reports_oldest(const struct reports *reports);

struct report *reports_at(struct reports *reports, uint32_t seq);

/* The next number to be sent for the first time, 0 where none waits. It counts as sent. */
uint32_t reports_next(struct reports *reports);

/* Send these once more (`last` 0: to the newest), as far as they are kept and have been sent. */
void reports_again(struct reports *reports, uint32_t first, uint32_t last);

/* The next number to be sent once more, 0 where none is. */
uint32_t reports_next_again(struct reports *reports);

#endif
