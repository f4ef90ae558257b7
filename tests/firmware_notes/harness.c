/* An ATmega328P at 16 MHz in software, with what is wired to it: inputs, a reader's line, the host's line, EEPROM.
 *
 *     harness FIRMWARE.elf EEPROM-FILE [pty]
 *
 * Rule: what happens on a pin happens at a moment of the chip's own time (microseconds since the program began, resets not
 * counted), so that a test without `pace` gives the same on any machine, however busy.
 *
 * With `pty` the host's line is a pseudo-terminal, named in the first line printed: "uart /dev/pts/3". Without, each line
 * that the firmware sends is printed as "> MICROSECONDS LINE" with the moment of its last byte.
 *
 * Commands, a line each; each may stand behind "at MICROSECONDS" or "in MICROSECONDS" (from now), else it is done now:
 *
 *     pin NUMBER LEVEL         drive a pin, by the number printed on the board
 *     bytes HEX                bytes on pin 8 at 9600 baud, 8N1
 *     levels US 0110..         levels on pin 8, so many microseconds each
 *     host TEXT, hosthex HEX   a line to the firmware (its LF is added); bytes as they are
 *     reset, power             pull the reset pin; switch off and on
 *     hang                     the program runs into an endless loop
 * and, done when read:
 *     run MICROSECONDS         as fast as it goes up to this moment; prints "at MICROSECONDS" when there
 *     pace FACTOR              run so many times as fast as real time from now on; prints "at MICROSECONDS" at once
 *     time                     prints "at MICROSECONDS"
 *     off                      prints "off MICROSECONDS": the longest that interrupts were off in a row, starts left out
 *     quit                     keep EEPROM and end, as does the end of the commands
 */
#define _GNU_SOURCE
#include "harness.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

/* The library counts a parity bit in every byte of the host's line, so that is no faster here: 11 bits at 117647 baud. */
enum { READER_PIN = 8, BYTE_CYCLES = 11 * 8 * 17, BIT_CYCLES = 16000000 / 9600 };

static FILE *out;
static int master = -1;
static avr_cycle_count_t host_free, reader_free; /* from when on these lines are free */
static double pace; /* 0: as fast as it goes */
static size_t line_length; /* of a line that the firmware is sending */

void fail(const char *why, const char *what)
{
    fprintf(stderr, "harness: %s: %s\n", why, what);
    exit(2);
}

/* -- what the firmware says ------------------------------------------------------------------------------------------- */

void from_firmware(char byte)
{
    static char line[256];
    if (master >= 0) { /* where nobody reads for long it is lost, as on a real line */
        if (write(master, &byte, 1) != 1 && errno != EAGAIN) {
            fail("pseudo-terminal", strerror(errno));
        }
        return;
    }
    if (byte != '\n') {
        if (line_length < sizeof line - 1) {
            line[line_length++] = byte;
        }
        return;
    }
    fprintf(out, "> %llu %.*s\n", (unsigned long long)(avr->cycle / MHZ), (int)line_length, line);
    line_length = 0;
}

void forget_half_line(void)
{
    line_length = 0;
}

/* -- commands --------------------------------------------------------------------------------------------------------- */

static avr_cycle_count_t later(avr_cycle_count_t one, avr_cycle_count_t other)
{
    return one > other ? one : other;
}

static void to_host_line(avr_cycle_count_t when, int byte)
{
    host_free = later(when, host_free);
    plan(host_free, TO_UART, 0, byte);
    host_free += BYTE_CYCLES;
}

static void to_reader_line(avr_cycle_count_t when, int byte)
{
    reader_free = later(when, reader_free);
    int bits = 1 << 9 | byte << 1; /* stop bit, data, start bit */
    for (int n = 0; n < 10; ++n) {
        plan(reader_free + (avr_cycle_count_t)(n * BIT_CYCLES), PIN, READER_PIN, bits >> n & 1);
    }
    reader_free += 10 * BIT_CYCLES;
}

static void each_byte(const char *hex, avr_cycle_count_t when, void (*take)(avr_cycle_count_t, int))
{
    unsigned byte;
    for (; sscanf(hex, "%2x", &byte) == 1; hex += 2) {
        take(when, (int)byte);
    }
}

static void say_time(void)
{
    fprintf(out, "at %llu\n", (unsigned long long)(avr->cycle / MHZ));
    fflush(out);
}

static void from_terminal(void)
{
    unsigned char bytes[256];
    struct pollfd ready = {master, POLLIN, 0};
    if (master < 0 || poll(&ready, 1, 0) != 1) {
        return;
    }
    ssize_t count = read(master, bytes, sizeof bytes);
    for (ssize_t n = 0; n < count; ++n) {
        to_host_line(avr->cycle, bytes[n]);
    }
}

static bool do_command(char *line)
{
    unsigned long long us;
    int skip = 0, pin, level;
    avr_cycle_count_t when = avr->cycle;
    line[strcspn(line, "\r\n")] = 0;
    if (sscanf(line, "at %llu %n", &us, &skip) == 1) {
        when = us * MHZ;
        line += skip;
    } else if (sscanf(line, "in %llu %n", &us, &skip) == 1) {
        when += us * MHZ;
        line += skip;
    }
    if (sscanf(line, "pin %d %d", &pin, &level) == 2) {
        plan(when, PIN, pin, level);
    } else if (!strncmp(line, "bytes ", 6)) {
        each_byte(line + 6, when, to_reader_line);
    } else if (sscanf(line, "levels %llu %n", &us, &skip) == 1) {
        for (char *at = line + skip; *at; ++at, when += us * MHZ) {
            plan(when, PIN, READER_PIN, *at == '1');
        }
    } else if (!strncmp(line, "host ", 5)) {
        for (char *at = line + 5; *at; ++at) {
            to_host_line(when, (unsigned char)*at);
        }
        to_host_line(when, '\n');
    } else if (!strncmp(line, "hosthex ", 8)) {
        each_byte(line + 8, when, to_host_line);
    } else if (!strcmp(line, "reset") || !strcmp(line, "power") || !strcmp(line, "hang")) {
        plan(when, *line == 'r' ? RESET : *line == 'p' ? POWER : HANG, 0, 0);
    } else if (sscanf(line, "run %llu", &us) == 1) {
        from_terminal();
        wait_for_next();
        run_to(us * MHZ);
        say_time();
    } else if (sscanf(line, "pace %lf", &pace) == 1) {
        return true;
    } else if (!strcmp(line, "time")) {
        say_time();
    } else if (!strcmp(line, "off")) {
        fprintf(out, "off %.1f\n", longest_off_us());
    } else if (!strcmp(line, "quit")) {
        return false;
    } else if (*line) {
        fail("unknown command", line);
    }
    return true;
}

static double real_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* Until the commands end: real time, commands and terminal looked at every millisecond. */
static void run_paced(void)
{
    char held[4096];
    size_t length = 0;
    const double begun_s = real_s();
    const avr_cycle_count_t begun = avr->cycle;
    say_time();
    for (;;) {
        struct pollfd ready = {STDIN_FILENO, POLLIN, 0};
        if (poll(&ready, 1, 1) == 1) {
            ssize_t count = read(STDIN_FILENO, held + length, sizeof held - 1 - length);
            if (count <= 0) {
                return;
            }
            length += (size_t)count;
            held[length] = 0;
            for (char *end; (end = strchr(held, '\n')) != NULL;) {
                *end = 0;
                if (!do_command(held)) {
                    return;
                }
                length -= (size_t)(end + 1 - held);
                memmove(held, end + 1, length + 1);
            }
        }
        from_terminal();
        wait_for_next();
        run_to(begun + (avr_cycle_count_t)((real_s() - begun_s) * pace * MHZ * 1e6));
        fflush(out);
    }
}

static void open_terminal(void)
{
    struct termios raw;
    master = posix_openpt(O_RDWR | O_NOCTTY);
    if (master < 0 || grantpt(master) || unlockpt(master)) {
        fail("no pseudo-terminal", strerror(errno));
    }
    int slave = open(ptsname(master), O_RDWR | O_NOCTTY); /* kept open: else a host that closes would end it */
    tcgetattr(slave, &raw);
    cfmakeraw(&raw);
    tcsetattr(slave, TCSANOW, &raw);
    fcntl(master, F_SETFL, O_NONBLOCK);
    fprintf(out, "uart %s\n", ptsname(master));
    fflush(out);
}

int main(int count, char **words)
{
    char line[1 << 16];
    if (count < 3) {
        fail("usage", "harness FIRMWARE.elf EEPROM-FILE [pty]");
    }
    signal(SIGPIPE, SIG_IGN);
    out = fdopen(dup(STDOUT_FILENO), "w");
    dup2(STDERR_FILENO, STDOUT_FILENO); /* the library prints there too */
    start(words[1], words[2]);
    if (count > 3) {
        open_terminal();
    }
    setvbuf(stdin, NULL, _IONBF, 0); /* what stands behind `pace` is read by other means */
    while (pace == 0 && fgets(line, sizeof line, stdin) && do_command(line)) {
    }
    if (pace != 0) {
        run_paced();
    }
    fflush(out);
    keep_eeprom(words[2]);
    return 0;
}
