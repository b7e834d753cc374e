/* What differs from one whirler to the next. Everything a builder may have to change is here, or
 * given to make: `make MARKS=24 INDEX=wide`. The host learns these figures at hello and holds them
 * against its machine file: where they disagree it refuses to run.
 */
#ifndef WHIRLER_CONFIG_H
#define WHIRLER_CONFIG_H

/* --- the tach ------------------------------------------------------------------------------- */

/* Marks that pass the sensor in one turn. */
#ifndef MARKS
#define MARKS 6
#endif

/* How mark 0 is told from the others:
 *   INDEX_NONE   it is not;
 *   INDEX_INPUT  a second sensor, whose slot is open while mark 0's edge passes the first;
 *   INDEX_WIDE   mark 0 is at least 1.5 times as wide as the others, and the tach wire goes to the
 *                index input too. */
#define INDEX_NONE 0
#define INDEX_INPUT 1
#define INDEX_WIDE 2
#ifndef INDEX
#define INDEX INDEX_INPUT
#endif

/* --- the motor's command -------------------------------------------------------------------- */

/* OUTPUT_SERVO: pulses of 1 to 2 ms for a hobby speed controller.
 * OUTPUT_PWM:   plain pulse width, 7.8 kHz, for a brushed motor's gate or, through a filter, for a
 *               drive with an analogue input. */
#define OUTPUT_SERVO 0
#define OUTPUT_PWM 1
#ifndef OUTPUT
#define OUTPUT OUTPUT_SERVO
#endif

/* Servo pulses a second. 250 suits most controllers; an old one may need 50, and then a stop by
 * command alone takes up to 20 ms (the enable output still drops at once). */
#ifndef SERVO_HZ
#define SERVO_HZ 250
#endif

/* The pulse that means no throttle, and full throttle, in microseconds. Teach the controller the
 * same two (its manual says how), with the plate off. */
#ifndef SERVO_ZERO_US
#define SERVO_ZERO_US 1000
#endif
#ifndef SERVO_FULL_US
#define SERVO_FULL_US 2000
#endif

/* How long the controller must see no throttle after its supply comes on before it obeys. */
#ifndef ARM_MS
#if OUTPUT == OUTPUT_SERVO
#define ARM_MS 2000
#else
#define ARM_MS 100
#endif
#endif

/* 1 where a wire tells whether the motor's supply is on behind the emergency stop; then pressing
 * it is seen within 3 ms. With 0 it is seen by the loop: the motor no longer answers. */
#ifndef SUPPLY_SENSE
#define SUPPLY_SENSE 1
#endif

/* 1 where a lid switch is wired. With 0 the host is told so, and asks for a typed yes. */
#ifndef LID_SWITCH
#define LID_SWITCH 1
#endif

/* --- limits: the host's file may ask for less, never for more -------------------------------- */

#ifndef LIMIT_SPEED_RPM
#define LIMIT_SPEED_RPM 6000
#endif
#ifndef LIMIT_SPEED_MIN_RPM
#define LIMIT_SPEED_MIN_RPM 100
#endif
#ifndef LIMIT_RAMP_RPM_S
#define LIMIT_RAMP_RPM_S 3000
#endif

/* --- the motor, roughly: the loop learns the rest while it runs --------------------------------
 */

/* Speed of the bare spindle at full command, and the command at which it just begins to turn. */
#ifndef FULL_SPEED_RPM
#define FULL_SPEED_RPM 9000
#endif
#ifndef COMMAND_AT_REST
#define COMMAND_AT_REST 0.04
#endif

#endif
