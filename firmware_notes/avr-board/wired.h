/* What settings.h says of this board, and what follows from it. */
#ifndef WIRED_H
#define WIRED_H

#define READER_NONE 0
#define READER_SERIAL 1
#define READER_BARE 2

#ifndef SETTINGS
#define SETTINGS "settings.h"
#endif
#include SETTINGS

#if READER == READER_NONE
#define NUMBER_OF_READER 0
#else
#define NUMBER_OF_READER READER_INPUT
#endif

#define ONE_INPUT(number, pin, inverted) +1

/* A place of the board: an input, in the order of settings.h; behind them the reader, where there is one. */
enum { INPUT_COUNT = 0 INPUTS(ONE_INPUT), HAS_READER = READER != READER_NONE, PLACES = INPUT_COUNT + HAS_READER };

#endif
