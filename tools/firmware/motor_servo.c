/* Servo pulses from compare A of the free-running timer.
 *
 *   pin   ____/~~~~~~~~\_______________________/~~~~~~~~\____
 *             |<-width->|                      |
 *             |<------------ period ---------->|
 *
 * The timer makes both edges itself; the interrupt after each edge only says where and what the
 * next one is. So a late interrupt cannot move an edge, as long as it comes within the shorter of
 * the two stretches (1 ms): the longest wait here is some 10 us. And the timer is never stopped or
 * reset, so the pulse costs the tach nothing. A width is read once a period, at the rising edge: a
 * pulse never changes while it is out.
 */
#include "motor.h"

#include "board.h"
#include "clock.h"
#include "config.h"

#include <avr/interrupt.h>

#define PERIOD_TICKS (TICKS_PER_S / SERVO_HZ)
#define ZERO_TICKS (SERVO_ZERO_US * TICKS_PER_US)
#define RANGE_TICKS ((SERVO_FULL_US - SERVO_ZERO_US) * TICKS_PER_US)

#if PERIOD_TICKS > 65535
#error "SERVO_HZ: 31 or more; the timer wraps every 32.8 ms"
#endif
#if SERVO_FULL_US * TICKS_PER_US + 200 > PERIOD_TICKS
#error "SERVO_HZ: the longest pulse does not fit the period"
#endif

#define EDGE_RISES (_BV(COM1A1) | _BV(COM1A0))
#define EDGE_FALLS _BV(COM1A1)

static volatile uint16_t width_ticks = ZERO_TICKS;
static uint16_t rose_at;

void motor_start(void) {
  DDRB |= _BV(SERVO_BIT);
  TCCR1A = EDGE_RISES;
  rose_at = TCNT1 + PERIOD_TICKS;
  OCR1A = rose_at;
  TIMSK1 |= _BV(OCIE1A);
}

/* The upper half of a product: a shift by any other number of bits is a loop on this chip, and this
 * is called with interrupts off. */
void motor_command(uint16_t command) {
  width_ticks = ZERO_TICKS + (uint16_t)((command * (65536ul / MOTOR_FULL * RANGE_TICKS)) >> 16);
}

ISR(TIMER1_COMPA_vect) {
  if (TCCR1A == EDGE_RISES) {
    OCR1A = rose_at + width_ticks;
    TCCR1A = EDGE_FALLS;
  } else {
    rose_at += PERIOD_TICKS;
    OCR1A = rose_at;
    TCCR1A = EDGE_RISES;
  }
}
