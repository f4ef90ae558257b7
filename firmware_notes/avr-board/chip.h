/* The ATmega328P at 16 MHz: its registers and interrupts, and nothing that knows what a board says.
 *
 * Rule: nothing in here waits, but for EEPROM at the start. Interrupts only take in and hand out; the longest, when every
 * input changes in the same sample, is over in 65 us (measured by the tests), so that neither a byte of the host's line (one
 * in 87 us, and the chip holds two) nor an edge of the reader's (one in 104 us) is missed.
 *
 * Timer 2 counts time, timer 1 stamps the reader's edges. Timer 0 and the serial library are left to whoever wants them.
 */
#ifndef CHIP_H
#define CHIP_H

#include <stdbool.h>
#include <stdint.h>

enum { PORT_B, PORT_C, PORT_D, PORTS };

struct pins {
    uint8_t of[PORTS]; /* a bit for each pin of a port */
};

/* Debounced inputs of one port that changed in the same sample. */
struct change {
    uint32_t ms;
    uint8_t port;
    uint8_t changed;
    uint8_t levels;
};

/* A raw edge of a watched pin. */
struct raw_edge {
    uint32_t us;
    uint8_t port;
    uint8_t pin; /* a bit */
    bool level;
};

/* Why the chip has started, a text in flash; NULL where nobody knows. */
const char *chip_reset_reason(void);

/* `samples` of half a millisecond each debounce an input. */
void chip_start(struct pins inputs, uint8_t samples, bool has_reader);

/* How the inputs stood, debounced, at the start. */
uint8_t chip_levels(uint8_t port);

uint32_t chip_ms(void);

/* The least that was ever free between variables and stack, in bytes. */
uint16_t chip_free(void);

/* To be called at least every 500 ms: else the chip starts anew. */
void chip_alive(void);

/* The oldest of what has come, where something has. */
bool chip_change(struct change *change);
bool chip_told(char *byte);
bool chip_raw_edge(struct raw_edge *edge);

/* The reader's line stood at `level` for `us` and then changed. */
bool chip_reader_edge(uint16_t *us, bool *level);

/* No edge waits, and the reader's line has stood at `level` for `us` up to now (32 ms at most). */
bool chip_reader_quiet(uint16_t *us, bool *level);

/* Raw edges of exactly these pins are taken from now on. */
void chip_watch(struct pins watched);

/* How many bytes chip_say takes now; it must not be given more. */
uint8_t chip_room(void);
void chip_say(const char *bytes, uint8_t length);

/* Sleep until the next sample of the inputs, half a millisecond at most; bytes and edges are taken in meanwhile. */
void chip_rest(void);

#endif
