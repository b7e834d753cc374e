#include "message.h"

#include "bytes.h"

void status_payload(const struct status* status, uint8_t* into) {
  into = put_u16(into, status->report);
  *into++ = status->state;
  *into++ = status->latch;
  *into++ = status->lid;
  *into++ = (uint8_t)((status->enabled ? 1 : 0) | (status->still ? 2 : 0));
  *into++ = status->segment;
  *into++ = status->phase;
  into = put_u32(into, status->target_mrpm);
  into = put_u32(into, status->measured_mrpm);
  into = put_u16(into, status->command_permille);
  into = put_u32(into, status->clock_ms);
  into = put_u32(into, status->phase_ms);
  into = put_u32(into, status->pulses);
  into = put_u16(into, status->pulses_dropped);
  into = put_u16(into, status->frames_discarded);
  put_u32(into, status->token);
}

struct start start_from_payload(const uint8_t* payload) {
  struct start start;
  start.segments = payload[0];
  start.stop_slope = get_u32(payload + 1);
  start.lid_confirmed = payload[5] & 1;
  start.ceiling = get_u32(payload + 6);
  start.program_crc = get_u32(payload + 10);
  start.token = get_u32(payload + 14);
  return start;
}
