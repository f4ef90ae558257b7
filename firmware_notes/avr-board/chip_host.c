/* The host's line, at 115200 baud. */
#include "chip_parts.h"

enum {
    BAUD_DIVISOR = 16, /* 117647 baud, 2.1 % from 115200: as near as 16 MHz comes, and near enough */
    SAY_BYTES = 256,   /* indices of 8 bits go round by themselves */
    TOLD_BYTES = 64
};

_Static_assert(F_CPU / 8 / (BAUD_DIVISOR + 1) * 1000 / 115200 < 1025, "baud: a receiver bears 4.5 % over a byte");

static volatile char say[SAY_BYTES];
static volatile uint8_t say_in, say_out;
static volatile char told[TOLD_BYTES];
static volatile uint8_t told_in, told_out;

ISR(USART_RX_vect)
{
    bool is_broken = UCSR0A & _BV(FE0);
    char byte = (char)UDR0;
    uint8_t next = (uint8_t)((told_in + 1) % TOLD_BYTES);
    if (next != told_out && !is_broken) { /* what is missing here fails by its checksum */
        told[told_in] = byte;
        told_in = next;
    }
}

ISR(USART_UDRE_vect)
{
    if (say_out == say_in) {
        UCSR0B &= (uint8_t)~_BV(UDRIE0);
        return;
    }
    UDR0 = (uint8_t)say[say_out];
    ++say_out;
}

bool chip_told(char *byte)
{
    if (told_out == told_in) {
        return false;
    }
    *byte = told[told_out];
    told_out = (uint8_t)((told_out + 1) % TOLD_BYTES);
    return true;
}

uint8_t chip_room(void)
{
    return (uint8_t)(say_out - say_in - 1);
}

void chip_say(const char *bytes, uint8_t length)
{
    while (length--) {
        say[say_in] = *bytes++;
        ++say_in;
    }
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        UCSR0B |= _BV(UDRIE0);
    }
}

void chip_host_start(void)
{
    UCSR0A = _BV(U2X0);
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UBRR0 = BAUD_DIVISOR;
    UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
}
