/* The chip: its pins and its host's line, its EEPROM, its starts, and how long it shuts its ears. */
#include "harness.h"

#include <simavr/avr_eeprom.h>
#include <simavr/avr_extint.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_elf.h>
#include <stdio.h>
#include <string.h>

enum { MCUSR_AT = 0x54, POWER_BIT = 1, EXTERNAL_BIT = 2, HANG_AT = 0x7000, EEPROM_BYTES = 1024 };

avr_t *avr;
static uint8_t levels[3] = {0xFF, 0xFF, 0xFF};
static const char PORT_NAMES[] = "BCD";
static avr_cycle_count_t off_since, off_longest;
static bool has_begun; /* interrupts have been on since the last start */

static avr_cycle_count_t happen(avr_t *chip, avr_cycle_count_t when, void *param);

void wait_for_next(void)
{
    avr_cycle_timer_cancel(avr, happen, NULL);
    const event_t *next = next_event();
    if (next) {
        avr_cycle_count_t when = next->when;
        avr_cycle_timer_register(avr, when > avr->cycle ? when - avr->cycle : 1, happen, NULL);
    }
}

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
    const event_t *next;
    while ((next = next_event()) != NULL && next->when <= chip->cycle) {
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
    return next ? next->when : 0;
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
        forget_half_line();
        wait_for_next();
    }
    owed = PIN;
}

static void from_uart(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq, (void)param;
    from_firmware((char)value);
}

static void no_sleep(avr_t *chip, avr_cycle_count_t cycles)
{
    (void)chip, (void)cycles; /* the moments asleep count, and cost nothing */
}

static void load_eeprom(const char *eeprom_file)
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

void keep_eeprom(const char *eeprom_file)
{
    avr_eeprom_desc_t what = {.ee = NULL, .offset = 0, .size = EEPROM_BYTES};
    avr_ioctl(avr, AVR_IOCTL_EEPROM_GET, &what);
    FILE *file = fopen(eeprom_file, "wb");
    if (!file || fwrite(what.ee, 1, EEPROM_BYTES, file) != EEPROM_BYTES || fclose(file)) {
        fail("EEPROM file", eeprom_file);
    }
}

void start(const char *firmware, const char *eeprom_file)
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
    load_eeprom(eeprom_file);
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

void run_to(avr_cycle_count_t target)
{
    const event_t *next;
    while (avr->cycle < target) {
        int state = avr_run(avr);
        note_off();
        if (owed != PIN) {
            do_owed();
        } else if (state == cpu_Done || state == cpu_Crashed) {
            fail("the chip", state == cpu_Done ? "sleeps for ever" : "has crashed");
        } else if ((next = next_event()) != NULL && avr->cycle > next->when + 16 * MHZ) {
            wait_for_next(); /* a reset by the watchdog has taken the timer away */
        }
    }
}

double longest_off_us(void)
{
    return (double)off_longest / MHZ;
}
