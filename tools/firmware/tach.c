#include "tach.h"

#include "board.h"
#include "clock.h"
#include "config.h"

#include <avr/interrupt.h>
#include <util/atomic.h>

/* A power of two; at 2400 pulses/s it takes the main loop 13 ms of neglect to fill. */
#define ROOM 32u

static struct pulse ring[ROOM];
static volatile uint8_t head; /* next to write */
static volatile uint8_t tail; /* next to take */
static uint8_t lost;

void tach_start(void) {
  PORTB |= _BV(TACH_BIT); /* weak pull-up beside the board's own */
  TIMSK1 |= _BV(ICIE1);
#if INDEX == INDEX_WIDE
  EICRA |= _BV(ISC11); /* falling edge */
  EIMSK |= _BV(INT1);
#endif
}

#if INDEX == INDEX_WIDE

/* A wide mark shows itself at its end: until then, or until the next mark begins, the newest pulse
 * is not handed on. */
static volatile uint8_t open_mark; /* the newest pulse waits for its falling edge */
static uint32_t width_before;

static uint8_t ready_count(void) {
  return (uint8_t)((uint8_t)(head - tail) % ROOM) - (open_mark ? 1 : 0);
}

ISR(INT1_vect) {
  if (!open_mark)
    return;
  struct pulse* mark = &ring[(uint8_t)(head - 1) % ROOM];
  uint32_t width = clock_extend(TCNT1) - mark->tick;
  mark->is_index = width_before && width > width_before + width_before / 2;
  width_before = width;
  open_mark = 0;
}

#else

static uint8_t ready_count(void) { return (uint8_t)(head - tail) % ROOM; }

#endif

ISR(TIMER1_CAPT_vect) {
  uint16_t reading = ICR1;
  uint8_t next = (uint8_t)(head + 1) % ROOM;
  if (next == tail) {
    if (lost < 255)
      lost++;
    return;
  }
  struct pulse* mark = &ring[head];
  mark->tick = clock_extend(reading);
  mark->lost = lost;
  lost = 0;
#if INDEX == INDEX_INPUT
  mark->is_index = (PIND & _BV(INDEX_BIT)) != 0;
#else
  mark->is_index = 0;
#endif
#if INDEX == INDEX_WIDE
  open_mark = 1;
#endif
  head = next;
}

uint8_t tach_take(struct pulse* into) {
  uint8_t ready;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { ready = ready_count(); }
  if (ready == 0)
    return 0;
  *into = ring[tail];
  tail = (uint8_t)(tail + 1) % ROOM;
  return 1;
}
