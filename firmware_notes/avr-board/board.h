/* What the board does: it hears its inputs and its host, and says what there is to say, a line a turn. */
#ifndef BOARD_H
#define BOARD_H

#ifdef __cplusplus
extern "C" {
#endif

/* Once, at the start. */
void board_start(void);

/* Again and again; it never waits. */
void board_turn(void);

#ifdef __cplusplus
}
#endif

#endif
