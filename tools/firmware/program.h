/* The uploaded program, and the target speed that follows from it.
 *
 *   target |          _______            segment.speed
 *          |         /       \
 *          |   _____/         \          segment.slope up or down, stop_slope at the end
 *          |  /                \
 *          |_/__________________\___ t
 *           ramp dwell ramp dwell stop
 *
 * The target is stepped by the control beat; its dwell counts the driver's own milliseconds from
 * the beat in which the target arrives. Where the rotor cannot follow the slope (a plate too heavy,
 * a supply too weak, a controller that does not brake) the target waits for it, and the dwell
 * begins when the rotor arrives: a dwell is not spent climbing.
 */
#ifndef WHIRLER_PROGRAM_H
#define WHIRLER_PROGRAM_H

#include "message.h"

#include <stdint.h>

#define SEGMENTS_MAX 32

/* As on the line: 1/1000 rpm, 1/1000 rpm/s, ms. */
struct segment {
  uint32_t speed;
  uint32_t slope;
  uint32_t dwell_ms;
};

struct program {
  struct segment segments[SEGMENTS_MAX];
  uint32_t present; /* a bit a segment */
};

/* What the driver allows, in the line's units. */
struct limits {
  uint32_t speed;
  uint32_t speed_min;
  uint32_t slope;
};

void program_clear(struct program* program);

/* Takes the payload of a SEGMENT, or says why not. */
struct verdict program_take(struct program* program, const struct limits* limits,
                            const uint8_t* payload);

/* Is what is held what START asks to run? Speeds against its ceiling included. */
struct verdict program_check(const struct program* program, const struct limits* limits,
                             const struct start* start);

/* Where the target is now. Speeds in rpm. */
struct course {
  float target;
  float slope;    /* rpm/s that the target is moving by; 0 in a dwell */
  uint8_t waits;  /* the target stands because the rotor cannot follow */
  uint8_t waited; /* it did so in this ramp: then the ramp ends with the rotor's arrival */
  uint8_t segment;
  uint8_t segments;
  uint8_t phase;
  uint32_t phase_ms;
};

/* Stands before segment 0, at the speed measured. */
void course_begin(struct course* course, uint8_t segments, float measured);

/* `ms` later. Returns 1 when the last dwell is over. */
uint8_t course_step(struct course* course, const struct program* program, float measured,
                    uint8_t ms);

/* The stop ramp: `ms` later. Returns 1 when the target has come to nothing. */
uint8_t course_stop(struct course* course, float slope, uint8_t ms);

#endif
