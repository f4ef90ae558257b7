/* The same without a sketch editor: `make`, or any avr-gcc, needs a main of its own. */
#ifndef ARDUINO

#include "board.h"

int main(void)
{
    board_start();
    for (;;) {
        board_turn();
    }
}

#endif
