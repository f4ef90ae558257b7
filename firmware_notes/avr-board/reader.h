/* The board's reader of settings.h: a report of each tag that comes, and of one that is lifted from where it rests. */
#ifndef READER_H
#define READER_H

#include <stdint.h>

#include "reports.h"

void reader_start(void);

void reader_turn(struct reports *reports);

/* How it stands now, into `report`. */
void reader_look(struct report *report);

/* How many frames were none. */
uint32_t reader_refused(void);

#endif
