#include "presence.h"

#include <string.h>

bool field_read(struct field *field, const uint8_t *tag, uint16_t now_ms)
{
    uint8_t place = 0;
    uint16_t oldest_ms = 0;
    for (uint8_t n = 0; n < FIELD_TAGS; ++n) {
        struct seen *seen = &field->seen[n];
        if (seen->is_there && memcmp(seen->tag, tag, TAG_BYTES) == 0) {
            seen->last_ms = now_ms;
            field->latest = n;
            return false;
        }
        uint16_t away_ms = seen->is_there ? (uint16_t)(now_ms - seen->last_ms) : UINT16_MAX;
        if (n == 0 || away_ms > oldest_ms) {
            oldest_ms = away_ms;
            place = n;
        }
    }
    struct seen *seen = &field->seen[place];
    memcpy(seen->tag, tag, TAG_BYTES);
    seen->is_there = true;
    seen->last_ms = now_ms;
    field->latest = place;
    return true;
}

bool field_left(struct field *field, uint16_t now_ms)
{
    bool was_any = false, is_any = false;
    for (uint8_t n = 0; n < FIELD_TAGS; ++n) {
        struct seen *seen = &field->seen[n];
        was_any |= seen->is_there;
        if (seen->is_there && (uint16_t)(now_ms - seen->last_ms) >= ABSENT_MS) {
            seen->is_there = false;
        }
        is_any |= seen->is_there;
    }
    return was_any && !is_any;
}

const uint8_t *field_tag(const struct field *field)
{
    const struct seen *found = NULL;
    for (uint8_t n = 0; n < FIELD_TAGS; ++n) {
        const struct seen *seen = &field->seen[n];
        if (seen->is_there && (found == NULL || n == field->latest)) {
            found = seen;
        }
    }
    return found == NULL ? NULL : found->tag;
}
