/* Debouncing of the eight inputs of a port at once: an input has changed when it has stood otherwise for so many samples.
 *
 * Pure. Eight counters of five bits lie across five bytes, a bit of each input's counter in every byte: counting all eight
 * takes no longer than counting one, and what changes in the same sample is seen in the same sample.
 */
#ifndef DEBOUNCE_H
#define DEBOUNCE_H

#include <stdint.h>

enum { DEBOUNCE_PLANES = 5, DEBOUNCE_MOST = (1 << DEBOUNCE_PLANES) - 1 };

struct debounce {
    uint8_t steady; /* how the inputs stand, debounced */
    uint8_t differing; /* which of them stood otherwise in the last sample */
    uint8_t planes[DEBOUNCE_PLANES];
};

/* Take a sample of those inputs that are in `mask`; the inputs that have changed with it. `samples`: 1 to DEBOUNCE_MOST. */
static inline uint8_t debounce_sample(struct debounce *port, uint8_t levels, uint8_t mask, uint8_t samples)
{
    uint8_t differing = (uint8_t)((levels ^ port->steady) & mask);
    if (!differing && !port->differing) {
        return 0; /* as nearly always */
    }
    port->differing = differing;
    uint8_t carry = differing, changed = differing;
    for (uint8_t *plane = port->planes; plane < port->planes + DEBOUNCE_PLANES; ++plane, samples >>= 1) {
        uint8_t counted = (uint8_t)((*plane ^ carry) & differing);
        carry &= *plane;
        *plane = counted;
        changed &= samples & 1 ? counted : (uint8_t)~counted;
    }
    if (changed) {
        port->steady ^= changed;
        for (uint8_t *plane = port->planes; plane < port->planes + DEBOUNCE_PLANES; ++plane) {
            *plane &= (uint8_t)~changed;
        }
    }
    return changed;
}

#endif
