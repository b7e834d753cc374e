/* A boot loader as they used to be: it waits a second for somebody to send a program, and does not
 * know that after a reset by the watchdog the watchdog still runs, at its shortest time. So the
 * chip resets over and over and never reaches the firmware. Kept for the bench: the motor must stay
 * off through it.
 */
#include <avr/io.h>
#include <stdint.h>

void boot(void) __attribute__((naked, used, section(".text")));
void boot(void) {
  __asm__ volatile("clr r1");
  for (volatile uint32_t wait = 0; wait < 400000; wait++) {
  }
  __asm__ volatile("jmp 0");
}
