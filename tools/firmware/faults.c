#include "faults.h"

#include "clock.h"
#include "config.h"
#include "latch.h"

#define OVERSPEED_SHARE 1.1f
#define OVERSPEED_INTERVALS 3
/* With the beat in which it is looked at this is within 250 ms. */
#define SILENCE_TICKS (245ul * TICKS_PER_MS)

/* "Far above" what the speed needs: the builder's figure and a fifth, a tenth of the range besides,
 * and for the slope asked for the inertia of the heaviest plate (seconds, as the loop counts it).
 * An honest supply is within that; half the marks lost is over it from some 1700 rpm on. */
#define NEED_SHARE 1.2f
#define NEED_BESIDES 0.10f
#define HEAVIEST_S 2.0f
#define ASKING_MS 300

void faults_begin(struct faults* faults, float ceiling_rpm, uint16_t marks_per_turn) {
  faults->shortest =
      (uint32_t)(60.0f * TICKS_PER_S / (OVERSPEED_SHARE * ceiling_rpm * marks_per_turn));
  faults->too_fast = 0;
  faults->asking_ms = 0;
  faults->last_tick = 0;
  faults->last_interval = 0;
}

void faults_pulse(struct faults* faults, uint32_t tick) {
  uint32_t interval = tick - faults->last_tick;
  faults->last_tick = tick;
  faults->last_interval = interval;
  if (interval >= faults->shortest)
    faults->too_fast = 0;
  else if (faults->too_fast < OVERSPEED_INTERVALS)
    faults->too_fast++;
}

/* And three mark intervals at the speed that the loop follows. */
static uint8_t silent(const struct speed* speed, const struct course* course, uint32_t now) {
  uint32_t silence = speed_silence(speed, now);
  return silence > SILENCE_TICKS && 3.0f * speed_of_interval(speed, silence) < course->target;
}

/* A rotor that is being stopped slows down before its marks end; a tach that fails does not. Well
 * under half the target: at half of it, every second mark is lost. */
#define SLOWED_SHARE 0.4f
static uint8_t slowed_before(const struct faults* faults, const struct speed* speed,
                             const struct course* course) {
  float slow = SLOWED_SHARE * course->target;
  return speed->rpm < slow || speed_of_interval(speed, faults->last_interval) < slow;
}

static uint8_t asks_far_too_much(const struct course* course, const struct loop* loop,
                                 float measured) {
  float needed = NEED_SHARE * loop_nominal(measured) + NEED_BESIDES;
  if (course->slope > 0)
    needed += HEAVIEST_S * course->slope * (1.0f / FULL_SPEED_RPM);
  return loop->command > needed;
}

static uint8_t asked_for_long(struct faults* faults, uint8_t asking) {
  faults->asking_ms = asking ? faults->asking_ms + LOOP_MS : 0;
  return faults->asking_ms >= ASKING_MS;
}

uint8_t faults_find(struct faults* faults, const struct speed* speed, const struct marks* marks,
                    const struct course* course, const struct loop* loop, float measured,
                    uint32_t now) {
  if (faults->too_fast >= OVERSPEED_INTERVALS)
    return LATCH_OVERSPEED;
  uint8_t slowed = slowed_before(faults, speed, course);
  if (silent(speed, course, now))
    return slowed ? LATCH_STALL : LATCH_TACH_LOST;
  if (marks_miscount(marks))
    return LATCH_TACH_IMPLAUSIBLE;
  if (asked_for_long(faults, asks_far_too_much(course, loop, measured)) ||
      speed_implausible(speed, now))
    return slowed ? LATCH_STALL : LATCH_TACH_IMPLAUSIBLE;
  return LATCH_NONE;
}
