/* The conversation with the host: takes what came in, answers, reports, and sends the pulses.
 */
#ifndef WHIRLER_TALK_H
#define WHIRLER_TALK_H

#include "tach.h"

#include <stdint.h>

void talk_start(void);

/* Takes what the line has brought. */
void talk_listen(void);

/* Passes a pulse on to the host; `mark` is its number. */
void talk_pulse(const struct pulse* pulse, uint16_t mark);

/* A millisecond has passed. */
void talk_beat(void);

#endif
