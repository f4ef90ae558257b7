/* A board of Numbertaker: inputs and one 125 kHz reader on an ATmega328P board at 16 MHz, on a serial line.
 *
 * settings.h is the file to change. ../README.md tells how to build and load it, ../first-wiring.md how to wire it.
 */
#include "board.h"

void setup()
{
    board_start();
}

void loop()
{
    board_turn();
}
