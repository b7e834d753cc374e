#include "guard.h"

#include "board.h"
#include "config.h"
#include "motor.h"

#include <avr/interrupt.h>
#include <util/atomic.h>

#define DEAD_MAN_MS 250
/* Milliseconds of low in a row that mean the supply is off; fewer are the ripple of a bad wire. */
#define SUPPLY_GONE_MS 2

static volatile uint8_t latch;
static volatile uint8_t quiet_ms;
static uint8_t supply_low_ms;

/* One instruction each (sbi, cbi, sbic): no interrupt can come between. */
static void enable_off(void) { PORTD &= (uint8_t)~_BV(ENABLE_BIT); }
static void enable_on(void) { PORTD |= _BV(ENABLE_BIT); }
uint8_t guard_armed(void) { return (PORTD & _BV(ENABLE_BIT)) != 0; }

uint8_t guard_lid_open(void) {
#if LID_SWITCH
  return (PIND & _BV(LID_BIT)) != 0;
#else
  return 0;
#endif
}

static uint8_t supply_off(void) {
#if SUPPLY_SENSE
  return (PIND & _BV(SUPPLY_BIT)) == 0;
#else
  return 0;
#endif
}

void guard_start(uint8_t reason) {
  enable_off();
  DDRD |= _BV(ENABLE_BIT);
  PORTD |= _BV(LID_BIT) | _BV(INDEX_BIT); /* weak pull-ups beside the strong ones of the board */
  latch = reason;
#if LID_SWITCH
  EICRA |= _BV(ISC01) | _BV(ISC00); /* lid: rising edge */
  EIMSK |= _BV(INT0);
#endif
}

void guard_cut(uint8_t reason) {
  enable_off();
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    motor_command(0);
    if (latch == LATCH_NONE)
      latch = reason;
  }
}

uint8_t guard_arm(void) {
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    quiet_ms = 0;
    supply_low_ms = 0;
    if (guard_lid_open())
      guard_cut(LATCH_LID_OPEN);
    if (supply_off())
      guard_cut(LATCH_MOTOR_FAULT);
    if (latch == LATCH_NONE)
      enable_on();
  }
  return guard_armed();
}

void guard_release(void) {
  if (!guard_armed())
    latch = LATCH_NONE;
}

uint8_t guard_latch(void) { return latch; }

void guard_feed(void) { quiet_ms = 0; }

/* The latch is free only when ready or turning; a lid that opens then is told either way. */
void guard_watch(void) {
  if (latch != LATCH_NONE)
    return;
  if (guard_lid_open())
    guard_cut(LATCH_LID_OPEN);
  if (!guard_armed())
    return;
  supply_low_ms = supply_off() ? supply_low_ms + 1 : 0;
  if (supply_low_ms >= SUPPLY_GONE_MS)
    guard_cut(LATCH_MOTOR_FAULT);
  if (++quiet_ms >= DEAD_MAN_MS)
    guard_cut(LATCH_LINK_LOST);
}

#if LID_SWITCH
ISR(INT0_vect) {
  if (guard_armed() && guard_lid_open())
    guard_cut(LATCH_LID_OPEN);
}
#endif
