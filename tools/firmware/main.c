/* The reference driver for an ATmega328P: what runs when.
 *
 *   interrupts   the tach's edge, the servo's edge, the lid, bytes in and out, two clocks: all
 *                short, none lets another in (bounds.py counts their cycles)
 *   main loop    what came on the line; the pulses; and once a millisecond the run and the reports.
 *                Between, the chip sleeps.
 *
 * The watchdog is fed by the main loop, and only in a beat of the timer: a loop that hangs and a
 * timer that stands still both end in a reset. A reset leaves every pin an input, and the motor
 * off.
 */
#include "board.h"
#include "clock.h"
#include "config.h"
#include "guard.h"
#include "motor.h"
#include "run.h"
#include "serial.h"
#include "stack.h"
#include "tach.h"
#include "talk.h"

#include <avr/interrupt.h>
#include <avr/sleep.h>
#include <avr/wdt.h>

/* Kept out of the memory that the start-up code clears, which runs after it is written. */
static uint8_t reset_cause __attribute__((section(".noinit")));

/* As early as can be: after a reset by the watchdog it still runs, at its shortest time. */
void stop_watchdog(void) __attribute__((naked, used, section(".init3")));
void stop_watchdog(void) {
  reset_cause = MCUSR;
  MCUSR = 0;
  wdt_disable();
}

static uint8_t why_reset(void) {
  if (reset_cause & _BV(WDRF))
    return LATCH_WATCHDOG_RESET;
  if (reset_cause & _BV(PORF))
    return LATCH_POWER_UP;
  if (reset_cause & _BV(BORF))
    return LATCH_BROWN_OUT_RESET;
  if (reset_cause & _BV(EXTRF))
    return LATCH_EXTERNAL_RESET;
  return LATCH_POWER_UP;
}

static void start(void) {
  guard_start(why_reset());
  stack_mark();
  clock_start();
  motor_start();
  tach_start();
  serial_start();
  run_start();
  talk_start();
  set_sleep_mode(SLEEP_MODE_IDLE);
  wdt_enable(WDTO_250MS);
  sei();
}

static void pass_pulses(void) {
  struct pulse pulse;
  while (tach_take(&pulse))
    talk_pulse(&pulse, run_pulse(&pulse));
}

/* The pulses come first: the loop must not take a mark that waits here for one that is late. */
static void beat(void) {
  wdt_reset();
  pass_pulses();
  if (!stack_whole())
    guard_cut(LATCH_SELF_CHECK);
  run_beat();
  talk_beat();
}

int main(void) {
  start();
  for (;;) {
    talk_listen();
    while (clock_take_beat())
      beat();
    sleep_mode();
  }
}
