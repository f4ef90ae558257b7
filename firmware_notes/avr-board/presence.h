/* Tags in a reader's field: each is reported once while it stays, and again only after an absence of 300 ms.
 *
 * Pure. Readers repeat a tag every 50 to 65 ms. Where two tags are read by turns, as between two coupled wagons, each of
 * them stays; so the last few are remembered, not only the last one.
 */
#ifndef PRESENCE_H
#define PRESENCE_H

#include <stdbool.h>
#include <stdint.h>

#include "reports.h"

enum { FIELD_TAGS = 4, ABSENT_MS = 300 };

struct seen {
    uint8_t tag[TAG_BYTES];
    bool is_there;
    uint16_t last_ms;
};

struct field {
    struct seen seen[FIELD_TAGS];
    uint8_t latest; /* the place of the tag that was read last */
};

/* A tag was read; true where it is to be reported. */
bool field_read(struct field *field, const uint8_t *tag, uint16_t now_ms);

/* Forget what has been away for 300 ms; true where the last tag has gone. To be asked at least once a minute. */
bool field_left(struct field *field, uint16_t now_ms);

/* The tag that lies there, the one read last where there are several; NULL where none is. */
const uint8_t *field_tag(const struct field *field);

#endif
