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
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <simavr/avr_eeprom.h>
#include <simavr/avr_extint.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

/* The library counts a parity bit in every byte of the host's line, so that is no faster here: 11 bits at 117647 baud. */
enum { MHZ = 16, READER_PIN = 8, BYTE_CYCLES = 11 * 8 * 17, BIT_CYCLES = 16000000 / 9600, EEPROM_BYTES = 1024 };
enum { MCUSR_AT = 0x54, POWER_BIT = 1, EXTERNAL_BIT = 2, HANG_AT = 0x7000 };

typedef enum { PIN, TO_UART, RESET, POWER, HANG } what_t;

typedef struct {
    avr_cycle_count_t when;
    unsigned long order; /* events of the same moment happen in the order in which they were told */
    what_t what;
    int pin, value;
} event_t;

static avr_t *avr;
static FILE *out;
static int master = -1;
static const char *eeprom_file;
static event_t *events;
static size_t event_count, event_room;
static unsigned long told;
static avr_cycle_count_t host_free, reader_free; /* from when on these lines are free */
static uint8_t levels[3] = {0xFF, 0xFF, 0xFF};
static const char PORT_NAMES[] = "BCD";
static avr_cycle_count_t off_since, off_longest;
static bool has_begun; /* interrupts have been on since the last start */
static double pace; /* 0: as fast as it goes */
static size_t line_length; /* of a line that the firmware is sending */

static void fail(const char *why, const char *what)
{
    fprintf(stderr, "harness: %s: %s\n", why, what);
    exit(2);
}

/* -- events: a heap by moment ----------------------------------------------------------------------------------------- */

static bool is_before(const event_t *one, const event_t *other)
{
    return one->when < other->when || (one->when == other->when && one->order < other->order);
}

static avr_cycle_count_t happen(avr_t *chip, avr_cycle_count_t when, void *param);

static void wait_for_next(void)
{
    avr_cycle_timer_cancel(avr, happen, NULL);
    if (event_count) {
        avr_cycle_count_t when = events[0].when;
        avr_cycle_timer_register(avr, when > avr->cycle ? when - avr->cycle : 1, happen, NULL);
    }
}

static void plan(avr_cycle_count_t when, what_t what, int pin, int value)
{
    if (event_count == event_room) {
        event_room = event_room ? 2 * event_room : 1024;
        events = realloc(events, event_room * sizeof *events);
    }
    event_t event = {when, told++, what, pin, value};
    size_t n = event_count++;
    for (; n && is_before(&event, &events[(n - 1) / 2]); n = (n - 1) / 2) {
        events[n] = events[(n - 1) / 2];
    }
    events[n] = event;
}

static event_t take_event(void)
{
    event_t first = events[0], last = events[--event_count];
    size_t n = 0;
    for (size_t child; (child = 2 * n + 1) < event_count; n = child) {
        if (child + 1 < event_count && is_before(&events[child + 1], &events[child])) {
            ++child;
        }
        if (is_before(&last, &events[child])) {
            break;
        }
        events[n] = events[child];
    }
    events[n] = last;
    return first;
}

/* -- the chip --------------------------------------------------------------------------------------------------------- */

static void drive(int port, int bit, int level)
{
    levels[port] = (uint8_t)((levels[port] & ~(1 << bit)) | level << bit);
    avr_ioport_external_t outside = {.name = PORT_NAMES[port], .mask = 0xFF, .value = levels[port]};
    avr_ioctl(avr, AVR_IOCTL_IOPORT_SET_EXTERNAL(PORT_NAMES[port]), &outside);
    avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(PORT_NAMES[port]), bit), (uint32_t)level);
}

static void drive_pin(int pin, int level)
{
    int port = pin < 8 ? 2 : pin < 14 ? 0 : 1;
    drive(port, pin < 8 ? pin : pin < 14 ? pin - 8 : pin - 14, level);
}

static void restart(int reason)
{
    avr_reset(avr);
    has_begun = false;
    avr->data[MCUSR_AT] = (uint8_t)reason;
    avr_extint_set_strict_lvl_trig(avr, 0, 0); /* else pins 2 and 3 are looked at in every cycle while they are low */
    avr_extint_set_strict_lvl_trig(avr, 1, 0);
    for (int port = 0; port < 3; ++port) {
        for (int bit = 0; bit < 8; ++bit) {
            drive(port, bit, levels[port] >> bit & 1);
        }
    }
}

static what_t owed; /* what cannot be done from within the chip's own turn; PIN: nothing */

static avr_cycle_count_t happen(avr_t *chip, avr_cycle_count_t when, void *param)
{
    (void)when, (void)param;
    while (event_count && events[0].when <= chip->cycle) {
        event_t event = take_event();
        switch (event.what) {
        case PIN:
            drive_pin(event.pin, event.value);
            break;
        case TO_UART:
            avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), (uint32_t)event.value);
            break;
        case RESET:
        case POWER:
        case HANG:
            owed = event.what;
            break;
        }
    }
    return event_count ? events[0].when : 0;
}

static void do_owed(void)
{
    if (owed == HANG) {
        avr->flash[HANG_AT] = 0xFF; /* rjmp to itself */
        avr->flash[HANG_AT + 1] = 0xCF;
        avr->pc = HANG_AT;
        avr->state = cpu_Running;
    } else {
        restart(owed == POWER ? POWER_BIT : EXTERNAL_BIT);
        line_length = 0; /* what was half said is half said */
        wait_for_next();
    }
    owed = PIN;
}

static void from_uart(struct avr_irq_t *irq, uint32_t value, void *param)
{
    static char line[256];
    (void)irq, (void)param;
    char byte = (char)value;
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

static void no_sleep(avr_t *chip, avr_cycle_count_t cycles)
{
    (void)chip, (void)cycles; /* the moments asleep count, and cost nothing */
}

static void load_eeprom(void)
{
    uint8_t cells[EEPROM_BYTES];
    memset(cells, 0xFF, sizeof cells);
    FILE *file = fopen(eeprom_file, "rb");
    if (file) {
        if (fread(cells, 1, sizeof cells, file) != sizeof cells) {
            fail("EEPROM file is not whole", eeprom_file);
        }
        fclose(file);
    }
    avr_eeprom_desc_t what = {.ee = cells, .offset = 0, .size = sizeof cells};
    avr_ioctl(avr, AVR_IOCTL_EEPROM_SET, &what);
}

static void keep_eeprom(void)
{
    avr_eeprom_desc_t what = {.ee = NULL, .offset = 0, .size = EEPROM_BYTES};
    avr_ioctl(avr, AVR_IOCTL_EEPROM_GET, &what);
    FILE *file = fopen(eeprom_file, "wb");
    if (!file || fwrite(what.ee, 1, EEPROM_BYTES, file) != EEPROM_BYTES || fclose(file)) {
        fail("EEPROM file", eeprom_file);
    }
}

static void start(const char *firmware)
{
    elf_firmware_t loaded;
    memset(&loaded, 0, sizeof loaded);
    if (elf_read_firmware(firmware, &loaded)) {
        fail("no firmware", firmware);
    }
    avr = avr_make_mcu_by_name("atmega328p");
    avr_init(avr);
    avr->frequency = MHZ * 1000000;
    avr->log = LOG_ERROR;
    avr->sleep = no_sleep;
    loaded.eeprom = NULL;
    avr_load_firmware(avr, &loaded);
    avr->frequency = MHZ * 1000000;
    uint32_t flags = 0;
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), from_uart, NULL);
    load_eeprom();
    restart(POWER_BIT);
}

/* Interrupts are off while one is served, and where the program says so. */
static void note_off(void)
{
    if (avr->sreg[S_I]) {
        if (off_since && has_begun && avr->cycle - off_since > off_longest) {
            off_longest = avr->cycle - off_since;
        }
        has_begun = true;
        off_since = 0;
    } else if (!off_since) {
        off_since = avr->cycle;
    }
}

static void run_to(avr_cycle_count_t target)
{
    while (avr->cycle < target) {
        int state = avr_run(avr);
        note_off();
        if (owed != PIN) {
            do_owed();
        } else if (state == cpu_Done || state == cpu_Crashed) {
            fail("the chip", state == cpu_Done ? "sleeps for ever" : "has crashed");
        } else if (event_count && avr->cycle > events[0].when + 16 * MHZ) {
            wait_for_next(); /* a reset by the watchdog has taken the timer away */
        }
    }
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
        fprintf(out, "off %.1f\n", (double)off_longest / MHZ);
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
    eeprom_file = words[2];
    start(words[1]);
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
    keep_eeprom();
    return 0;
}
