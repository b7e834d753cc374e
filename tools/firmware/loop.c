#include "loop.h"

#include "config.h"

/* Speeds are fractions of FULL_SPEED_RPM in here, so that all figures are near 1. */
#define OF_FULL (1.0f / FULL_SPEED_RPM)
#define STEP_S (LOOP_MS * 0.001f)

/* The loop closes at this many rad/s, or, where the marks come seldom, at a figure that their age
 * allows: 0.5 rad of phase is what age may cost. */
#define BANDWIDTH 30.0f
#define PHASE_FOR_AGE 0.5f
#define GAIN_LEAST 1.0f
#define GAIN_MOST 20.0f
/* The trim makes the same again in so many times the loop's own time. */
#define TRIM_TIMES 4.0f

/* The learning: its lag, how long it listens before it trusts what it hears, and what it expects of
 * noise and of change (standard deviations, and those per root second). */
#define LAG_S 0.1f
#define LISTEN_STEPS 50 /* 0.2 s, two lags */
#define LEARN_EVERY 4
#define NOISE 0.004f
#define INERTIA_FIRST_S 0.15f

static const float kFirst[LOOP_TERMS] = {0.006f, 0.05f, 0.6f};
static const float kDrift[LOOP_TERMS] = {0.001f, 0.01f, 0.02f};
static const float kLeast[LOOP_TERMS] = {-0.1f, 0.6f, 0.03f};
static const float kMost[LOOP_TERMS] = {0.1f, 1.8f, 3.0f};

static float within(float value, float least, float most) {
  return value < least ? least : value > most ? most : value;
}

float loop_nominal(float speed) { return (float)COMMAND_AT_REST + speed * OF_FULL; }

void loop_begin(struct loop* loop) {
  loop->command = 0;
  loop->trim = 0;
  loop->need[LOOP_OFFSET] = 0;
  loop->need[LOOP_PER_SPEED] = 1.0f;
  loop->need[LOOP_INERTIA] = INERTIA_FIRST_S;
  for (uint8_t i = 0; i < LOOP_TERMS; i++)
    for (uint8_t j = 0; j < LOOP_TERMS; j++)
      loop->spread[i][j] = i == j ? kFirst[i] * kFirst[i] : 0;
  loop->steady_steps = 0;
}

/* The offset is not in it: the trim has that. */
static float known_need(const struct loop* loop, float target, float slope) {
  return (float)COMMAND_AT_REST + loop->need[LOOP_PER_SPEED] * target +
         loop->need[LOOP_INERTIA] * slope;
}

void loop_take_over(struct loop* loop, float speed, float command) {
  float x = speed * OF_FULL;
  loop->command = command;
  loop->trim = 0;
  loop->lagged_target = x;
  loop->lagged_speed = x;
  loop->aged_command = command;
  loop->lagged_command = command;
  loop->steady_steps = 0;
}

/* One step of a Kalman filter: three states, one measurement. */
static void fit(struct loop* loop, const float seen[LOOP_TERMS], float off) {
  float gain[LOOP_TERMS];
  float sure = NOISE * NOISE;
  for (uint8_t i = 0; i < LOOP_TERMS; i++) {
    gain[i] = 0;
    for (uint8_t j = 0; j < LOOP_TERMS; j++)
      gain[i] += loop->spread[i][j] * seen[j];
    sure += gain[i] * seen[i];
  }
  float weight = 1.0f / sure;
  for (uint8_t i = 0; i < LOOP_TERMS; i++) {
    loop->need[i] = within(loop->need[i] + gain[i] * off * weight, kLeast[i], kMost[i]);
    for (uint8_t j = 0; j < LOOP_TERMS; j++)
      loop->spread[i][j] -= gain[i] * gain[j] * weight;
    if (loop->spread[i][i] < kFirst[i] * kFirst[i])
      loop->spread[i][i] += kDrift[i] * kDrift[i] * (STEP_S * LEARN_EVERY);
  }
}

/* What is learnt moves out of the trim into the term that carries it: the command does not jump. */
static void learn(struct loop* loop, float target, float slope, float speed) {
  float rate = slope > 0 ? (speed - loop->lagged_speed) * (1.0f / LAG_S) : 0;
  const float seen[LOOP_TERMS] = {1.0f, loop->lagged_speed, rate};
  float held = known_need(loop, loop->lagged_speed, rate) + loop->need[LOOP_OFFSET];
  float before = known_need(loop, target, slope);
  fit(loop, seen, loop->lagged_command - held);
  loop->trim -= known_need(loop, target, slope) - before;
}

static void lag(struct loop* loop, float target, float speed, float age) {
  loop->lagged_target += (target - loop->lagged_target) * (STEP_S / (STEP_S + age));
  loop->aged_command += (loop->command - loop->aged_command) * (STEP_S / (STEP_S + age));
  loop->lagged_command += (loop->aged_command - loop->lagged_command) * (STEP_S / LAG_S);
  loop->lagged_speed += (speed - loop->lagged_speed) * (STEP_S / LAG_S);
}

/* Whether the rotor's answer says anything about the motor: not at the ends of the range, nor at
 * the motor's own limit, nor while slowing down (many a controller cannot brake). Elsewhere nothing
 * is learnt, and the trim stands: it would only wind up. */
static uint8_t answers(const struct loop* loop, const struct course* course) {
  uint8_t at_its_limit = course->waits && course->slope > 0;
  return loop->command > 0 && loop->command < 1 && course->slope >= 0 && !at_its_limit;
}

/* At a steady speed there is no rate, only the noise of one, which would wear the inertia away: it
 * is taken as none, once the ramp before has died out. */
static void learn_if_due(struct loop* loop, float target, float slope, float speed) {
  if (slope > 0)
    loop->steady_steps = 0;
  else if (loop->steady_steps < LISTEN_STEPS)
    loop->steady_steps++;
  uint8_t dying_out = slope <= 0 && loop->steady_steps < LISTEN_STEPS;
  if (++loop->beat % LEARN_EVERY == 0 && !dying_out)
    learn(loop, target, slope, speed);
}

float loop_step(struct loop* loop, const struct course* course, float speed_rpm, float age_s) {
  float target = course->target * OF_FULL;
  float slope = course->slope * OF_FULL;
  float speed = speed_rpm * OF_FULL;
  uint8_t answering = answers(loop, course);
  lag(loop, target, speed, age_s);
  if (answering)
    learn_if_due(loop, target, slope, speed);
  float bandwidth = age_s * BANDWIDTH < PHASE_FOR_AGE ? BANDWIDTH : PHASE_FOR_AGE / age_s;
  float gain = within(bandwidth * loop->need[LOOP_INERTIA], GAIN_LEAST, GAIN_MOST);
  float error = gain * (loop->lagged_target - speed);
  loop->command = within(known_need(loop, target, slope) + loop->trim + error, 0, 1);
  if (answering)
    loop->trim += error * bandwidth * (STEP_S / TRIM_TIMES);
  return loop->command;
}
