/* Which pin and which timer does what, on any ATmega328P board at 16 MHz. Pin names in brackets are
 * those printed on the usual boards. WIRING.md has the drawing.
 *
 *   PB0 [8]   tach, input capture of timer 1        PD2 [2]  lid contact, open = high
 *   PB1 [9]   servo pulse, compare A of timer 1     PD3 [3]  index, or tach again for a wide mark
 *   PD6 [6]   PWM instead, compare A of timer 0     PD4 [4]  motor enable, high = on
 *   PD0/PD1   serial line, 500000 baud 8N1          PD5 [5]  motor supply is on = high
 *
 * timer 1  free running at 2 MHz: the clock of every pulse, and the edges of the servo pulse
 * timer 2  1 kHz: dead-man, lid and supply by level, the beat of the main loop
 * timer 0  PWM builds only
 *
 * The motor enable needs a pull-down on the board: a chip in reset, in its boot loader, or without
 * supply leaves the pin floating, and floating must mean off.
 */
#ifndef WHIRLER_BOARD_H
#define WHIRLER_BOARD_H

#include <avr/io.h>

#define TACH_BIT PB0
#define SERVO_BIT PB1
#define LID_BIT PD2
#define INDEX_BIT PD3
#define ENABLE_BIT PD4
#define SUPPLY_BIT PD5
#define PWM_BIT PD6

#define BAUD 500000ul

#endif
