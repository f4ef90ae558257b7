#include "board.h"

#include <stddef.h>

#include "boots.h"
#include "chip.h"
#include "flash.h"
#include "inputs.h"
#include "lines.h"
#include "reader.h"
#include "reports.h"
#include "watches.h"
#include "wired.h"

#define FIRMWARE "avr-1"

enum { ALIVE_MS = 2000 };

static struct reports reports;

/* -- what the host says ------------------------------------------------------------------------------------------------ */

static uint32_t boot;
static bool owes_hello = true;
static uint8_t next_state = PLACES; /* the place whose state is owed next; PLACES: none */

static void take_told(void)
{
    static struct hearing hearing;
    struct told told;
    char byte;
    while (chip_told(&byte)) {
        if (!hearing_byte(&hearing, byte, &told)) {
            continue;
        }
        if (told.what == TOLD_ASK) {
            owes_hello = true;
            next_state = 0;
        } else if (told.what == TOLD_WATCH) {
            watch(told.numbers[0], told.numbers[1]);
        } else if (told.numbers[0] == boot) {
            reports_again(&reports, told.numbers[1], told.numbers[2]);
        }
    }
}

/* -- what the board says ------------------------------------------------------------------------------------------------ */

static uint32_t up_s, up_ms; /* seconds since the start, and the millisecond of the last of them */
static uint32_t alive_ms;    /* when it last said so */

static void say_line(struct line *line)
{
    line_end(line);
    chip_say(line->bytes, line->length);
}

static void begin(struct line *line, const char *word)
{
    line_begin(line, word);
    line_text(line, PSTR(BOARD));
    line_number(line, boot);
}

static void say_hello(struct line *line)
{
    uint32_t highest = NUMBER_OF_READER;
    for (uint8_t place = 0; place < INPUT_COUNT; ++place) {
        uint32_t number = input_at(place).number;
        if (number > highest) {
            highest = number;
        }
    }
    begin(line, PSTR("hello"));
    line_number(line, chip_ms());
    line_key(line, PSTR("inputs"), highest);
    line_text(line, PSTR("fw=" FIRMWARE));
    const char *reason = chip_reset_reason();
    if (reason != NULL) {
        line_text(line, PSTR("reset="));
        line_more(line, reason);
    }
    line_key(line, PSTR("min"), reports_oldest(&reports));
    say_line(line);
}

static void say_alive(struct line *line)
{
    begin(line, PSTR("alive"));
    line_number(line, reports.sent);
    line_number(line, chip_ms());
    line_key(line, PSTR("free"), chip_free());
    line_key(line, PSTR("lost"), reports.lost);
    line_key(line, PSTR("up"), up_s);
    if (HAS_READER) {
        line_key(line, PSTR("refused"), reader_refused());
    }
    say_line(line);
}

/* How an input stands now, as a report has it. */
static void look(struct report *report)
{
    report->ms = chip_ms();
    if (report->place < INPUT_COUNT) {
        report->value = input_is_shown_on(report->place) ? VALUE_ON : VALUE_OFF;
    } else {
        reader_look(report);
    }
}

static void say_report(struct line *line, uint32_t seq)
{
    struct report *report = reports_at(&reports, seq);
    if (report->is_state) {
        look(report);
    }
    begin(line, report->is_state ? PSTR("state") : PSTR("report"));
    line_number(line, seq);
    line_number(line, report->ms);
    line_number(line, report->place < INPUT_COUNT ? input_at(report->place).number : NUMBER_OF_READER);
    if (report->value == VALUE_TAG) {
        line_tag(line, report->tag, TAG_BYTES);
    } else {
        line_text(line, report->value == VALUE_ON ? PSTR("on") : PSTR("off"));
    }
    say_line(line);
}

static bool say_edge(struct line *line)
{
    struct raw_edge edge;
    while (chip_raw_edge(&edge)) {
        for (uint8_t place = 0; place < INPUT_COUNT; ++place) {
            struct input input = input_at(place);
            if (input.port == edge.port && input.pin == edge.pin && is_watched(place)) {
                begin(line, PSTR("edge"));
                line_number(line, edge.us);
                line_number(line, input.number);
                line_text(line, input_is_on(&input, edge.level ? edge.pin : 0) ? PSTR("on") : PSTR("off"));
                say_line(line);
                return true;
            }
        }
    }
    return false;
}

/* A report for the first time and one once more take turns: neither keeps the other waiting for long. */
static bool say_one_report(struct line *line)
{
    static bool was_new;
    uint32_t seq = was_new ? reports_next_again(&reports) : reports_next(&reports);
    was_new = !was_new;
    if (seq == 0) {
        seq = was_new ? reports_next_again(&reports) : reports_next(&reports);
    }
    if (seq == 0 && next_state < PLACES) { /* only now: a state must not be ahead of a report, nor push one out */
        struct report *report = reports_add(&reports);
        report->place = next_state++;
        report->is_state = true;
        seq = reports_next(&reports);
    }
    if (seq != 0) {
        say_report(line, seq);
    }
    return seq != 0;
}

/* One line, if there is one and room for it; what there is no room for waits where it is. */
static bool say_something(void)
{
    struct line line;
    if (chip_room() <= LINE_MAX) {
        return false;
    }
    if (owes_hello) {
        owes_hello = false;
        say_hello(&line);
        return true;
    }
    if (chip_ms() - alive_ms >= ALIVE_MS) {
        alive_ms += ALIVE_MS;
        say_alive(&line);
        return true;
    }
    return say_one_report(&line) || say_edge(&line);
}

/* ----------------------------------------------------------------------------------------------------------------------- */

void board_start(void)
{
    reader_start();
    boot = boots_count();
    inputs_start();
}

void board_turn(void)
{
    chip_alive();
    while (chip_ms() - up_ms >= 1000) {
        up_ms += 1000;
        ++up_s;
    }
    inputs_turn(&reports);
    reader_turn(&reports);
    take_told();
    watches_turn();
    if (!say_something()) {
        chip_rest();
    }
}
