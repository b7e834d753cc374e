/* Pulses on their way to the host: a batch is one PULSES frame being filled.
 */
#ifndef WHIRLER_BATCH_H
#define WHIRLER_BATCH_H

#include <stdint.h>

#define BATCH_HEAD 17
#define BATCH_ROOM 112 /* payload bytes: some 47 pulses at 6000 rpm and 24 marks */

struct batch {
  uint8_t payload[BATCH_ROOM];
  uint8_t size; /* bytes filled; 0: empty */
  uint8_t count;
  uint16_t number; /* of the batch being filled */
  uint16_t next_mark;
  uint32_t last_tick;
};

struct batch_pulse {
  uint32_t tick;
  uint32_t clock_ms; /* driver's clock at the pulse */
  uint32_t before;   /* pulses captured before it, ever */
  uint16_t mark;     /* MARK_UNKNOWN where not known */
  uint8_t gap;       /* pulses were lost just before it */
};

void batch_begin(struct batch* batch);

/* 1 when the pulse cannot go into this batch: no room, a hole before it, or another mark than the
 * one that follows. Then the batch must be sent or dropped first. */
uint8_t batch_closed_to(const struct batch* batch, const struct batch_pulse* pulse);

void batch_add(struct batch* batch, const struct batch_pulse* pulse, uint16_t marks_per_turn);

/* The payload is complete and has been sent, or dropped: the next one begins. */
void batch_next(struct batch* batch);

#endif
