#include "batch.h"

#include "bytes.h"
#include "marks.h"

#define VARINT_MOST 5

static uint8_t* put_varint(uint8_t* at, uint32_t value) {
  while (value >= 0x80) {
    *at++ = (uint8_t)(value | 0x80);
    value >>= 7;
  }
  *at++ = (uint8_t)value;
  return at;
}

static uint16_t following(uint16_t mark, uint16_t marks_per_turn) {
  if (mark == MARK_UNKNOWN)
    return MARK_UNKNOWN;
  return mark + 1 >= marks_per_turn ? 0 : mark + 1;
}

void batch_begin(struct batch* batch) {
  batch->number = 0;
  batch->size = 0;
  batch->count = 0;
}

uint8_t batch_closed_to(const struct batch* batch, const struct batch_pulse* pulse) {
  if (batch->size == 0)
    return 0;
  return pulse->gap || pulse->mark != batch->next_mark || batch->size + VARINT_MOST > BATCH_ROOM ||
         batch->count == 255;
}

static void open(struct batch* batch, const struct batch_pulse* pulse) {
  uint8_t* at = put_u16(batch->payload, batch->number);
  at = put_u32(at, pulse->before);
  at = put_u32(at, pulse->tick);
  at = put_u32(at, pulse->clock_ms);
  put_u16(at, pulse->mark);
  batch->size = BATCH_HEAD;
  batch->count = 0;
}

void batch_add(struct batch* batch, const struct batch_pulse* pulse, uint16_t marks_per_turn) {
  if (batch->size == 0) {
    open(batch, pulse);
  } else {
    uint8_t* end = put_varint(batch->payload + batch->size, pulse->tick - batch->last_tick);
    batch->size = (uint8_t)(end - batch->payload);
  }
  batch->count++;
  batch->payload[BATCH_HEAD - 1] = batch->count;
  batch->last_tick = pulse->tick;
  batch->next_mark = following(pulse->mark, marks_per_turn);
}

void batch_next(struct batch* batch) {
  batch->number++;
  batch->size = 0;
  batch->count = 0;
}
