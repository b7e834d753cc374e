/* Plain pulse width, 7.8 kHz, 8 bits, on compare A of timer 0. What 8 bits cannot hold is carried
 * to the next call, so that the mean over a few calls has the full resolution.
 *
 * The compare output cannot make a width of nothing in this mode: for 0 the pin is taken from the
 * timer and held low.
 */
#include "motor.h"

#include "board.h"

static uint8_t carried;

void motor_start(void) {
  DDRD |= _BV(PWM_BIT);
  TCCR0A = _BV(WGM01) | _BV(WGM00);
  TCCR0B = _BV(CS01); /* 16 MHz / 8 / 256 */
}

/* MOTOR_FULL / 64 is 256: a step more than the widest pulse, which then is the full period. */
void motor_command(uint16_t command) {
  if (command == 0) {
    TCCR0A = _BV(WGM01) | _BV(WGM00);
    carried = 0;
    return;
  }
  uint16_t want = command + carried;
  carried = want % 64;
  uint16_t above = want < 64 ? 0 : want - 64;
  if (above > MOTOR_FULL - 1)
    above = MOTOR_FULL - 1;
  /* By 64, as the upper byte of four times it: a shift by six is a loop on this chip, and this is
   * called with interrupts off. */
  OCR0A = (uint8_t)((uint16_t)(above << 2) >> 8);
  TCCR0A = _BV(COM0A1) | _BV(WGM01) | _BV(WGM00);
}
