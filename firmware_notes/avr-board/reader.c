#include "reader.h"

#include <stdbool.h>
#include <stddef.h>

#include "chip.h"
#include "em4100.h"
#include "frames.h"
#include "presence.h"
#include "wired.h"

static uint32_t refused;

uint32_t reader_refused(void)
{
    return refused;
}

#if READER == READER_NONE

void reader_start(void)
{
}

void reader_turn(struct reports *reports)
{
    (void)reports;
}

void reader_look(struct report *report)
{
    (void)report;
}

#else

static struct field field;

static void tell(struct report *report, const uint8_t *tag)
{
    report->value = tag == NULL ? VALUE_OFF : VALUE_TAG;
    for (uint8_t n = 0; tag != NULL && n < TAG_BYTES; ++n) {
        report->tag[n] = tag[n];
    }
}

static void add(struct reports *reports, const uint8_t *tag)
{
    struct report *report = reports_add(reports);
    report->ms = chip_ms();
    report->place = INPUT_COUNT;
    report->is_state = false;
    tell(report, tag);
}

static void tag_read(struct reports *reports, const uint8_t *tag)
{
    if (field_read(&field, tag, (uint16_t)chip_ms())) {
        add(reports, tag);
    }
}

#if READER == READER_SERIAL

static struct byte_in byte_in;
static struct frame_in frame_in;

static void take_byte(struct reports *reports, int16_t byte)
{
    if (byte == NO_BYTE) {
        return;
    }
    enum frame frame = frame_byte(&frame_in, (uint8_t)byte);
    if (frame == FRAME_TAG) {
        tag_read(reports, frame_in.bytes);
    } else if (frame == FRAME_BAD) {
        ++refused;
    }
}

static void take_edges(struct reports *reports)
{
    uint16_t us;
    bool level;
    while (chip_reader_edge(&us, &level)) {
        take_byte(reports, byte_in_edge(&byte_in, us, level ^ READER_INVERTED));
    }
    if (chip_reader_quiet(&us, &level)) {
        take_byte(reports, byte_in_quiet(&byte_in, us, level ^ READER_INVERTED));
    }
}

#else

static struct bare_in bare_in;

static void take_edges(struct reports *reports)
{
    uint16_t us;
    bool level;
    while (chip_reader_edge(&us, &level)) {
        if (bare_in_edge(&bare_in, us, level, READER_INVERTED)) {
            tag_read(reports, bare_in.tag);
        }
    }
}

#endif

void reader_turn(struct reports *reports)
{
    take_edges(reports);
    if (field_left(&field, (uint16_t)chip_ms()) && READER_RESTS) {
        add(reports, NULL);
    }
}

void reader_start(void)
{
#if READER == READER_BARE
    bare_in_start(&bare_in);
#endif
}

void reader_look(struct report *report)
{
    tell(report, field_tag(&field));
}

#endif
