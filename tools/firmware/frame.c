#include "frame.h"

#include "crc32.h"

static uint8_t reserved(uint8_t byte) {
  return byte == FRAME_FLAG || byte == FRAME_ESCAPE || byte == STOP_BYTE_CUT ||
         byte == STOP_BYTE_STOP;
}

static void begin(struct frame_reader* reader) {
  reader->size = 0;
  reader->escaped = 0;
  reader->spoilt = 0;
}

static uint8_t check_agrees(const struct frame_reader* reader) {
  uint8_t end = reader->size - FRAME_CRC;
  uint32_t state = CRC32_START;
  for (uint8_t i = 0; i < end; i++)
    state = crc32_add(state, reader->bytes[i]);
  state = ~state;
  for (uint8_t i = end; i < reader->size; i++, state >>= 8)
    if (reader->bytes[i] != (uint8_t)state)
      return 0;
  return 1;
}

/* A flag has come: is what lies between it and the flag before a frame? Nothing is nothing. */
static uint8_t close(struct frame_reader* reader) {
  uint8_t empty = reader->size == 0 && !reader->escaped && !reader->spoilt;
  uint8_t whole = !reader->spoilt && !reader->escaped && reader->size >= FRAME_HEAD + FRAME_CRC &&
                  reader->bytes[2] == reader->size - FRAME_HEAD - FRAME_CRC && check_agrees(reader);
  begin(reader);
  if (!whole && !empty)
    reader->discarded++;
  return whole;
}

uint8_t frame_take(struct frame_reader* reader, uint8_t byte) {
  if (byte == FRAME_FLAG)
    return close(reader);
  if (reader->escaped) {
    reader->escaped = 0;
    byte ^= FRAME_FLIP;
    if (!reserved(byte))
      reader->spoilt = 1;
  } else if (byte == FRAME_ESCAPE) {
    reader->escaped = 1;
    return 0;
  }
  if (reader->size == sizeof reader->bytes)
    reader->spoilt = 1;
  else
    reader->bytes[reader->size++] = byte;
  return 0;
}

static void send_stuffed(void (*send)(uint8_t), uint8_t byte) {
  if (reserved(byte)) {
    send(FRAME_ESCAPE);
    byte ^= FRAME_FLIP;
  }
  send(byte);
}

void frame_send(void (*send)(uint8_t), uint8_t type, uint8_t seq, const uint8_t* payload,
                uint8_t size) {
  const uint8_t head[FRAME_HEAD] = {type, seq, size};
  uint32_t state = CRC32_START;
  send(FRAME_FLAG);
  for (uint8_t i = 0; i < FRAME_HEAD; i++) {
    state = crc32_add(state, head[i]);
    send_stuffed(send, head[i]);
  }
  for (uint8_t i = 0; i < size; i++) {
    state = crc32_add(state, payload[i]);
    send_stuffed(send, payload[i]);
  }
  state = ~state;
  for (uint8_t i = 0; i < FRAME_CRC; i++, state >>= 8)
    send_stuffed(send, (uint8_t)state);
  send(FRAME_FLAG);
}
