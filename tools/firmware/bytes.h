/* Little-endian numbers in a payload. */
#ifndef WHIRLER_BYTES_H
#define WHIRLER_BYTES_H

#include <stdint.h>

static inline uint16_t get_u16(const uint8_t* at) {
  return (uint16_t)(at[0] | (uint16_t)at[1] << 8);
}
static inline uint32_t get_u32(const uint8_t* at) {
  return get_u16(at) | (uint32_t)get_u16(at + 2) << 16;
}
static inline uint8_t* put_u16(uint8_t* at, uint16_t value) {
  at[0] = (uint8_t)value;
  at[1] = (uint8_t)(value >> 8);
  return at + 2;
}
static inline uint8_t* put_u32(uint8_t* at, uint32_t value) {
  return put_u16(put_u16(at, (uint16_t)value), (uint16_t)(value >> 16));
}

#endif
