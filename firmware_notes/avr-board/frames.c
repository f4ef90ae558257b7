#include "frames.h"

enum { STX = 2, ETX = 3, DIGITS = 2 * (TAG_BYTES + 1), DATA_BITS = 9, WHOLE_BYTE = 10 };

static uint8_t bits_in(uint16_t us)
{
    return us > BIT_US * 12u ? 12 : (uint8_t)((us + BIT_US / 2) / BIT_US);
}

/* Fill up with ones, from the start bit and 8 data bits to the stop bit. */
static int16_t completed(struct byte_in *in)
{
    while (in->taken < DATA_BITS) {
        in->bits = (uint8_t)(in->bits >> 1 | 0x80);
        ++in->taken;
    }
    in->taken = 0;
    return in->bits;
}

int16_t byte_in_edge(struct byte_in *in, uint16_t us, bool level)
{
    uint8_t count = bits_in(us);
    int16_t byte = NO_BYTE;
    if (level && in->taken && in->taken + count >= WHOLE_BYTE) {
        byte = completed(in);
    }
    if (!level && in->taken == 0) { /* low now ends; it begins a byte if nothing else was going on */
        in->bits = 0;
    } else if (level && in->taken == 0) {
        return byte; /* high has ended: a start bit begins */
    }
    if (count == 0 || in->taken + count > DATA_BITS) { /* a spike, or low where the stop bit should be */
        in->taken = 0;
        return byte;
    }
    for (; count; --count, ++in->taken) {
        if (in->taken) { /* the start bit is no data */
            in->bits = (uint8_t)(in->bits >> 1 | (level ? 0x80 : 0));
        }
    }
    return byte;
}

int16_t byte_in_quiet(struct byte_in *in, uint16_t us, bool level)
{
    if (in->taken == 0 || in->taken + bits_in(us) < WHOLE_BYTE) {
        return NO_BYTE;
    }
    if (level) {
        return completed(in);
    }
    in->taken = 0; /* low for longer than a byte is no byte */
    return NO_BYTE;
}

static uint8_t hex_of(uint8_t byte)
{
    if (byte >= '0' && byte <= '9') {
        return (uint8_t)(byte - '0');
    }
    byte &= (uint8_t)~0x20;
    return byte >= 'A' && byte <= 'F' ? (uint8_t)(byte - 'A' + 10) : 16;
}

static enum frame judged(const struct frame_in *in)
{
    uint8_t sum = 0, any = 0;
    for (uint8_t n = 0; n < TAG_BYTES; ++n) {
        sum ^= in->bytes[n];
        any |= in->bytes[n];
    }
    return any && sum == in->bytes[TAG_BYTES] ? FRAME_TAG : FRAME_BAD;
}

enum frame frame_byte(struct frame_in *in, uint8_t byte)
{
    uint8_t taken = in->digits;
    if (byte == STX) {
        in->digits = 1;
        return taken ? FRAME_BAD : FRAME_NONE; /* the last one was cut short */
    }
    if (taken == 0) {
        return FRAME_NONE;
    }
    uint8_t count = (uint8_t)(taken - 1);
    uint8_t digit = hex_of(byte);
    if (count < DIGITS && digit < 16) {
        in->bytes[count / 2] = (uint8_t)(in->bytes[count / 2] << 4 | digit);
        ++in->digits;
        return FRAME_NONE;
    }
    if (count == DIGITS && byte == '\r') {
        in->digits = DIGITS + 2;
        return FRAME_NONE;
    }
    if (count == DIGITS + 1 && byte == '\n') {
        in->digits = DIGITS + 3;
        return FRAME_NONE;
    }
    in->digits = 0;
    return byte == ETX && (count == DIGITS || count == DIGITS + 2) ? judged(in) : FRAME_BAD;
}
