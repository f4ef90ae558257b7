#include "board.h"

#include <stddef.h>

#include "boots.h"
#include "chip.h"
#include "em4100.h"
#include "flash.h"
#include "frames.h"
#include "lines.h"
#include "presence.h"
#include "reports.h"

#define READER_NONE 0
#define READER_SERIAL 1
#define READER_BARE 2

#ifndef SETTINGS
#define SETTINGS "settings.h"
#endif
#include SETTINGS

#define FIRMWARE "avr-1"

#if READER == READER_NONE
#define NUMBER_OF_READER 0
#else
#define NUMBER_OF_READER READER_INPUT
#endif

enum { ALIVE_MS = 2000, WATCH_MOST_S = 60, SAMPLES = 2 * DEBOUNCE_MS };

/* -- the inputs of settings.h ------------------------------------------------------------------------------------------ */

struct input {
    uint32_t number;
    uint8_t port;
    uint8_t pin; /* a bit */
    bool is_inverted;
};

#define PORT_OF(pin) ((pin) < 8 ? PORT_D : (pin) < 14 ? PORT_B : PORT_C)
#define BIT_OF(pin) (uint8_t)(1u << ((pin) < 8 ? (pin) : (pin) < 14 ? (pin) - 8 : (pin) - 14))
#define ROW(number, pin, inverted) {number, PORT_OF(pin), BIT_OF(pin), inverted},
#define ONE(number, pin, inverted) +1
#define ALL_BITS(number, pin, inverted) | 1ul << (pin)
#define SUM_OF_BITS(number, pin, inverted) +(1ul << (pin))

enum { INPUT_COUNT = 0 INPUTS(ONE), HAS_READER = READER != READER_NONE, PLACES = INPUT_COUNT + HAS_READER };

static const struct input inputs[INPUT_COUNT + 1] PROGMEM = {INPUTS(ROW){0, 0, 0, false}};

static struct input input_at(uint8_t place)
{
    struct input input;
    memcpy_P(&input, &inputs[place], sizeof input);
    return input;
}

/* 2 to 12 and 14 to 19; 8 only where no reader has it. */
#define USABLE_PINS (0xFDFFCul & ~(HAS_READER ? 1ul << 8 : 0))

_Static_assert(sizeof BOARD >= 2 && sizeof BOARD <= 17, "BOARD: a name of 1 to 16 characters");
_Static_assert(((0 INPUTS(ALL_BITS)) & ~USABLE_PINS) == 0, "INPUTS: a pin that cannot be an input (see settings.h)");
_Static_assert((0 INPUTS(ALL_BITS)) == (0 INPUTS(SUM_OF_BITS)), "INPUTS: two inputs on the same pin");
_Static_assert(DEBOUNCE_MS >= 5 && DEBOUNCE_MS <= 10, "DEBOUNCE_MS: 5 to 10");

static uint8_t shown[PORTS]; /* how the inputs stand, as far as it has been reported */
static struct reports reports;

static bool is_on(const struct input *input, uint8_t levels)
{
    return (levels & input->pin ? 1 : 0) == input->is_inverted;
}

static void take_changes(void)
{
    struct change change;
    while (chip_change(&change)) {
        shown[change.port] = change.levels;
        for (uint8_t place = 0; place < INPUT_COUNT; ++place) {
            struct input input = input_at(place);
            if (input.port == change.port && change.changed & input.pin) {
                struct report *report = reports_add(&reports);
                report->ms = change.ms;
                report->place = place;
                report->value = is_on(&input, change.levels) ? VALUE_ON : VALUE_OFF;
                report->is_state = false;
            }
        }
    }
}

/* -- the reader --------------------------------------------------------------------------------------------------------- */

static uint32_t refused; /* frames that were none */

#if READER != READER_NONE

static struct field field;

static void copy_tag(uint8_t *to, const uint8_t *tag)
{
    for (uint8_t n = 0; n < TAG_BYTES; ++n) {
        to[n] = tag[n];
    }
}

static void report_reader(const uint8_t *tag)
{
    struct report *report = reports_add(&reports);
    report->ms = chip_ms();
    report->place = INPUT_COUNT;
    report->value = tag == NULL ? VALUE_OFF : VALUE_TAG;
    report->is_state = false;
    if (tag != NULL) {
        copy_tag(report->tag, tag);
    }
}

static void tag_read(const uint8_t *tag)
{
    if (field_read(&field, tag, (uint16_t)chip_ms())) {
        report_reader(tag);
    }
}

#if READER == READER_SERIAL

static struct byte_in byte_in;
static struct frame_in frame_in;

static void take_byte(int16_t byte)
{
    if (byte == NO_BYTE) {
        return;
    }
    enum frame frame = frame_byte(&frame_in, (uint8_t)byte);
    if (frame == FRAME_TAG) {
        tag_read(frame_in.bytes);
    } else if (frame == FRAME_BAD) {
        ++refused;
    }
}

static void take_reader_edges(void)
{
    uint16_t us;
    bool level;
    while (chip_reader_edge(&us, &level)) {
        take_byte(byte_in_edge(&byte_in, us, level ^ READER_INVERTED));
    }
    if (chip_reader_quiet(&us, &level)) {
        take_byte(byte_in_quiet(&byte_in, us, level ^ READER_INVERTED));
    }
}

#else

static struct bare_in bare_in;

static void take_reader_edges(void)
{
    uint16_t us;
    bool level;
    while (chip_reader_edge(&us, &level)) {
        if (bare_in_edge(&bare_in, us, level, READER_INVERTED)) {
            tag_read(bare_in.tag);
        }
    }
}

#endif

static void take_reader(void)
{
    take_reader_edges();
    if (field_left(&field, (uint16_t)chip_ms()) && READER_RESTS) {
        report_reader(NULL);
    }
}

#endif

/* -- what the host says ------------------------------------------------------------------------------------------------ */

static uint32_t boot;
static bool owes_hello = true;
static uint8_t next_state = PLACES; /* the place whose state is owed next; PLACES: none */
static uint8_t watched_for[INPUT_COUNT + 1]; /* how long still, in steps of 256 ms */
static uint8_t watch_step;

static void apply_watches(void)
{
    struct pins watched = {{0}};
    for (uint8_t place = 0; place < INPUT_COUNT; ++place) {
        if (watched_for[place]) {
            struct input input = input_at(place);
            watched.of[input.port] |= input.pin;
        }
    }
    chip_watch(watched);
}

static void watch(uint32_t number, uint32_t seconds)
{
    for (uint8_t place = 0; place < INPUT_COUNT; ++place) {
        if (input_at(place).number == number) {
            watched_for[place] = (uint8_t)(seconds < WATCH_MOST_S ? seconds * 1000 / 256 + 1 : WATCH_MOST_S * 1000ul / 256);
            if (seconds == 0) {
                watched_for[place] = 0;
            }
            apply_watches();
        }
    }
}

static void end_watches(void)
{
    uint8_t step = (uint8_t)(chip_ms() >> 8);
    if (step == watch_step) {
        return;
    }
    watch_step = step;
    for (uint8_t place = 0; place < INPUT_COUNT; ++place) {
        if (watched_for[place] && --watched_for[place] == 0) {
            apply_watches();
        }
    }
}

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
        line_key(line, PSTR("refused"), refused);
    }
    say_line(line);
}

/* How an input stands now, as a report has it. */
static void look(struct report *report)
{
    report->ms = chip_ms();
    if (report->place < INPUT_COUNT) {
        struct input input = input_at(report->place);
        report->value = is_on(&input, shown[input.port]) ? VALUE_ON : VALUE_OFF;
        return;
    }
#if READER != READER_NONE
    const uint8_t *tag = field_tag(&field);
    report->value = tag == NULL ? VALUE_OFF : VALUE_TAG;
    if (tag != NULL) {
        copy_tag(report->tag, tag);
    }
#endif
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
            if (input.port == edge.port && input.pin == edge.pin && watched_for[place]) {
                begin(line, PSTR("edge"));
                line_number(line, edge.us);
                line_number(line, input.number);
                line_text(line, is_on(&input, edge.level ? edge.pin : 0) ? PSTR("on") : PSTR("off"));
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
    struct pins pins = {{0}};
    for (uint8_t place = 0; place < INPUT_COUNT; ++place) {
        struct input input = input_at(place);
        pins.of[input.port] |= input.pin;
    }
#if READER == READER_BARE
    bare_in_start(&bare_in);
#endif
    boot = boots_count();
    chip_start(pins, SAMPLES, HAS_READER);
    for (uint8_t port = 0; port < PORTS; ++port) {
        shown[port] = chip_levels(port);
    }
}

void board_turn(void)
{
    chip_alive();
    while (chip_ms() - up_ms >= 1000) {
        up_ms += 1000;
        ++up_s;
    }
    take_changes();
#if READER != READER_NONE
    take_reader();
#endif
    take_told();
    end_watches();
    if (!say_something()) {
        chip_rest();
    }
}
