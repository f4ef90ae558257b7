/* Board lines, as ../README.md has them: written into a buffer, and what the host says read byte by byte.
 *
 * Pure: no register, no clock. A line is never longer than LINE_MAX bytes; what is told is taken only with its checksum
 * right. Whatever else comes is dropped without an answer. Every text is one in flash: PSTR("hello").
 */
#ifndef LINES_H
#define LINES_H

#include <stdbool.h>
#include <stdint.h>

enum {
    LINE_MAX = 120, /* bytes, the line end not counted */
    TOLD_MAX = 48   /* the longest that a host says is 41 bytes: again, and three numbers of ten digits */
};

struct line {
    uint8_t length;
    char bytes[LINE_MAX + 1]; /* LF behind the longest line; no zero byte ends it */
};

/* XOR of every byte, as NMEA 0183 forms it. */
uint8_t line_sum(const char *bytes, uint8_t length);

void line_begin(struct line *line, const char *word);
void line_text(struct line *line, const char *text);               /* " text" */
void line_more(struct line *line, const char *text);               /* "text", behind what is there */
void line_number(struct line *line, uint32_t number);              /* " 17" */
void line_key(struct line *line, const char *key, uint32_t value); /* " key=17" */
void line_tag(struct line *line, const uint8_t *tag, uint8_t count); /* " tag=04A1003B68" */
void line_end(struct line *line);                                  /* "*5A" and LF */

enum told_what { TOLD_ASK, TOLD_AGAIN, TOLD_WATCH };

struct told {
    enum told_what what;
    uint32_t numbers[3]; /* again: boot, first, last; watch: input, seconds */
};

struct hearing {
    uint8_t length; /* bytes held; above TOLD_MAX: too long, dropped up to its LF */
    char bytes[TOLD_MAX];
};

/* Take a byte from the host; true where it ends a good line, which is then in `told`. */
bool hearing_byte(struct hearing *hearing, char byte, struct told *told);

#endif
