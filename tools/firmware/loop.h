/* The speed loop: a command from 0 to 1 that makes the rotor follow the target.
 *
 *   command = at_rest + per_rpm * target + per_rpm_s * slope      what the motor should need
 *           + trim + P (target - speed)                           what it needs besides
 *
 * The two middle terms are learnt: `per_rpm` starts from the builder's figure and follows the
 * supply and the drag; `per_rpm_s` is the plate's inertia in units of command, and a light and a
 * heavy plate differ by a factor of five. It is learnt within the first second of the first ramp,
 * and so one set of gains does for all: the integral has nothing left to do at the end of a ramp,
 * and nothing that it must unwind when the slope ends, which is where overshoot comes from.
 *
 * Learning is a recursive fit of command against speed and its rate, both through the same
 * first-order lag (then the relation between them holds exactly, and nothing is differentiated):
 *
 *   lagged(command) - at_rest = per_rpm * lagged(speed) + per_rpm_s * (speed - lagged(speed)) / LAG
 *
 * It stands still while the command is at either end of its range, where that relation is not true.
 *
 * Rejected: a higher gain (the marks come too seldom at low speed); a slower corner at the end of
 * each ramp (the profile says when the dwell begins); inertia as a figure in the builder's page (it
 * belongs to the plate, which changes every quarter of an hour).
 */
#ifndef WHIRLER_LOOP_H
#define WHIRLER_LOOP_H

#include "program.h"

#include <stdint.h>

/* What the motor needs: a constant besides COMMAND_AT_REST, command per speed (both of full scale),
 * and inertia: command per slope, in seconds. */
enum { LOOP_OFFSET, LOOP_PER_SPEED, LOOP_INERTIA, LOOP_TERMS };

struct loop {
  float command; /* the last, 0 to 1 */
  float trim;
  float need[LOOP_TERMS];
  float spread[LOOP_TERMS][LOOP_TERMS]; /* how well they are known: covariances */
  float aged_command, lagged_command, lagged_speed, lagged_target;
  uint8_t steady_steps, beat;
};

/* Milliseconds from one step to the next. */
#define LOOP_MS 4

void loop_begin(struct loop* loop);

/* The loop takes over from a fixed command at a measured speed (rpm). */
void loop_take_over(struct loop* loop, float speed, float command);

/* One step: the command that the target, its slope and the speed measured (rpm) need. The measured
 * speed is `age_s` old: it is held against the target of then, else every ramp would seem to lag.
 */
float loop_step(struct loop* loop, const struct course* course, float speed, float age_s);

/* What the builder's figures say that a speed needs: the yardstick for a tach that lies, so nothing
 * learnt is in it. */
float loop_nominal(float speed);

#endif
