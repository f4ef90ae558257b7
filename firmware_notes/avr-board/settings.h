/* What this board is called and what is wired to it: the one file to change.
 *
 * `numbertaker boards FOLDER --settings BOARD` prints it for a board of your railway folder. Pins are the numbers printed on
 * the board: 2 to 12 and 14 to 19 (A0 to A5). 0 and 1 are the line to the host, 8 is the reader's, and 13 has a lamp on it.
 */
#ifndef SETTINGS_H
#define SETTINGS_H

/* As in railway.toml: 1 to 16 of a-z, 0-9 and "-". */
#define BOARD "alder"

/* INPUT(input's number in railway.toml, pin, 0: on when the contact to ground is closed, 1: on when it is open) */
#define INPUTS(INPUT)                          \
    INPUT(1, 2, 0) /* a track detector */      \
    INPUT(2, 3, 0) /* a treadle: reed switch */ \
    INPUT(3, 4, 0) /* a track detector */

/* READER_NONE, READER_SERIAL (a ready-made reader that sends frames at 9600 baud) or READER_BARE (a radio part alone, whose
 * demodulated output is decoded here). Its output goes to pin 8. */
#define READER READER_SERIAL
#define READER_INPUT 9
/* 1: a token rests on it, so it also reports when the token is lifted. */
#define READER_RESTS 0
/* 1: its output is upside down, as some are; it then idles low. */
#define READER_INVERTED 0

/* Milliseconds that an input has to stand still before it has changed: 5 to 10. */
#define DEBOUNCE_MS 8

#endif
