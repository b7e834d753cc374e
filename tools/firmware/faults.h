/* The faults that only the tach can show: overspeed, tach lost or stalled, tach not to be believed.
 */
#ifndef WHIRLER_FAULTS_H
#define WHIRLER_FAULTS_H

#include "loop.h"
#include "marks.h"
#include "program.h"
#include "speed.h"

#include <stdint.h>

struct faults {
  uint32_t shortest;  /* ticks of a mark interval at 1.1 times the ceiling */
  uint32_t last_tick; /* of the last mark */
  uint32_t last_interval;
  uint8_t too_fast;   /* intervals in a row below it */
  uint16_t asking_ms; /* the command has been far above what the speed needs */
};

void faults_begin(struct faults* faults, float ceiling_rpm, uint16_t marks_per_turn);

/* A mark passed. */
void faults_pulse(struct faults* faults, uint32_t tick);

/* Every LOOP_MS while turning: the latch to cut with, or none. */
uint8_t faults_find(struct faults* faults, const struct speed* speed, const struct marks* marks,
                    const struct course* course, const struct loop* loop, float measured,
                    uint32_t now);

#endif
