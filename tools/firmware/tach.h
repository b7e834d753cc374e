/* Every pulse of the tach, with the tick at which it rose: kept by the input capture, so good to
 * one tick whatever else the chip is doing, and handed on in order. Nothing is filtered or averaged
 * here but what the timer's noise canceller drops (shorter than a quarter of a microsecond).
 */
#ifndef WHIRLER_TACH_H
#define WHIRLER_TACH_H

#include <stdint.h>

struct pulse {
  uint32_t tick;
  uint8_t is_index; /* this is mark 0 */
  uint8_t lost;     /* pulses just before it that came while there was no room; 255 for more */
};

void tach_start(void);

/* The oldest pulse that was not yet taken; 0 when there is none. */
uint8_t tach_take(struct pulse* into);

#endif
