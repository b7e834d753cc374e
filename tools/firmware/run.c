#include "run.h"

#include "clock.h"
#include "config.h"
#include "faults.h"
#include "guard.h"
#include "loop.h"
#include "marks.h"
#include "motor.h"
#include "program.h"
#include "speed.h"

#include <util/atomic.h>

/* The search: a slow speed reached at a gentle slope, then a little more command until it moves. */
#define SEARCH_RPM 250.0f
#define SEARCH_RPM_S 400.0f
#define SEARCH_CAP 0.15f
#define SEARCH_PUSH_PER_S 0.2f
#define SEARCH_MS_FIRST (MARKS == 1 ? 2000u : 1000u) /* no interval at all by then: tach_lost */
#define SEARCH_MS_MOST 3000u                         /* no three that agree by then */
#define SETTLE_MS 400u
/* Below this the marks are too far apart for the loop: at the end of a stop the motor just coasts.
 */
#define COAST_RPM 120.0f

/* A mark interval at 10 rpm, and at least a second. */
#define STILL_MS (6000ul / MARKS > 1000 ? 6000ul / MARKS : 1000ul)
#define STILL_UNBELIEVED_MS 60000ul

#define UNBELIEVED(latch)                                                                          \
  ((latch) == LATCH_STALL || (latch) == LATCH_TACH_LOST || (latch) == LATCH_TACH_IMPLAUSIBLE)

enum step { STEP_ARM, STEP_SEARCH, STEP_SETTLE };

static const struct limits kLimits = {LIMIT_SPEED_RPM * 1000ul, LIMIT_SPEED_MIN_RPM * 1000ul,
                                      LIMIT_RAMP_RPM_S * 1000ul};

static uint8_t state;
static uint8_t step;        /* of starting */
static uint8_t stop_reason; /* of stopping */
static uint8_t control_ms;
static uint32_t step_ms;
static uint32_t quiet_ms; /* since the last pulse */
static uint32_t pulses;
static struct start start;
static struct program program;
static struct course course;
static struct loop loop;
static struct speed speed;
static struct marks marks;
static struct faults faults;

void run_start(void) {
  state = STATE_LATCHED;
  program_clear(&program);
  speed_begin(&speed, MARKS);
  marks_begin(&marks, MARKS, INDEX != INDEX_NONE);
}

/* An interrupt may have latched since the last beat: nothing is decided before that is known. */
static void heed_latch(void) {
  if (guard_latch() != LATCH_NONE)
    state = STATE_LATCHED;
}

static uint8_t moving(void) { return state >= STATE_STARTING; }

static uint32_t still_after_ms(void) {
  return UNBELIEVED(guard_latch()) ? STILL_UNBELIEVED_MS : STILL_MS;
}

static uint8_t still(void) { return !moving() && quiet_ms >= still_after_ms(); }

uint16_t run_pulse(const struct pulse* pulse) {
  pulses += 1ul + pulse->lost;
  quiet_ms = 0;
  if (pulse->lost)
    speed_gap(&speed);
  speed_mark(&speed, pulse->tick);
  faults_pulse(&faults, pulse->tick);
  return marks_pass(&marks, pulse->is_index, pulse->lost);
}

static void put_command(float command) {
  uint16_t width = (uint16_t)(command * MOTOR_FULL);
  __asm__ volatile(""
                   : "+r"(width)); /* it takes long: the compiler must not move it into the block */
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    if (guard_armed())
      motor_command(width);
  }
}

static void enter_step(uint8_t next) {
  step = next;
  step_ms = 0;
}

static void latch_off(uint8_t reason) {
  guard_cut(reason);
  state = STATE_LATCHED;
}

static void search(void) {
  float rpm = step_ms * (SEARCH_RPM_S * 0.001f);
  float push = 0;
  if (rpm > SEARCH_RPM) {
    push = (rpm - SEARCH_RPM) * (SEARCH_PUSH_PER_S / SEARCH_RPM_S);
    rpm = SEARCH_RPM;
  }
  float command = loop_nominal(rpm) + push;
  loop.command = command < SEARCH_CAP ? command : SEARCH_CAP;
  put_command(loop.command);
}

static void search_beat(void) {
  if (marks_miscount(&marks)) {
    latch_off(LATCH_TACH_IMPLAUSIBLE);
    return;
  }
  search();
  if (speed_known(&speed)) {
    float now = speed_rpm(&speed, clock_ticks());
    loop_take_over(&loop, now, loop.command);
    course_begin(&course, start.segments, now);
    enter_step(STEP_SETTLE);
  } else if (step_ms >= SEARCH_MS_MOST || (!speed.interval && step_ms >= SEARCH_MS_FIRST)) {
    latch_off(LATCH_TACH_LOST);
  }
}

/* While a mark is overdue nobody knows the speed: the loop goes on with the last that was known,
 * and the command does not rise. Else a broken tach would look like a rotor that slows down, and be
 * answered with more and more power until it is called lost. */
static void follow(void) {
  float most = loop.command;
  speed.slope = course.slope;
  float rpm = speed_rpm(&speed, clock_ticks());
  uint8_t overdue = speed_waits(&speed, clock_ticks());
  loop_step(&loop, &course, overdue ? speed.rpm : rpm, speed_age_s(&speed));
  if (overdue && loop.command > most)
    loop.command = most;
  put_command(loop.command);
}

static void begin_stopping(uint8_t reason, float measured) {
  state = STATE_STOPPING;
  stop_reason = reason;
  if (course.target > measured)
    course.target = measured;
  course.phase_ms = 0;
}

static void stopping_beat(void) {
  if (course_stop(&course, start.stop_slope * 0.001f, LOOP_MS)) {
    latch_off(stop_reason);
    return;
  }
  if (course.target < COAST_RPM)
    put_command(0);
  else
    follow();
}

static void moving_beat(void) {
  uint32_t now = clock_ticks();
  float measured = speed_rpm(&speed, now);
  uint8_t fault = faults_find(&faults, &speed, &marks, &course, &loop, measured, now);
  if (fault != LATCH_NONE && !(state == STATE_STOPPING && course.target < COAST_RPM)) {
    latch_off(fault);
    return;
  }
  if (state == STATE_STOPPING) {
    stopping_beat();
    return;
  }
  if (state == STATE_STARTING) { /* settling: the target stands */
    if (step_ms >= SETTLE_MS) {
      state = STATE_RUNNING;
      course_begin(&course, start.segments, course.target);
    }
  } else if (course_step(&course, &program, measured, LOOP_MS)) {
    begin_stopping(LATCH_DONE, measured);
  }
  follow();
}

static void control_beat(void) {
  if (state == STATE_STARTING && step == STEP_ARM) {
    if (step_ms >= ARM_MS) {
      speed_restart(&speed);
      marks_judge_anew(&marks);
      enter_step(STEP_SEARCH);
    }
  } else if (state == STATE_STARTING && step == STEP_SEARCH) {
    search_beat();
  } else if (moving()) {
    moving_beat();
  }
}

void run_beat(void) {
  step_ms++;
  if (quiet_ms < STILL_UNBELIEVED_MS)
    quiet_ms++;
  heed_latch();
  if (++control_ms < LOOP_MS)
    return;
  control_ms = 0;
  control_beat();
}

void run_stop(void) {
  heed_latch();
  if (state == STATE_RUNNING)
    begin_stopping(LATCH_OPERATOR_STOP, speed_rpm(&speed, clock_ticks()));
  else if (state != STATE_STOPPING)
    latch_off(LATCH_OPERATOR_STOP);
}

void run_new_host(void) {
  if (state != STATE_LATCHED)
    latch_off(LATCH_NEW_HOST);
}

static struct verdict answer(uint8_t code) {
  struct verdict verdict = {code, 0, 0};
  return verdict;
}

struct verdict run_clear(void) {
  heed_latch();
  if (state == STATE_READY)
    return answer(NAK_NONE);
  if (!still())
    return answer(NAK_TURNING);
  if (guard_lid_open())
    return answer(NAK_LID_OPEN);
  program_clear(&program);
  guard_release();
  state = STATE_READY;
  return answer(NAK_NONE);
}

struct verdict run_segment(const uint8_t* payload) {
  heed_latch();
  if (state != STATE_READY)
    return answer(NAK_BAD_STATE);
  return program_take(&program, &kLimits, payload);
}

static struct verdict check_start(const struct start* asked) {
  struct verdict verdict = program_check(&program, &kLimits, asked);
  if (verdict.code != NAK_NONE)
    return verdict;
  if (asked->token == 0 || asked->token == start.token)
    return answer(NAK_TOKEN_USED);
  if (guard_lid_open())
    return answer(NAK_LID_OPEN);
  if (!LID_SWITCH && !asked->lid_confirmed)
    return answer(NAK_LID_UNKNOWN);
  return answer(NAK_NONE);
}

struct verdict run_go(const struct start* asked) {
  heed_latch();
  if (moving() && asked->token == start.token)
    return answer(NAK_NONE);
  if (state != STATE_READY)
    return answer(NAK_BAD_STATE);
  struct verdict verdict = check_start(asked);
  if (verdict.code != NAK_NONE)
    return verdict;
  start = *asked;
  uint32_t ceiling = start.ceiling < kLimits.speed ? start.ceiling : kLimits.speed;
  faults_begin(&faults, ceiling * 0.001f, MARKS);
  loop_begin(&loop);
  course_begin(&course, start.segments, 0);
  enter_step(STEP_ARM);
  state = guard_arm() ? STATE_STARTING : STATE_LATCHED;
  return verdict;
}

static uint32_t milli(float value) { return value > 0 ? (uint32_t)(value * 1000.0f + 0.5f) : 0; }

static uint8_t lid(void) {
  if (!LID_SWITCH)
    return LID_NO_SWITCH;
  return guard_lid_open() ? LID_IS_OPEN : LID_CLOSED;
}

static void turning_status(struct status* into) {
  into->target_mrpm = milli(course.target);
  into->command_permille = (uint16_t)(loop.command * 1000.0f + 0.5f);
  into->phase_ms = course.phase_ms;
  if (state != STATE_RUNNING)
    return;
  into->segment = course.segment;
  into->phase = course.phase;
}

/* What a report begins with, and what is told at once when it changes. */
static void brief(struct status* into) {
  uint8_t latch = guard_latch();
  into->state = latch == LATCH_NONE ? state : STATE_LATCHED;
  into->latch = latch == LATCH_NONE && state == STATE_STOPPING ? stop_reason : latch;
  into->lid = lid();
  into->enabled = guard_armed();
}

void run_status(struct status* into) {
  brief(into);
  into->still = still();
  into->segment = 255;
  into->phase = PHASE_NONE;
  into->target_mrpm = 0;
  into->command_permille = 0;
  into->phase_ms = 0;
  if (into->state >= STATE_STARTING)
    turning_status(into);
  into->measured_mrpm = milli(speed_rpm(&speed, clock_ticks()));
  into->clock_ms = clock_ms();
  into->pulses = pulses;
  into->token = start.token;
}

uint8_t run_differs(const struct status* from) {
  struct status now;
  brief(&now);
  return now.state != from->state || now.latch != from->latch || now.lid != from->lid ||
         now.enabled != from->enabled;
}

uint32_t run_pulses(void) { return pulses; }
uint16_t run_still_after_ms(void) { return STILL_MS; }
