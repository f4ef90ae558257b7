/* A bare 125 kHz reader: edges of its demodulated output become the 64-bit words of EM4100 tags.
 *
 * Pure. A word is nine ones, ten rows of four data bits and their even parity, four even column parities, and a zero. It is
 * sent over and over, a bit in 512 us (64 periods of the carrier), each bit as two halves that differ (Manchester). A tag
 * counts when two equal words have come one right behind the other: a lone word may be made of noise.
 */
#ifndef EM4100_H
#define EM4100_H

#include <stdbool.h>
#include <stdint.h>

#include "reports.h"

enum { WORD_BYTES = 8, WORD_BITS = 64, HALF_US = 256 };

struct em4100_verdict {
    bool framed;     /* nine ones in front, a zero at the end */
    uint16_t rows;   /* a bit for each row whose parity is wrong, bit 0 the first */
    uint8_t columns; /* a bit for each column whose parity is wrong, bit 0 the first */
};

/* Judge a word, its first bit the highest of `word[0]`; `tag` has its data bits, right or wrong. */
struct em4100_verdict em4100_read(const uint8_t *word, uint8_t *tag);

struct bare_in {
    uint8_t word[WORD_BYTES];
    uint8_t tag[TAG_BYTES];  /* of the last good word */
    uint8_t since;           /* bits since the last good word, 255 where that is long ago */
    uint8_t filled;          /* bits in a row without a fault, 64 at most */
    uint8_t half;            /* first half of a bit, or NO_HALF */
};

void bare_in_start(struct bare_in *in);

/* The line has stood at `level` for `us` and has just changed; true where that confirms a tag, which is in `in->tag`.
 * `inverted`: the line is low where others are high. */
bool bare_in_edge(struct bare_in *in, uint16_t us, bool level, bool inverted);

#endif
