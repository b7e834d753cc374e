/* The one place that can put the motor's enable on, and the many that take it off.
 *
 *   1. The enable goes on only in guard_arm, with the latch free, lid shut, and supply there.
 *   2. guard_cut may be called from anywhere, interrupts included. It drops the enable and the
 *      command at once and keeps the first reason.
 *   3. The latch opens only in guard_release, with the enable off.
 * So whatever the main loop does, or fails to do, a cut stays a cut until a person starts anew.
 */
#ifndef WHIRLER_GUARD_H
#define WHIRLER_GUARD_H

#include "latch.h"

#include <stdint.h>

/* Pins to their safe levels; latched for `reason`. The first thing after a reset. */
void guard_start(uint8_t reason);

/* Enable on. Returns 1, or 0 when rule 1 forbids it (then the latch names why). */
uint8_t guard_arm(void);

/* Enable and command off now. */
void guard_cut(uint8_t reason);

void guard_release(void);

uint8_t guard_latch(void);
uint8_t guard_armed(void);
uint8_t guard_lid_open(void);

/* A valid, fresh frame has come: the dead-man starts over. */
void guard_feed(void);

/* Once a millisecond, from the timer's interrupt: dead-man, lid and supply by level, for the edge
 * that was missed. */
void guard_watch(void);

#endif
