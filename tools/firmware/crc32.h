/* CRC-32 of IEEE 802.3: reflected, starts and ends with all ones inverted. */
#ifndef WHIRLER_CRC32_H
#define WHIRLER_CRC32_H

#include <stdint.h>

#define CRC32_START 0xFFFFFFFFul

/* The state after one more byte; the CRC is the final state, inverted. */
uint32_t crc32_add(uint32_t state, uint8_t byte);

#endif
