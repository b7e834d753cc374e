/* What the driver does: state, motor and faults of a run, as the protocol's section 6 has them.
 *
 *   latched -> ready -> starting -> running -> stopping -> latched
 *                         arm, search, settle
 *
 *   arm     enable on, no throttle, while the speed controller wakes up
 *   search  the command a slow speed should need, capped, until three mark intervals agree
 *   settle  the loop holds that speed for a moment and learns what it needs: then the first ramp
 *           shows the inertia alone
 *
 * Guarantees, given that run_beat is called every millisecond (the watchdog sees to it): from each
 * moving state every fault of the protocol ends in guard_cut, and the only ways to `starting` are
 * guard_arm and a START that was checked.
 */
#ifndef WHIRLER_RUN_H
#define WHIRLER_RUN_H

#include "message.h"
#include "tach.h"

#include <stdint.h>

void run_start(void);

/* A pulse of the tach; returns which mark it was. */
uint16_t run_pulse(const struct pulse* pulse);

/* A millisecond has passed. */
void run_beat(void);

/* The stop sequence came. */
void run_stop(void);

/* A HELLO came: what turns or is ready is latched off. */
void run_new_host(void);

struct verdict run_clear(void);
struct verdict run_segment(const uint8_t* payload);
struct verdict run_go(const struct start* start);

/* All fields but report, pulses_dropped and frames_discarded. */
void run_status(struct status* into);

/* 1 when state, latch, lid or enable differ from those of that report. */
uint8_t run_differs(const struct status* from);

uint32_t run_pulses(void);
uint16_t run_still_after_ms(void);

#endif
