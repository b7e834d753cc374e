#include "program.h"

#include "bytes.h"
#include "crc32.h"

/* How far the target may run ahead of the rotor, rpm: more than the loop's own lag at the steepest
 * slope (some 30 ms), less than would count as reached. */
#define HOLD_BACK_RPM 100.0f
#define HOLD_BACK_SHARE 0.05f
#define ARRIVED_SHARE 0.01f

static const struct verdict kAccepted = {NAK_NONE, 0, 0};

static struct verdict refuse(uint8_t code, uint32_t asked, uint32_t allowed) {
  struct verdict verdict = {code, asked, allowed};
  return verdict;
}

void program_clear(struct program* program) { program->present = 0; }

struct verdict program_take(struct program* program, const struct limits* limits,
                            const uint8_t* payload) {
  uint8_t index = payload[0];
  struct segment segment = {get_u32(payload + 1), get_u32(payload + 5), get_u32(payload + 9)};
  if (index >= SEGMENTS_MAX)
    return refuse(NAK_BAD_INDEX, index, SEGMENTS_MAX - 1);
  if (segment.speed > limits->speed)
    return refuse(NAK_SPEED_HIGH, segment.speed, limits->speed);
  if (segment.speed < limits->speed_min)
    return refuse(NAK_SPEED_LOW, segment.speed, limits->speed_min);
  if (segment.slope == 0)
    return refuse(NAK_SLOPE_ZERO, 0, 0);
  if (segment.slope > limits->slope)
    return refuse(NAK_SLOPE_HIGH, segment.slope, limits->slope);
  program->segments[index] = segment;
  program->present |= 1ul << index;
  return kAccepted;
}

static uint32_t crc_u32(uint32_t state, uint32_t value) {
  for (uint8_t i = 0; i < 4; i++, value >>= 8)
    state = crc32_add(state, (uint8_t)value);
  return state;
}

/* Over the segments as they lie in this memory, not as they came: what differs does not run. */
static uint32_t program_crc(const struct program* program, uint8_t segments) {
  uint32_t state = CRC32_START;
  for (uint8_t i = 0; i < segments; i++) {
    state = crc32_add(state, i);
    state = crc_u32(state, program->segments[i].speed);
    state = crc_u32(state, program->segments[i].slope);
    state = crc_u32(state, program->segments[i].dwell_ms);
  }
  return ~state;
}

struct verdict program_check(const struct program* program, const struct limits* limits,
                             const struct start* start) {
  if (start->segments == 0)
    return refuse(NAK_NO_SEGMENTS, 0, 0);
  if (start->segments > SEGMENTS_MAX)
    return refuse(NAK_TOO_MANY_SEGMENTS, start->segments, SEGMENTS_MAX);
  for (uint8_t i = 0; i < start->segments; i++)
    if (!(program->present >> i & 1))
      return refuse(NAK_SEGMENT_MISSING, i, 0);
  uint32_t crc = program_crc(program, start->segments);
  if (crc != start->program_crc)
    return refuse(NAK_PROGRAM_DIFFERS, start->program_crc, crc);
  for (uint8_t i = 0; i < start->segments; i++)
    if (program->segments[i].speed > start->ceiling)
      return refuse(NAK_SPEED_HIGH, program->segments[i].speed, start->ceiling);
  if (start->stop_slope == 0)
    return refuse(NAK_SLOPE_ZERO, 0, 0);
  if (start->stop_slope > limits->slope)
    return refuse(NAK_SLOPE_HIGH, start->stop_slope, limits->slope);
  return kAccepted;
}

static void enter(struct course* course, uint8_t phase) {
  course->phase = phase;
  course->phase_ms = 0;
  course->waits = 0;
  course->waited = 0;
}

void course_begin(struct course* course, uint8_t segments, float measured) {
  course->target = measured;
  course->slope = 0;
  course->segment = 0;
  course->segments = segments;
  enter(course, PHASE_RAMP);
}

static float magnitude(float value) { return value < 0 ? -value : value; }

/* Moves the target towards `aim`; returns 1 when it is there, and the rotor with it. */
static uint8_t approach(struct course* course, float aim, float slope, float measured, uint8_t ms) {
  float way = aim - course->target;
  float step = slope * 0.001f * ms;
  float ahead = course->target - measured;
  course->waits = 0;
  if (magnitude(way) <= step) {
    course->target = aim;
    course->slope = 0;
    course->waits = course->waited && magnitude(aim - measured) > ARRIVED_SHARE * aim;
    return !course->waits;
  }
  course->slope = way < 0 ? -slope : slope;
  if ((way < 0 ? -ahead : ahead) > HOLD_BACK_RPM + HOLD_BACK_SHARE * course->target)
    course->waits = course->waited = 1;
  else
    course->target += way < 0 ? -step : step;
  return 0;
}

uint8_t course_step(struct course* course, const struct program* program, float measured,
                    uint8_t ms) {
  const struct segment* segment = &program->segments[course->segment];
  course->phase_ms += ms;
  if (course->phase == PHASE_RAMP) {
    if (approach(course, segment->speed * 0.001f, segment->slope * 0.001f, measured, ms))
      enter(course, PHASE_DWELL);
    return 0;
  }
  if (course->phase_ms < segment->dwell_ms)
    return 0;
  if (course->segment + 1 == course->segments)
    return 1;
  course->segment++;
  enter(course, PHASE_RAMP);
  return 0;
}

uint8_t course_stop(struct course* course, float slope, uint8_t ms) {
  float step = slope * 0.001f * ms;
  course->phase_ms += ms;
  course->waits = 0;
  if (course->target <= step) {
    course->target = 0;
    course->slope = 0;
    return 1;
  }
  course->target -= step;
  course->slope = -slope;
  return 0;
}
