#include "speed.h"

#include "clock.h"

/* Ticks that the window of the mean spans at most, unless one interval is longer. */
#define WINDOW_TICKS (TICKS_PER_S / 50)

/* rpm/s by which a rotor may change beyond the ratio below, between two marks that are far apart:
 * faster, steeper than any slope that the driver takes; slower, what a brake can do, or only drag.
 */
#define STEEPEST_UP 4000.0f
#define STEEPEST_DOWN 8000.0f
#define DRAG_DOWN 800.0f

/* A mark may wait this long in the chip before it is looked at. */
#define GRACE_TICKS (2 * TICKS_PER_MS)

#define STRIKE 3
#define STRIKES_OUT 9

void speed_begin(struct speed* speed, uint16_t marks_per_turn) {
  speed->marks_per_turn = marks_per_turn;
  speed_restart(speed);
}

void speed_restart(struct speed* speed) {
  speed->held = 0;
  speed->newest = 0;
  speed->interval = 0;
  speed->agreeing = 0;
  speed->strikes = 0;
  speed->rpm = 0;
  speed->fresh = 0;
  speed->span = 0;
  speed->slope = 0;
}

float speed_of_interval(const struct speed* speed, uint32_t ticks) {
  return 60.0f * TICKS_PER_S / ((float)ticks * speed->marks_per_turn);
}

/* Within 5 to 8 either way of the one before: no rotor with a plate on it does more between two
 * marks, unless they are far apart; then its slope decides. After a first strike the rotor is taken
 * to have gone on as it was driven: else a tach that shows half the speed of a rotor that climbs
 * would soon show what the rotor had before, and be believed. */
static uint8_t too_slow(const struct speed* speed, uint32_t tick, uint32_t interval) {
  uint32_t before = speed->interval;
  float apart_s = (float)(before / 2 + interval / 2) * (1.0f / TICKS_PER_S);
  float least = speed_of_interval(speed, before);
  if (speed->strikes && speed->slope > 0)
    least += 0.5f * speed->slope * (float)(tick - speed->believed_at) * (1.0f / TICKS_PER_S);
  float down = speed->slope < 0 ? STEEPEST_DOWN : speed->slope > 0 ? 0 : DRAG_DOWN;
  return speed_of_interval(speed, interval) <= least * 0.8f - down * apart_s;
}

static uint8_t too_quick(const struct speed* speed, uint32_t interval) {
  uint32_t before = speed->interval;
  float apart_s = (float)(before / 2 + interval / 2) * (1.0f / TICKS_PER_S);
  float most = speed_of_interval(speed, before) * 1.2f + STEEPEST_UP * apart_s;
  return speed_of_interval(speed, interval) >= most;
}

static uint8_t believable(const struct speed* speed, uint32_t tick, uint32_t interval) {
  uint32_t before = speed->interval;
  if (!speed->strikes && interval * 8 > before * 5 && interval * 4 < before * 5)
    return 1;
  return !too_quick(speed, interval) && !too_slow(speed, tick, interval);
}

/* Before there is a speed: a factor of two either way. */
static uint8_t agrees(const struct speed* speed, uint32_t interval) {
  return interval < speed->interval * 2 && interval * 2 > speed->interval;
}

static void push(struct speed* speed, uint32_t tick) {
  speed->newest = (uint8_t)(speed->newest + 1) % SPEED_HISTORY;
  speed->ticks[speed->newest] = tick;
  if (speed->held < SPEED_HISTORY)
    speed->held++;
}

static uint32_t tick_before(const struct speed* speed, uint8_t marks) {
  return speed->ticks[(uint8_t)(speed->newest - marks) % SPEED_HISTORY];
}

/* Intervals that the mean is taken over: as many as fit the window, one at least. */
static uint8_t window(const struct speed* speed) {
  uint8_t most = speed->held - 1;
  if (most > speed->marks_per_turn)
    most = (uint8_t)speed->marks_per_turn;
  uint32_t last = tick_before(speed, 0);
  uint8_t count = 1;
  while (count < most && last - tick_before(speed, count + 1) <= WINDOW_TICKS)
    count++;
  return count;
}

static void refresh(struct speed* speed) {
  speed->fresh = 0;
  if (speed->held < 2)
    return; /* a gap: the speed before it stands */
  uint8_t count = window(speed);
  speed->span = tick_before(speed, 0) - tick_before(speed, count);
  speed->rpm = speed_of_interval(speed, speed->span) * count;
}

static void find_agreement(struct speed* speed, uint32_t tick, uint32_t interval) {
  if (speed->interval && agrees(speed, interval))
    speed->agreeing++;
  else
    speed->agreeing = 1;
  speed->interval = interval;
  speed->believed_at = tick;
}

static void judge(struct speed* speed, uint32_t tick, uint32_t interval) {
  if (believable(speed, tick, interval)) {
    speed->interval = interval;
    speed->believed_at = tick;
    if (speed->strikes)
      speed->strikes--;
    return;
  }
  if (speed->fresh)
    refresh(speed); /* what the marks before this one say still stands */
  speed->held = 0;  /* the mean begins anew at this mark */
  if (speed->strikes < 250)
    speed->strikes += STRIKE;
}

void speed_gap(struct speed* speed) { speed->held = 0; }

void speed_mark(struct speed* speed, uint32_t tick) {
  uint32_t interval = tick - speed->ticks[speed->newest];
  if (speed->held == 0) {
    push(speed, tick);
    return;
  }
  if (speed_known(speed))
    judge(speed, tick, interval);
  else
    find_agreement(speed, tick, interval);
  push(speed, tick);
  if (speed_known(speed))
    speed->fresh = 1;
}

uint8_t speed_known(const struct speed* speed) { return speed->agreeing >= SPEED_AGREEING; }

/* With two strikes, the third is seen while its interval still lasts: at slow speeds that is soon.
 */
uint8_t speed_implausible(const struct speed* speed, uint32_t now) {
  if (speed->strikes >= STRIKES_OUT)
    return 1;
  uint32_t lasts = speed_silence(speed, now);
  return speed->strikes + STRIKE >= STRIKES_OUT && lasts > speed->interval / 2 + GRACE_TICKS &&
         too_slow(speed, now, lasts - GRACE_TICKS);
}

uint32_t speed_silence(const struct speed* speed, uint32_t now) {
  return now - speed->ticks[speed->newest];
}

uint8_t speed_waits(const struct speed* speed, uint32_t now) {
  return speed_silence(speed, now) >= speed->interval + speed->interval / 2 + GRACE_TICKS;
}

float speed_rpm(struct speed* speed, uint32_t now) {
  if (!speed_known(speed))
    return 0;
  if (speed->fresh)
    refresh(speed);
  if (!speed_waits(speed, now))
    return speed->rpm;
  float most = speed_of_interval(speed, speed_silence(speed, now));
  return most < speed->rpm ? most : speed->rpm;
}

float speed_age_s(const struct speed* speed) {
  return (float)(speed->span / 2 + speed->interval / 2) * (1.0f / TICKS_PER_S);
}
