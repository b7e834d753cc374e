/* The driver's two clocks.
 *
 *   ticks  half a microsecond, timer 1 and the count of its overflows: 32 bits that wrap every
 *          35.8 minutes. The host sees the wrap and counts it; nothing here papers it over.
 *   beats  one millisecond, timer 2. The main loop sleeps from beat to beat.
 */
#ifndef WHIRLER_CLOCK_H
#define WHIRLER_CLOCK_H

#include <stdint.h>

#define TICKS_PER_US 2u
#define TICKS_PER_MS 2000u
#define TICKS_PER_S 2000000ul

void clock_start(void);

/* Ticks now; interrupts may be on or off. */
uint32_t clock_ticks(void);

/* Milliseconds since power-up. */
uint32_t clock_ms(void);

/* The full tick of a 16-bit reading of timer 1 that is younger than half a wrap (16 ms). Only with
 * interrupts off. */
uint32_t clock_extend(uint16_t reading);

/* True once for every beat, to the one caller that asks: the main loop. */
uint8_t clock_take_beat(void);

#endif
