#include "clock.h"

#include "board.h"
#include "guard.h"

#include <avr/interrupt.h>
#include <util/atomic.h>

static volatile uint16_t overflows;
static volatile uint8_t beats; /* not yet taken */
static volatile uint32_t milliseconds;

void clock_start(void) {
  TCCR1A = 0;
  TCCR1B = _BV(ICNC1) | _BV(ICES1) | _BV(CS11); /* noise canceller, rising edge, 16 MHz / 8 */
  TIMSK1 = _BV(TOIE1);
  TCCR2A = _BV(WGM21); /* count to OCR2A */
  OCR2A = 249;
  TCCR2B = _BV(CS22); /* 16 MHz / 64 / 250 = 1 kHz */
  TIMSK2 = _BV(OCIE2A);
}

/* A wrap that has happened and is not yet counted belongs to readings from after it. */
uint32_t clock_extend(uint16_t reading) {
  uint16_t high = overflows;
  if ((TIFR1 & _BV(TOV1)) && reading < 0x8000u)
    high++;
  return ((uint32_t)high << 16) | reading;
}

uint32_t clock_ticks(void) {
  uint32_t now;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { now = clock_extend(TCNT1); }
  return now;
}

uint32_t clock_ms(void) {
  uint32_t now;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { now = milliseconds; }
  return now;
}

uint8_t clock_take_beat(void) {
  uint8_t due = 0;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    if (beats) {
      beats--;
      due = 1;
    }
  }
  return due;
}

ISR(TIMER1_OVF_vect) { overflows++; }

ISR(TIMER2_COMPA_vect) {
  milliseconds++;
  if (beats < 255)
    beats++;
  guard_watch();
}
