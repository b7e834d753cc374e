#include "talk.h"

#include "batch.h"
#include "bytes.h"
#include "clock.h"
#include "config.h"
#include "frame.h"
#include "guard.h"
#include "marks.h"
#include "message.h"
#include "program.h"
#include "run.h"
#include "serial.h"

#include <avr/pgmspace.h>

#define REPORT_MS 20
#define BATCH_MS 16
/* A keep-alive that names an older report than this does not count: the host is not listening. */
#define FRESH_REPORTS 12

#define FIRMWARE_MAJOR 1
#define FIRMWARE_MINOR 0
#define FIRMWARE_PATCH 0

static const char kName[] PROGMEM = "whirler atmega328p";
#define NAME_SIZE (sizeof kName - 1)
#define REPLY_SIZE (37 + NAME_SIZE)

static struct frame_reader reader;
static struct batch batch;
static uint8_t batch_age_ms;
static uint16_t dropped;
static uint8_t heard; /* a host with a common version has said hello */
static uint8_t seq;
static uint8_t report_ms;
static struct status last;

void talk_start(void) { batch_begin(&batch); }

static void send(uint8_t type, const uint8_t* payload, uint8_t size) {
  frame_send(serial_send, type, seq++, payload, size);
}

/* --- answers ---------------------------------------------------------------------------------- */

static uint8_t capabilities(void) {
  return (uint8_t)((INDEX != INDEX_NONE ? 1 : 0) | 2 | (LID_SWITCH ? 4 : 0));
}

static void send_hello_reply(uint32_t nonce) {
  uint8_t payload[REPLY_SIZE];
  uint8_t* at = payload;
  *at++ = PROTOCOL_VERSION;
  *at++ = PROTOCOL_VERSION;
  at = put_u32(at, nonce);
  *at++ = FIRMWARE_MAJOR;
  *at++ = FIRMWARE_MINOR;
  *at++ = FIRMWARE_PATCH;
  at = put_u32(at, 1);
  at = put_u32(at, TICKS_PER_S);
  *at++ = 32;
  at = put_u16(at, MARKS);
  *at++ = capabilities();
  at = put_u32(at, LIMIT_SPEED_RPM * 1000ul);
  at = put_u32(at, LIMIT_SPEED_MIN_RPM * 1000ul);
  at = put_u32(at, LIMIT_RAMP_RPM_S * 1000ul);
  *at++ = SEGMENTS_MAX;
  at = put_u16(at, run_still_after_ms());
  *at++ = NAME_SIZE;
  memcpy_P(at, kName, NAME_SIZE);
  send(MESSAGE_HELLO_REPLY, payload, sizeof payload);
}

static void send_ack(uint8_t type, uint8_t of) {
  const uint8_t payload[2] = {type, of};
  send(MESSAGE_ACK, payload, sizeof payload);
}

static void send_nak(uint8_t type, uint8_t of, const struct verdict* verdict) {
  uint8_t payload[11] = {type, of, verdict->code};
  put_u32(put_u32(payload + 3, verdict->asked), verdict->allowed);
  send(MESSAGE_NAK, payload, sizeof payload);
}

/* --- commands --------------------------------------------------------------------------------- */

static void take_hello(const uint8_t* payload) {
  run_new_host();
  send_hello_reply(get_u32(payload + 2));
  heard = payload[0] <= PROTOCOL_VERSION && payload[1] >= PROTOCOL_VERSION;
  report_ms = REPORT_MS;
}

static void take_keep_alive(const uint8_t* payload) {
  uint16_t age = last.report - get_u16(payload);
  if (age <= FRESH_REPORTS)
    guard_feed();
}

static uint8_t length_of(uint8_t type) {
  switch (type) {
  case MESSAGE_HELLO:
    return HELLO_SIZE_MIN; /* a longer one never comes here */
  case MESSAGE_SEGMENT:
    return SEGMENT_SIZE;
  case MESSAGE_START:
    return START_SIZE;
  case MESSAGE_KEEP_ALIVE:
    return KEEP_ALIVE_SIZE;
  default:
    return 0;
  }
}

static struct verdict obey(uint8_t type, const uint8_t* payload) {
  struct verdict verdict = {NAK_UNKNOWN_TYPE, 0, 0};
  if (type == MESSAGE_CLEAR)
    return run_clear();
  if (type == MESSAGE_SEGMENT)
    return run_segment(payload);
  if (type == MESSAGE_START) {
    struct start start = start_from_payload(payload);
    return run_go(&start);
  }
  return verdict;
}

static uint8_t known(uint8_t type) { return type >= MESSAGE_HELLO && type <= MESSAGE_KEEP_ALIVE; }

/* What is wrong with a frame before anybody asks what it wants. */
static struct verdict check_form(uint8_t type, uint8_t size) {
  struct verdict verdict = {NAK_NONE, 0, 0};
  if (!heard)
    verdict.code = NAK_NO_HELLO;
  else if (!known(type))
    verdict.code = NAK_UNKNOWN_TYPE;
  else if (size != length_of(type)) {
    verdict.code = NAK_BAD_LENGTH;
    verdict.asked = size;
    verdict.allowed = length_of(type);
  }
  return verdict;
}

static void take_frame(void) {
  uint8_t type = reader.bytes[0];
  uint8_t of = reader.bytes[1];
  uint8_t size = reader.bytes[2];
  const uint8_t* payload = reader.bytes + FRAME_HEAD;
  if (type == MESSAGE_HELLO && size >= HELLO_SIZE_MIN) {
    take_hello(payload);
    return;
  }
  struct verdict verdict = check_form(type, size);
  if (verdict.code == NAK_NONE && type == MESSAGE_KEEP_ALIVE) {
    take_keep_alive(payload);
    return;
  }
  if (verdict.code == NAK_NONE)
    verdict = obey(type, payload);
  if (verdict.code == NAK_NONE)
    send_ack(type, of);
  else
    send_nak(type, of, &verdict);
}

/* A byte is only taken while the longest answer would fit: none is ever lost, and none waits. */
void talk_listen(void) {
  if (serial_take_stop()) {
    run_stop();
    report_ms = REPORT_MS;
  }
  while (serial_room() >= FRAME_ROOM(REPLY_SIZE)) {
    int16_t byte = serial_take();
    if (byte < 0)
      return;
    if (frame_take(&reader, (uint8_t)byte))
      take_frame();
  }
}

/* --- reports ---------------------------------------------------------------------------------- */

static void report(void) {
  if (report_ms < REPORT_MS && !run_differs(&last))
    return;
  if (serial_room() < FRAME_ROOM(STATUS_SIZE))
    return; /* a millisecond later, then */
  struct status now;
  uint8_t payload[STATUS_SIZE];
  run_status(&now);
  now.report = last.report + 1;
  now.pulses_dropped = dropped;
  now.frames_discarded = reader.discarded;
  status_payload(&now, payload);
  send(MESSAGE_STATUS, payload, sizeof payload);
  last = now;
  report_ms = 0;
}

/* --- pulses ----------------------------------------------------------------------------------- */

static void close_batch(void) {
  if (serial_room() >= FRAME_ROOM(batch.size)) {
    send(MESSAGE_PULSES, batch.payload, batch.size);
    batch_next(&batch);
  }
}

static void make_room(void) {
  close_batch();
  if (batch.size == 0)
    return;
  dropped += batch.count;
  batch_next(&batch);
}

static uint32_t clock_at(uint32_t tick) {
  return clock_ms() - (clock_ticks() - tick) / TICKS_PER_MS;
}

void talk_pulse(const struct pulse* pulse, uint16_t mark) {
  if (!heard)
    return;
  dropped += pulse->lost;
  struct batch_pulse next = {pulse->tick, 0, run_pulses() - 1, mark, pulse->lost != 0};
  if (batch_closed_to(&batch, &next))
    make_room();
  if (batch.size == 0) {
    next.clock_ms = clock_at(pulse->tick);
    batch_age_ms = 0;
  }
  batch_add(&batch, &next, MARKS);
}

void talk_beat(void) {
  if (!heard)
    return;
  if (report_ms < REPORT_MS)
    report_ms++;
  report();
  if (batch.size == 0)
    return;
  if (batch_age_ms < BATCH_MS)
    batch_age_ms++;
  else
    close_batch();
}
