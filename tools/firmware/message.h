/* What travels in the frames: numbers and layouts of the protocol's section 5.
 */
#ifndef WHIRLER_MESSAGE_H
#define WHIRLER_MESSAGE_H

#include <stdint.h>

/* Given to make only by the tests, which need a driver of a version that nobody speaks yet. */
#ifndef PROTOCOL_VERSION
#define PROTOCOL_VERSION 1
#endif

enum message {
  MESSAGE_HELLO = 0x01,
  MESSAGE_CLEAR = 0x02,
  MESSAGE_SEGMENT = 0x03,
  MESSAGE_START = 0x04,
  MESSAGE_KEEP_ALIVE = 0x05,
  MESSAGE_HELLO_REPLY = 0x81,
  MESSAGE_ACK = 0x82,
  MESSAGE_NAK = 0x83,
  MESSAGE_STATUS = 0x84,
  MESSAGE_PULSES = 0x85
};

enum nak {
  NAK_NONE = 0, /* accepted */
  NAK_UNKNOWN_TYPE = 1,
  NAK_BAD_LENGTH = 2,
  NAK_NO_HELLO = 3,
  NAK_BAD_STATE = 4,
  NAK_TURNING = 5,
  NAK_LID_OPEN = 6,
  NAK_LID_UNKNOWN = 7,
  NAK_BAD_INDEX = 8,
  NAK_SPEED_HIGH = 9,
  NAK_SPEED_LOW = 10,
  NAK_SLOPE_HIGH = 11,
  NAK_SLOPE_ZERO = 12,
  NAK_TOO_MANY_SEGMENTS = 13,
  NAK_SEGMENT_MISSING = 14,
  NAK_PROGRAM_DIFFERS = 15,
  NAK_TOKEN_USED = 16,
  NAK_TACH_ONLY = 17,
  NAK_NO_SEGMENTS = 18
};

enum driver_state {
  STATE_LATCHED = 0,
  STATE_READY = 1,
  STATE_STARTING = 2,
  STATE_RUNNING = 3,
  STATE_STOPPING = 4
};

enum phase { PHASE_NONE = 0, PHASE_RAMP = 1, PHASE_DWELL = 2 };

enum lid { LID_NO_SWITCH = 0, LID_CLOSED = 1, LID_IS_OPEN = 2 };

/* An answer to a command: accepted, or why not, with both numbers where the code has them. */
struct verdict {
  uint8_t code; /* enum nak */
  uint32_t asked;
  uint32_t allowed;
};

struct status {
  uint16_t report;
  uint8_t state;
  uint8_t latch;
  uint8_t lid;
  uint8_t enabled;
  uint8_t still;
  uint8_t segment;
  uint8_t phase;
  uint32_t target_mrpm;
  uint32_t measured_mrpm;
  uint16_t command_permille;
  uint32_t clock_ms;
  uint32_t phase_ms;
  uint32_t pulses;
  uint16_t pulses_dropped;
  uint16_t frames_discarded;
  uint32_t token;
};

#define STATUS_SIZE 38

/* Writes STATUS_SIZE bytes of payload. */
void status_payload(const struct status* status, uint8_t* into);

struct start {
  uint8_t segments;
  uint32_t stop_slope;
  uint8_t lid_confirmed;
  uint32_t ceiling;
  uint32_t program_crc;
  uint32_t token;
};

#define HELLO_SIZE_MIN 6
#define SEGMENT_SIZE 13
#define START_SIZE 18
#define KEEP_ALIVE_SIZE 2

struct start start_from_payload(const uint8_t* payload);

#endif
