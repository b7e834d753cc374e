/* Frames of the link: stuffing and check, as the protocol's section 3 has them. Plain functions on
 * plain memory, so that the tests run the same code on the build machine.
 */
#ifndef WHIRLER_FRAME_H
#define WHIRLER_FRAME_H

#include <stdint.h>

#define FRAME_FLAG 0x7E
#define FRAME_ESCAPE 0x7D
#define FRAME_FLIP 0x20
#define STOP_BYTE_CUT 0xC0
#define STOP_BYTE_STOP 0xFC

#define FRAME_HEAD 3
#define FRAME_CRC 4
#define FRAME_MAX_IN 64   /* payload, host to driver */
#define FRAME_MAX_OUT 128 /* payload, driver to host */

/* A frame being received, and then the frame: type, seq, length, payload, CRC. */
struct frame_reader {
  uint8_t bytes[FRAME_HEAD + FRAME_MAX_IN + FRAME_CRC];
  uint8_t size;
  uint8_t escaped;
  uint8_t spoilt;
  uint16_t discarded; /* frames dropped, ever; wraps */
};

/* One byte from the line. Returns 1 when it completes a frame that is whole: then bytes[0] is its
 * type, bytes[1] its seq, bytes[2] its length, and the payload follows, until the next call. */
uint8_t frame_take(struct frame_reader* reader, uint8_t byte);

/* Bytes on the line that a frame of this payload needs at most: every byte escaped. */
#define FRAME_ROOM(size) (2u * (FRAME_HEAD + (size) + FRAME_CRC) + 2u)

/* Sends a frame by calling `send` for every byte on the line, flags included. */
void frame_send(void (*send)(uint8_t), uint8_t type, uint8_t seq, const uint8_t* payload,
                uint8_t size);

#endif
