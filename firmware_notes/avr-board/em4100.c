#include "em4100.h"

enum { NO_HALF = 2, HEADER_BITS = 9, ROWS = 10, COLUMNS = 4, LONG_AGO = 255 };

static bool bit_at(const uint8_t *word, uint8_t n)
{
    return word[n / 8] >> (7 - n % 8) & 1;
}

struct em4100_verdict em4100_read(const uint8_t *word, uint8_t *tag)
{
    struct em4100_verdict verdict = {true, 0, 0};
    uint8_t columns = 0, n = HEADER_BITS;
    verdict.framed = word[0] == 0xFF && word[1] & 0x80 && !(word[WORD_BYTES - 1] & 1);
    for (uint8_t row = 0; row < ROWS; ++row) {
        uint8_t nibble = 0, parity = 0;
        for (uint8_t column = 0; column < COLUMNS; ++column) {
            bool bit = bit_at(word, n++);
            nibble = (uint8_t)(nibble << 1 | bit);
            parity ^= bit;
            columns ^= (uint8_t)(bit << column);
        }
        tag[row / 2] = (uint8_t)(tag[row / 2] << 4 | nibble);
        if (parity != bit_at(word, n++)) {
            verdict.rows |= (uint16_t)(1u << row);
        }
    }
    for (uint8_t column = 0; column < COLUMNS; ++column) {
        columns ^= (uint8_t)(bit_at(word, n++) << column);
    }
    verdict.columns = columns;
    return verdict;
}

void bare_in_start(struct bare_in *in)
{
    in->half = NO_HALF;
    in->filled = 0;
    in->since = LONG_AGO;
}

static bool bit_came(struct bare_in *in, bool bit)
{
    for (uint8_t n = 0; n < WORD_BYTES - 1; ++n) {
        in->word[n] = (uint8_t)(in->word[n] << 1 | in->word[n + 1] >> 7);
    }
    in->word[WORD_BYTES - 1] = (uint8_t)(in->word[WORD_BYTES - 1] << 1 | bit);
    if (in->since < LONG_AGO) {
        ++in->since;
    }
    if (in->filled < WORD_BITS) {
        ++in->filled;
    }
    if (in->filled < WORD_BITS || in->word[0] != 0xFF || !(in->word[1] & 0x80)) {
        return false;
    }
    uint8_t tag[TAG_BYTES], any = 0;
    struct em4100_verdict verdict = em4100_read(in->word, tag);
    if (!verdict.framed || verdict.rows || verdict.columns) {
        return false;
    }
    bool again = in->since == WORD_BITS;
    for (uint8_t n = 0; n < TAG_BYTES; ++n) {
        again = again && in->tag[n] == tag[n];
        in->tag[n] = tag[n];
        any |= tag[n];
    }
    in->since = 0;
    return again && any; /* a tag of zeros is a false read */
}

/* Two halves that differ are a bit. Two that are alike are the second of one bit and the first of the next: from there on. */
static bool half_came(struct bare_in *in, bool level)
{
    if (in->half == NO_HALF) {
        in->half = level;
        return false;
    }
    if (in->half == level) {
        in->filled = 0;
        in->since = LONG_AGO;
        return false;
    }
    bool bit = in->half;
    in->half = NO_HALF;
    return bit_came(in, bit);
}

bool bare_in_edge(struct bare_in *in, uint16_t us, bool level, bool inverted)
{
    if (us < HALF_US / 2 || us >= HALF_US * 5 / 2) { /* no half and no two halves: begin anew with the next edge */
        bare_in_start(in);
        return false;
    }
    level ^= inverted;
    bool confirmed = half_came(in, level);
    if (us >= HALF_US * 3 / 2) {
        confirmed |= half_came(in, level);
    }
    return confirmed;
}
