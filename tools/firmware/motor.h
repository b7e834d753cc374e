/* The motor's command, as a pulse for a speed controller (motor_servo.c) or as plain pulse width
 * (motor_pwm.c); the build takes one of the two.
 */
#ifndef WHIRLER_MOTOR_H
#define WHIRLER_MOTOR_H

#include <stdint.h>

#define MOTOR_FULL 16384u

void motor_start(void);

/* 0 (no throttle) to MOTOR_FULL. Acts from the next period on. With interrupts off only. */
void motor_command(uint16_t command);

#endif
