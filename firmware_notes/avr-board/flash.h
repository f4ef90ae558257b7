/* Texts and tables that never change stay in flash: the chip has 2048 bytes of RAM, and copies all others into it. */
#ifndef FLASH_H
#define FLASH_H

#ifdef __AVR__
#include <avr/pgmspace.h>
#else
#include <stdint.h>
#define PROGMEM
#define PSTR(text) text
#define pgm_read_byte(at) (*(const uint8_t *)(at))
#define pgm_read_dword(at) (*(const uint32_t *)(at))
#endif

#endif
