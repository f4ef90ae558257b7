/* A 125 kHz reader with a serial line: edges of the line become bytes (9600 8N1), bytes become tags.
 *
 * Pure. A frame is STX, ten hexadecimal digits, two of checksum, ETX; some readers put CR LF before the ETX. The checksum is
 * the XOR of the five bytes that the digits stand for. What is no whole frame is refused, and so is a tag of zeros, whose
 * checksum fits: it is a false read.
 */
#ifndef FRAMES_H
#define FRAMES_H

#include <stdbool.h>
#include <stdint.h>

#include "reports.h"

enum { NO_BYTE = -1, BIT_US = 104 };

struct byte_in {
    uint8_t taken; /* bits taken of a byte, its start bit among them; 0 between bytes */
    uint8_t bits;
};

/* The line has stood at `level` for `us` and has just changed: the byte that this completes, or NO_BYTE. */
int16_t byte_in_edge(struct byte_in *in, uint16_t us, bool level);

/* The line has stood at `level` for `us` and still does. A byte that ends in ones is completed so. */
int16_t byte_in_quiet(struct byte_in *in, uint16_t us, bool level);

enum frame { FRAME_NONE, FRAME_TAG, FRAME_BAD };

struct frame_in {
    uint8_t digits; /* digits taken + 1; 0 outside a frame */
    uint8_t bytes[TAG_BYTES + 1];
};

/* Take a byte: FRAME_TAG where it ends a good frame, whose tag is then in `bytes`; FRAME_BAD where one is refused. */
enum frame frame_byte(struct frame_in *in, uint8_t byte);

#endif
