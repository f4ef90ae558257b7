#include "lines.h"

#include "flash.h"

static const uint32_t TENS[] PROGMEM = {1000000000, 100000000, 10000000, 1000000, 100000, 10000, 1000, 100, 10, 1};

uint8_t line_sum(const char *bytes, uint8_t length)
{
    uint8_t sum = 0;
    for (uint8_t n = 0; n < length; ++n) {
        sum ^= (uint8_t)bytes[n];
    }
    return sum;
}

static void put(struct line *line, char byte)
{
    if (line->length < LINE_MAX) {
        line->bytes[line->length++] = byte;
    }
}

static void put_text(struct line *line, const char *text)
{
    char byte;
    while ((byte = (char)pgm_read_byte(text++)) != 0) {
        put(line, byte);
    }
}

static void put_hex(struct line *line, uint8_t byte)
{
    for (uint8_t n = 0; n < 2; ++n) {
        uint8_t digit = byte >> 4;
        put(line, (char)(digit < 10 ? '0' + digit : 'A' - 10 + digit));
        byte = (uint8_t)(byte << 4);
    }
}

/* By subtraction: the chip cannot divide, and a 32-bit division in software takes longer than a whole line does so. */
static void put_number(struct line *line, uint32_t number)
{
    bool begun = false;
    for (uint8_t n = 0; n < sizeof TENS / sizeof *TENS; ++n) {
        uint32_t ten = pgm_read_dword(&TENS[n]);
        char digit = '0';
        while (number >= ten) {
            number -= ten;
            ++digit;
        }
        if (begun || digit != '0' || ten == 1) {
            put(line, digit);
            begun = true;
        }
    }
}

void line_begin(struct line *line, const char *word)
{
    line->length = 0;
    put_text(line, word);
}

void line_text(struct line *line, const char *text)
{
    put(line, ' ');
    put_text(line, text);
}

void line_more(struct line *line, const char *text)
{
    put_text(line, text);
}

void line_number(struct line *line, uint32_t number)
{
    put(line, ' ');
    put_number(line, number);
}

void line_key(struct line *line, const char *key, uint32_t value)
{
    line_text(line, key);
    put(line, '=');
    put_number(line, value);
}

void line_tag(struct line *line, const uint8_t *tag, uint8_t count)
{
    line_text(line, PSTR("tag="));
    for (uint8_t n = 0; n < count; ++n) {
        put_hex(line, tag[n]);
    }
}

void line_end(struct line *line)
{
    uint8_t sum = line_sum(line->bytes, line->length);
    put(line, '*');
    put_hex(line, sum);
    line->bytes[line->length++] = '\n';
}

/* -- what the host says ---------------------------------------------------------------------------------------------- */

static bool is_digit(char byte)
{
    return byte >= '0' && byte <= '9';
}

/* 0 to 15, or 16 where it is no hexadecimal digit; either case. */
static uint8_t hex_of(char byte)
{
    if (is_digit(byte)) {
        return (uint8_t)(byte - '0');
    }
    char upper = (char)(byte & ~0x20);
    return upper >= 'A' && upper <= 'F' ? (uint8_t)(upper - 'A' + 10) : 16;
}

/* Read " 17 3 0": exactly so many decimal numbers of 32 bits, one space before each, and then the end. */
static bool read_numbers(const char *at, const char *end, uint32_t *numbers, uint8_t count)
{
    while (count--) {
        if (at == end || *at++ != ' ' || at == end || !is_digit(*at)) {
            return false;
        }
        uint32_t number = 0;
        uint8_t digits = 0;
        while (at < end && is_digit(*at)) {
            uint8_t digit = (uint8_t)(*at++ - '0');
            if (++digits > 10 || number > (UINT32_MAX - digit) / 10) {
                return false;
            }
            number = number * 10 + digit;
        }
        *numbers++ = number;
    }
    return at == end;
}

static bool begins(const char *bytes, const char *end, const char *word)
{
    char byte;
    while ((byte = (char)pgm_read_byte(word++)) != 0) {
        if (bytes == end || *bytes++ != byte) {
            return false;
        }
    }
    return true;
}

static bool read_told(const char *bytes, uint8_t length, struct told *told)
{
    if (length && bytes[length - 1] == '\r') {
        --length;
    }
    if (length < 4 || bytes[length - 3] != '*') {
        return false;
    }
    uint8_t high = hex_of(bytes[length - 2]), low = hex_of(bytes[length - 1]);
    length = (uint8_t)(length - 3);
    if (high > 15 || low > 15 || line_sum(bytes, length) != (high << 4 | low)) {
        return false;
    }
    const char *end = bytes + length;
    if (begins(bytes, end, PSTR("again"))) {
        told->what = TOLD_AGAIN;
        return read_numbers(bytes + 5, end, told->numbers, 3);
    }
    if (begins(bytes, end, PSTR("watch"))) {
        told->what = TOLD_WATCH;
        return read_numbers(bytes + 5, end, told->numbers, 2);
    }
    told->what = TOLD_ASK;
    return begins(bytes, end, PSTR("ask")) && length == 3;
}

bool hearing_byte(struct hearing *hearing, char byte, struct told *told)
{
    if (byte != '\n') {
        if (hearing->length < TOLD_MAX) {
            hearing->bytes[hearing->length++] = byte;
        } else {
            hearing->length = TOLD_MAX + 1;
        }
        return false;
    }
    uint8_t length = hearing->length;
    hearing->length = 0;
    return length <= TOLD_MAX && read_told(hearing->bytes, length, told);
}
